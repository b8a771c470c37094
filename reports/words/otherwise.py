"""What an answer would be if one choice were made otherwise, in two short lines for clinicians."""

from __future__ import annotations

from evidence.findings.sensitivity import Choice, Sensitivity
from reports.words.catalogue import Catalogue
from reports.words.library import Library
from reports.words.references import short_name

__all__ = ["sensitivity_facts"]


def sensitivity_facts(found: Sensitivity | None, library: Library, say: Catalogue) -> tuple[tuple[str, str], ...]:
    """Return the figures under every other choice, and which of them would change the sentence."""
    if found is None or not found.choices:
        return ()
    left = [choice for choice in found.choices if choice.pooled is not None]
    facts = [(say.say("otherwise/label"), say.apart([_told(choice, library, say) for choice in left]) or "–")]
    changing = [_named(choice, library, say) for choice in found.changing]
    key = "changes" if changing else "stays"
    facts.append((say.say("otherwise/sentence"), say.say(f"otherwise/{key}", choices=say.joined(changing))))
    nothing = [_named(choice, library, say) for choice in found.leaving_nothing]
    if nothing:
        facts.append((say.say("otherwise/nothing"), say.joined(nothing)))
    return tuple(facts)


def _named(choice: Choice, library: Library, say: Catalogue) -> str:
    about = short_name(library.studies[choice.about], say) if choice.about in library.studies else choice.about
    return say.say(f"otherwise/{choice.code}", about=about)


def _told(choice: Choice, library: Library, say: Catalogue) -> str:
    pooled = choice.pooled
    assert pooled is not None
    values = {"kept": pooled.retained_percent, "low": pooled.ci_low, "high": pooled.ci_high}
    told = {name: say.number(value) for name, value in values.items()}
    return say.say("otherwise/figure", choice=_named(choice, library, say), **told)
