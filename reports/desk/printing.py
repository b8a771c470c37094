"""Replies as text for a terminal, at three lengths: a sentence for the phone, a few for an e-mail, or all of it."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Literal

from reports.desk.reply import Reply
from reports.words.catalogue import Catalogue

__all__ = ["LENGTHS", "Length", "printed"]

Length = Literal["phone", "email", "page"]
LENGTHS: tuple[Length, ...] = ("phone", "email", "page")
_WIDTH = 96


def printed(replies: Sequence[Reply], length: Length, say: Catalogue, day: str, newest: str = "") -> str:
    """Return replies as text; every length ends in the cautions, and every answer in its number and edition.

    say: the desk's catalogue in the language of the reply; day: the date of the evidence in words;
    newest: a line that says where the newest pages stand, if there is one.
    """
    make = {"phone": _phone, "email": _email, "page": _page}[length]
    blocks = [make(reply, say, day) for reply in replies]
    cautions = "\n".join(_wrapped(f"* {caution}") for caution in replies[0].cautions)
    foot = [newest] if newest else []
    return "\n\n".join([*blocks, *foot, f"{say.say('safe')}\n{cautions}"])


def _head(reply: Reply, say: Catalogue) -> list[str]:
    """Return what was understood; nothing stands before words that send someone for help."""
    return [] if reply.status == "redirect" else [_wrapped(say.say("understood", question=reply.question))]


def _foot(reply: Reply, say: Catalogue, day: str) -> list[str]:
    key = "answer_number" if reply.number else "edition"
    return [_wrapped(say.say(key, number=reply.number or "", date=day, edition=reply.edition))]


def _ask(reply: Reply, say: Catalogue) -> list[str]:
    return [_wrapped(say.say("ask", to_whom=reply.redirect_to))] if reply.redirect_to else []


def _phone(reply: Reply, say: Catalogue, day: str) -> str:
    lines = [*_head(reply, say), _wrapped(reply.say), *_ask(reply, say)]
    return "\n".join([*lines, *_foot(reply, say, day)])


def _email(reply: Reply, say: Catalogue, day: str) -> str:
    told = "\n".join(_wrapped(line) if line else "" for line in reply.email.rstrip().split("\n"))
    lines = [*_head(reply, say), told, *_ask(reply, say)]
    lines += [_wrapped(f"- {line}") for line in reply.alternatives if reply.status == "not_understood"]
    return "\n".join(lines if reply.number else [*lines, *_foot(reply, say, day)])


def _page(reply: Reply, say: Catalogue, day: str) -> str:
    lines = [*_head(reply, say), _wrapped(reply.sentence), *_ask(reply, say)]
    if reply.how_sure:
        lines.append(_wrapped(say.say("how_sure", how_sure=reply.how_sure)))
    if reply.retained_percent is not None:
        lines.append(_wrapped(_figures(reply, say)))
    if reply.flags:
        lines.append(_wrapped(say.say("flags", flags=say.apart(reply.flags))))
    shown = [line for line in (*reply.others, *reply.alternatives) if line not in reply.sentence]
    lines += [_wrapped(f"- {line}") for line in shown]
    lines += [_wrapped(f"[{n}] {_source(study)}") for n, study in enumerate(reply.studies, start=1)]
    return "\n".join([*lines, *_foot(reply, say, day)])


def _figures(reply: Reply, say: Catalogue) -> str:
    baselines = ", ".join(f"{count} {say.say(f'baseline/{word}')}" for word, count in reply.baselines.items())
    return say.say(
        "figures", kept=f"{reply.retained_percent:.0f}", low=f"{reply.ci_low:.0f}", high=f"{reply.ci_high:.0f}",
        studies=say.count("count_studies", reply.k_studies), rows=say.count("count_rows", reply.k_rows),
        baselines=baselines,
    )  # fmt: skip


def _source(study: object) -> str:
    reference, doi, pmid = (getattr(study, name) for name in ("reference", "doi", "pmid"))
    links = [f"https://doi.org/{doi}" if doi else "", f"PMID {pmid}" if pmid else ""]
    return " ".join(part for part in (reference, *links) if part)


def _wrapped(text: str) -> str:
    return textwrap.fill(text, _WIDTH, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)
