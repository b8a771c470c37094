"""The sheet of one client's milk: what stands on it, worded, from the answers along its own path."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from evidence.findings.mixing import Mixing
from evidence.findings.path import PathAnswer, asked_steps
from evidence.findings.path_store import PathEvidence
from evidence.handling import Chain
from evidence.model.tables import Caution, EditionRecord, Study
from reports.charts.stair import Mark, Stair, stair_of
from reports.sheets.content import Foot, PageContent, Source
from reports.words.dates import look_again
from reports.words.named import caution_text
from reports.words.one_milk import expected, how_sure, not_known, water_for_a_bag
from reports.words.path_words import PathWords
from reports.words.references import reference_line
from reports.words.told import EDITION, GIVEN, Told

__all__ = ["MilkRow", "OneMilkContent", "OneMilkMaker"]

_MARKS: tuple[Mark, ...] = ("measured", "joined", "ends", "missing")


@dataclass(frozen=True)
class MilkRow:
    """One part of milk: its name, what studies let us expect, its stair, and the stair in words."""

    name: str
    expected: str
    stair: Stair
    stair_words: str


@dataclass(frozen=True, kw_only=True)
class OneMilkContent(PageContent):
    """All words of the sheet; eyebrow is the batch or a stand-in for it. water is empty where no masses were given.

    short_sources are those of the figures, as they stand on paper, where one page must hold all.
    """

    eyebrow: str
    lead: str
    steps: str
    rows: tuple[MilkRow, ...]
    key: str
    nobody_knows: tuple[str, ...]
    how_sure: str
    water: tuple[str, ...]
    sources: tuple[Source, ...]
    short_sources: tuple[str, ...]


@dataclass(frozen=True)
class OneMilkMaker:
    """Makes sheets for clients' milk from one edition; say: part path and main of one language."""

    evidence: PathEvidence
    words: PathWords
    cautions: Sequence[Caution]
    edition: EditionRecord

    def sheet(self, chain: Chain, *, batch: str, mixing: Mixing | None, unbranded: bool = False) -> OneMilkContent:
        """Return the sheet of a chain. Raises HandlingError where the chain does nothing to the milk."""
        rules, words, say = self.evidence.rules, self.words, self.words.say
        asked = asked_steps(chain, rules)
        answers = [self.evidence.answer(each, chain, thorough=False) for each in rules.path.most_asked]
        answers = [answer for answer in answers if not answer.unfollowed]
        numbered = [
            say.say("sheet/step", number=place, step=words.noun(step)) for place, step in enumerate(asked, start=1)
        ]
        steps = [step for answer in answers for step in answer.steps]
        studies = self._studies(each.study for step in steps for each in step.spoken_by)
        with_figures = self._studies(each.study for step in steps for each in step.studies)
        rows = tuple(self._row(answer) for answer in answers)
        used = {tread.mark for row in rows for tread in row.stair.treads}
        marks = [say.say(f"sheet/key_{mark}") for mark in _MARKS if mark in used]
        marks += [say.say("sheet/key_interval")] if used - {"missing"} else []
        return OneMilkContent(
            slug=_slug(chain, batch, mixing),
            title=say.say("sheet/title"),
            keeping_safe=tuple(
                caution_text(each, words.plain) for each in sorted(self.cautions, key=lambda each: each.position)
            ),
            foot=self._foot(unbranded),
            unbranded=unbranded,
            language=say.language,
            eyebrow=say.say("sheet/batch", batch=batch) if batch else say.say("sheet/no_batch"),
            lead=say.say("sheet/nobody_measured"),
            steps=Told(say.say("sheet/steps", steps=say.joined(numbered)), GIVEN),
            rows=rows,
            key=say.say("sheet/key", marks=say.apart(marks)),
            nobody_knows=tuple(Told(each, EDITION) for each in not_known(answers, words)),
            how_sure=Told(how_sure(answers, self._followed(answers, [step.key for step in asked]), words), EDITION),
            water=tuple(Told(each, GIVEN) for each in water_for_a_bag(mixing, words)) if mixing is not None else (),
            sources=tuple(
                Source(
                    number, reference_line(each, words.plain), each.doi or None, each.pmid or None, each.notice or None
                )
                for number, each in enumerate(studies, start=1)
            ),
            short_sources=tuple(self._short(each) for each in with_figures),
        )

    def _row(self, answer: PathAnswer) -> MilkRow:
        say, name = self.words.say, self.words.name(answer)
        stair = stair_of(answer, self.words)
        told = [say.say("sheet/picture_step", number=tread.number, left=tread.left) for tread in stair.treads]
        picture = say.say("sheet/picture", component=name, steps=say.apart(told))
        rows = sorted({row for step in answer.steps for study in step.studies for row in study.rows})
        return MilkRow(name[:1].upper() + name[1:], Told(expected(answer, self.words), *rows), stair, picture)

    def _followed(self, answers: Sequence[PathAnswer], keys: Sequence[str]) -> bool:
        whole = tuple(sorted(Counter(keys).items()))
        return any(
            each.counts == whole and each.figures
            for answer in answers
            for strand in self.evidence.strands(answer.component)
            for each in strand.contrasts
        )

    def _studies(self, keys: Iterable[str]) -> list[Study]:
        return [self.words.studies[key] for key in sorted(set(keys), key=lambda key: (self.words.study(key), key))]

    def _short(self, study: Study) -> str:
        say, name = self.words.say, self.words.study(study.key)
        if study.doi:
            return say.say("sheet/source_doi", study=name, doi=study.doi)
        if study.pmid:
            return say.say("sheet/source_pmid", study=name, pmid=study.pmid)
        return say.say("sheet/source_journal", study=name, journal=study.journal) if study.journal else name

    def _foot(self, unbranded: bool) -> Foot:
        plain, read = self.words.plain, date.fromisoformat(self.edition.evidence_of)
        return Foot(
            interest=plain.say("foot/unbranded" if unbranded else "foot/interest"),
            evidence_of=plain.say("foot/evidence_of", date=plain.date(read)),
            edition=plain.say("foot/edition", edition=self.edition.hash[:12]),
            look_again=plain.say("foot/look_again", date=plain.date(look_again(read, self.evidence.rules))),
        )


def _slug(chain: Chain, batch: str, mixing: Mixing | None) -> str:
    """Return a file name that is the same for the same milk: the batch as far as letters go, and a short digest."""
    digest = hashlib.sha256(repr((str(chain), batch, mixing)).encode()).hexdigest()[:8]
    plain = re.sub(r"[^a-z0-9]+", "-", batch.lower()).strip("-")
    return "-".join(part for part in ("milk", plain, digest) if part)
