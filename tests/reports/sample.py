"""An invented sheet for layout tests: the component, the studies and every figure are made up."""

from __future__ import annotations

import dataclasses
from typing import Any

from reports.sheets.content import (
    AnswerBlock,
    Bar,
    BaselineClass,
    ChartLine,
    ClinicianBlock,
    Foot,
    SheetContent,
    Source,
    StudyRow,
    WhatStaysChart,
)
from reports.site.index import IndexContent, IndexEntry

__all__ = ["HOSTILE", "hostile_sheet", "rising_sheet", "sample_index", "sample_sheet", "silent_sheet"]

HOSTILE = (
    "<script>alert(1)</script> #set page(width: 1cm) *bold* _it_ $x^2$ @ref \\u{41} `raw` "
    "\"q\" 'a' &amp; {{ c }} </svg> // c"
)

DRYING = AnswerBlock(
    number="A-9001",
    heading="Does freeze-drying cost the milk its examplin?",
    sentences=(
        "About 71 of every 100 parts were still there and about 29 were gone, measured against the same milk before "
        "drying.",
        "Three invented studies, 31 mothers: the average may lie anywhere from 58 to 87.",
    ),
    how_sure="Not sure, because only three small studies looked and one did not say how its milk had been kept.",
    own_milk="Nobody has measured by how much mothers’ milks differ in this.",
    compared_with="the same milk before drying: one study used fresh milk, one frozen milk, one did not say.",
    bar=Bar(
        still_there=71.0,
        low=58.0,
        high=87.0,
        hundred_is="100 = the same milk before drying; how it had been kept was mostly not stated. The bracket is "
        "where the average may lie.",
        as_words="About 71 of 100 parts still there, about 29 gone; the average may lie from 58 to 87.",
    ),
    more=("After three months as powder at 25 °C: one study of five mothers found 64 of every 100 parts.",),
)

FREEZING = AnswerBlock(
    number="A-9002",
    heading="Does freezing cost the milk its examplin?",
    sentences=("We can’t tell yet: anything from 74 to 118 of every 100 parts fits, measured against fresh milk.",),
    how_sure="Hardly known, because two studies disagree.",
    own_milk="One study saw milks from 60 to 130.",
    compared_with="fresh milk, never frozen or heated.",
    bar=Bar(
        still_there=93.0,
        low=74.0,
        high=118.0,
        hundred_is="100 = fresh milk. The bracket is where the average may lie.",
        as_words="Anything from 74 to 118 of 100 parts fits.",
    ),
)

CHART = WhatStaysChart(
    title="Examplin after freeze-drying",
    lines=(
        ChartLine("Ardent and Moss 2031", 1, "fresh", 66.0, 55.0, 79.0, True, 0.41),
        ChartLine("Birch, Quill and others 2033", 2, "frozen", 81.0, 70.0, 94.0, True, 0.38),
        ChartLine("Calder 2029", 3, "not stated", 69.0, None, None, False, 0.21),
    ),
    margin_low=90.0,
    margin_high=111.0,
    pooled=71.0,
    pooled_low=58.0,
    pooled_high=87.0,
    new_low=39.0,
    new_high=129.0,
    words_rows=(
        ("Dunmore 2027", 4, "chilled", "less, no figure printed"),
        ("Elder and Fenn 2035", 5, "not stated", "no clear change, no figure printed"),
    ),
)


def _row(study: str, number: int, baseline: BaselineClass, said: str, effect: str, why: str = "") -> StudyRow:
    return StudyRow(
        study=study,
        source_number=number,
        handling="expressed > frozen -20C 30d > thawed > freeze-dried [shelf 30C] > reconstituted",
        n="10 mothers",
        compared_with=baseline,
        baseline_said=said,
        as_printed="12.4 ± 2.1 against 18.8 ± 3.0 mg/L, P < 0.05",
        effect=effect,
        spread_how="two means with SD, correlation 0.5 assumed",
        read_from="abstract",
        used=not why,
        left_out_why=why,
        funding="not stated",
    )


