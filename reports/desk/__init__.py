"""A message in ordinary words to cited answers, or honest refusals with words to say instead.

Deterministic and offline: vocabulary from data files, spelling by a library. Desk(notes_for(store)).replies(message).
"""

from reports.desk.desk import Desk, reply_to
from reports.desk.notes import notes_for
from reports.desk.reply import Reply

__all__ = ["Desk", "Reply", "notes_for", "reply_to"]
