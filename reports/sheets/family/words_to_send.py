"""A component's answers as plain text to paste: a sentence for the phone, a few for an e-mail, the cautions."""

from __future__ import annotations

from collections.abc import Sequence

from reports.sheets.content import SheetContent
from reports.sheets.family.maker import FamilyMaker
from reports.sheets.layout import ready
from reports.words.choose import DRYING, FREEZING, leading
from reports.words.lengths import email_text, phone_text

__all__ = ["words_to_send"]


def words_to_send(sheet: SheetContent, maker: FamilyMaker) -> str:
    """Return the text of a component's file, one part an answer; empty where there is no answer to send.

    Raises ValueError where the sheet has no cautions or does not say who made it (layout.ready).
    """
    sheet, words, library = ready(sheet), maker.words, maker.sheets.library
    address = "" if maker.unbranded else maker.page_address(sheet.slug)
    blocks: list[str] = []
    for answer, kind in zip(sheet.answers, (DRYING, FREEZING), strict=False):
        finding = next(iter(leading(maker.findings.get(sheet.slug, ()), kind)), None)
        if finding is None or finding.number != answer.number:
            continue
        phone = phone_text(finding, library, maker.say)
        email = email_text(finding, library, maker.say, address).rstrip("\n")
        blocks += [answer.heading, f"{words.say('send/phone')}\n\n{phone}", f"{words.say('send/email')}\n\n{email}"]
    if not blocks:
        return ""
    head = [*([sheet.banner] if sheet.banner else []), words.say("send/title", component=sheet.component)]
    return "\n\n".join([*head, *blocks, *_foot(sheet, words.say("send/safe"))]) + "\n"


def _foot(sheet: SheetContent, heading: str) -> Sequence[str]:
    cautions = "\n".join(f"- {caution}" for caution in sheet.keeping_safe)
    return f"{heading}\n\n{cautions}", sheet.foot.interest