def sample_sheet() -> SheetContent:
    """A sheet of usual length with two answers, one chart, a table and five sources."""
    return SheetContent(
        slug="examplin",
        component="Examplin",
        group="Vitamins",
        title="Examplin: what stays in dried and frozen milk",
        what_it_does="Examplin is an invented nutrient; it helps a page to show how it looks.",
        answers=(DRYING, FREEZING),
        from_fresh="Nobody has measured the whole way from fresh milk to powder, and we can’t work it out.",
        in_a_day=(
            "A baby of three months who drinks 750 ml a day gets about 4.1 mg from fresh milk and about 2.9 mg from "
            "milk that was dried.",
            "The authority’s figure, 4 mg (an adequate intake), is itself the average in mothers’ milk, so it can’t "
            "tell that less is too little.",
        ),
        more_or_less=("Warm plates: 12 parts fewer at 50 °C than at 30 °C (one study).",),
        nobody_knows=("What a year as powder does.", "Whether preterm milk behaves the same."),
        keeping_safe=(
            "This is general information and not medical advice.",
            "If your baby was born early or is unwell, ask your care team first.",
            "Drying does not sterilise milk and does not make unsafe milk safe.",
            "Make up feeds with safe water and clean hands, and use them promptly.",
        ),
        what_to_do=("Nothing: keep milk cold and dark as you do now.",),
        foot=Foot(
            interest="This page was made by a service that dries milk for payment. It earns when you dry, so check us.",
            evidence_of="Evidence of 3 May 2037",
            edition="edition 0a1b2c3d",
            look_again="Look for a newer page after 3 May 2038.",
        ),
        clinician=(
            ClinicianBlock(
                number="A-9001",
                heading="Examplin after freeze-drying",
                chart=CHART,
                facts=(
                    ("Joined estimate", "71 (95 % interval 58 to 87), three studies, 31 mothers"),
                    ("Another laboratory", "39 to 129"),
                    ("Weight from own spreads", "79 %"),
                    ("Heterogeneity", "tau 0.31, shared among fragile components"),
                ),
                certainty="Low",
                certainty_steps=(
                    "One step down: the interval’s ends differ by more than half.",
                    "One step down: fewer than half of the studies were compared with fresh or chilled milk.",
                ),
                rows=(
                    _row("Ardent and Moss 2031", 1, "fresh", "freshly expressed", "ln ratio −0.416, SE 0.092"),
                    _row("Birch, Quill and others 2033", 2, "frozen", "", "ln ratio −0.211, SE 0.075"),
                    _row("Calder 2029", 3, "not stated", "", "ln ratio −0.371, SE 0.150"),
                    _row("Dunmore 2027", 4, "chilled", "", "in words", "no figure printed"),
                ),
            ),
        ),
        sources=(
            Source(
                1,
                "Ardent A, Moss B (2031). An invented study of examplin. Invented Journal 1:1–9.",
                "10.0000/x(1)",
                "0",
                None,
            ),
            Source(
                2,
                "Birch C, Quill D, and others (2033). Another. Invented Journal 3:11–19.",
                None,
                "0",
                "Correction 2034",
            ),
            Source(3, "Calder E (2029). A third. Invented Letters 2:5.", "10.0000/x3", None, None),
            Source(4, "Dunmore F (2027). A fourth. Invented Letters 1:7.", None, None, None),
            Source(5, "Elder G, Fenn H (2035). A fifth. Invented Letters 9:8.", None, None, None),
        ),
    )


def rising_sheet() -> SheetContent:
    """A sheet whose only figure is above 100, so that the bar is full."""
    bar = Bar(134.0, 96.0, 180.0, "100 = fresh milk.", "About 134 for every 100 parts in fresh milk.")
    answer = dataclasses.replace(DRYING, heading="Does freezing cost the milk its examplin?", bar=bar, more=())
    return dataclasses.replace(sample_sheet(), slug="examplin-rise", answers=(answer,))


def silent_sheet() -> SheetContent:
    """A sheet on which nobody has published a figure: no bar, no chart, no sources."""
    answer = AnswerBlock(
        number="A-9003",
        heading="Does freeze-drying cost the milk its quietin?",
        sentences=("Nobody has published a measurement. That is neither good news nor bad.",),
        how_sure="",
        own_milk="",
        compared_with="",
        bar=None,
    )
    return dataclasses.replace(
        sample_sheet(),
        slug="quietin",
        component="Quietin",
        title="Quietin: what stays in dried and frozen milk",
        answers=(answer,),
        in_a_day=(),
        more_or_less=(),
        clinician=(),
        sources=(),
    )


def hostile_sheet() -> SheetContent:
    """The sample with markup of three languages in every text a person could fill."""
    filled: SheetContent = _hostile(sample_sheet())
    return dataclasses.replace(filled, slug="hostile")


def _hostile(value: Any, kept: bool = False) -> Any:
    if isinstance(value, str):
        return value if kept else f"{value} {HOSTILE}"
    if isinstance(value, tuple):
        return tuple(_hostile(item, kept or item in _BASELINES) for item in value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        names = [field.name for field in dataclasses.fields(value)]
        changes = {name: _hostile(getattr(value, name), name in ("baseline", "language")) for name in names}
        return dataclasses.replace(value, **changes)
    return value


_BASELINES = ("fresh", "chilled", "frozen", "heat-treated", "dried", "otherwise treated", "not stated")


def sample_index(count: int = 1) -> IndexContent:
    """A list of invented components; the first is the sample sheet."""
    entries = tuple(
        IndexEntry(
            slug="examplin" if place == 0 else f"examplin-{place}",
            name="Examplin" if place == 0 else f"Examplin {place}",
            group=("Vitamins", "Proteins", "Fats", "Minerals")[place * 4 // count],
            synonyms=("Exámplina", f"E{place}"),
            answers=(
                (
                    "Freeze-dried",
                    f"about {50 + place % 50} of 100 still there, against the same milk",
                    f"A-{9000 + place}",
                ),
                ("Frozen", "can’t tell: 74 to 118 of 100 fits, against fresh milk", ""),
            ),
            sure=("not sure", "sure", "hardly known", "fairly sure", "")[place % 5],
            kind="none" if place % 5 == 4 else "figures",
        )
        for place in range(count)
    )
    sheet = sample_sheet()
    return IndexContent(
        title="What stays in my milk?",
        intro=("What published studies found after drying, freezing and chilling, part by part.",),
        entries=entries,
        cautions=sheet.keeping_safe,
        interest=sheet.foot.interest,
        evidence_of=sheet.foot.evidence_of,
        edition=sheet.foot.edition,
    )
