"""The card for a counter: one sentence with its comparison, how sure, the cautions, and where the whole page stands."""

from __future__ import annotations

import io

from evidence.findings.finding import Finding
from reports.sheets.family.content import Card
from reports.sheets.family.maker import FamilyMaker
from reports.words.answers import answer_sentences, how_sure
from reports.words.choose import DRYING, leading
from reports.words.named import page_name
from reports.words.told import Told

__all__ = ["counter_card", "square_of_dots"]

# the darkest marks and the quiet zone of four modules that ISO/IEC 18004 asks for; M mends 15 % of a damaged square
_QUIET_ZONE, _MENDS = 4, "m"


def counter_card(component: str, question: str, maker: FamilyMaker) -> Card | None:
    """Return the card on drying, headed by the question; None where there is nothing to say but that nobody knows."""
    finding = next(iter(leading(maker.findings.get(component, ()), DRYING)), None)
    if finding is None or finding.state == "listed_only":
        return None
    address = "" if maker.unbranded else maker.page_address(component)
    name = page_name(maker.component(component), maker.say)
    return Card(
        **maker.frame(f"{component}-card", "card", component=name, question=question),
        intro=(_sentence(finding, maker),),
        sure=how_sure(finding, maker.say),
        ask="" if address else maker.words.say("card/ask"),
        scan=maker.words.say("card/scan") if address else "",
        address=address,
        square=square_of_dots(address) if address else "",
        square_words=maker.words.say("card/qr", address=address) if address else "",
        number=finding.number,
    )


def _sentence(finding: Finding, maker: FamilyMaker) -> str:
    """Return the sentence that carries the number and its comparison; of germs also that nothing is sterile."""
    said = answer_sentences(finding, maker.sheets.library, maker.say)
    chosen = [said[0]]
    if finding.group == "count" or maker.component(finding.component).wanted == "germs":
        chosen.append(said[-1])
    return Told(" ".join(chosen), finding.number)


def square_of_dots(address: str) -> str:
    """Return an address as a QR code (ISO/IEC 18004): one SVG element, dark on white, the same for the same address."""
    import segno

    made = segno.make(address, error=_MENDS, micro=False)
    out = io.BytesIO()
    colours = {"dark": "#000", "light": "#fff"}
    made.save(out, kind="svg", border=_QUIET_ZONE, xmldecl=False, omitsize=True, nl=False, **colours)
    return out.getvalue().decode()
