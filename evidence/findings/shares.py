"""Shares of one question: each study's two values, and the mean of their differences over three studies of one assay.

mean of d_i, interval d +- t(k - 1) sd(d) / sqrt(k): studies count alike, as hardly one prints a spread.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence

from evidence.effects import Share, share_of, t_quantile
from evidence.findings.finding import Points, Shares, ShareStudy
from evidence.model.rules import Rules
from evidence.model.tables import Measurement

__all__ = ["shares"]


def shares(rows: Sequence[Measurement], uncitable: frozenset[str], rules: Rules) -> Shares | None:
    """Return the shares of one question's rows, in a fixed order; None where no row prints two values."""
    found: dict[tuple[str, str], list[tuple[Share, Measurement]]] = defaultdict(list)
    for row in sorted(rows, key=lambda each: each.id):
        share = share_of(row, rules) if row.study not in uncitable else None
        if isinstance(share, Share):
            found[share.study, share.assay].append((share, row))
    if not found:
        return None
    studies = []
    for (study, assay), mine in sorted(found.items()):
        classes = {row.baseline_class for _, row in mine}
        studies.append(
            ShareStudy(
                study,
                assay,
                mine[0][0].unit,
                sum(share.before for share, _ in mine) / len(mine),
                sum(share.after for share, _ in mine) / len(mine),
                classes.pop() if len(classes) == 1 else "not stated",  # type: ignore[arg-type]
                tuple(share.measurement for share, _ in mine),
            )
        )
    return Shares(tuple(studies), tuple(_together(studies, rules)))


def _together(studies: Sequence[ShareStudy], rules: Rules) -> list[Points]:
    by_assay: dict[str, list[float]] = defaultdict(list)
    for study in studies:
        if study.assay:  # an assay that is not named may be any
            by_assay[study.assay].append(study.after - study.before)
    together = []
    for assay, points in sorted(by_assay.items()):
        k = len(points)
        if k < rules.printing.share_studies:
            continue
        mean = math.fsum(points) / k
        sd = math.sqrt(math.fsum((each - mean) ** 2 for each in points) / (k - 1))
        reach = t_quantile((1 + rules.printing.range_level) / 2, k - 1) * sd / math.sqrt(k)
        together.append(Points(assay, k, mean, mean - reach, mean + reach))
    return together
