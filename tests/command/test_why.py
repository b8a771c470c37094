"""whatstays why: from the number under an answer to the place in the paper."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evidence.findings.finding import Finding
from reports.command.main import main


def _number(found: list[Finding]) -> str:
    """The answer on vitamin C after drying."""
    (number,) = [
        each.number
        for each in found
        if (each.component, each.handling) == ("vitamin-c", "freeze-dried") and each.pooled
    ]
    return number


def test_the_number_under_an_answer_leads_to_rule_rows_and_paper(
    shipped_path: Path, capsys: pytest.CaptureFixture[str], shipped_findings: list[Finding]
) -> None:
    number = _number(shipped_findings)
    assert main(["why", number.lower(), "--store", str(shipped_path)]) == 0
    out = " ".join(capsys.readouterr().out.split())
    # martysiakzurowska2020lyophilization, abstract: 31 % fall, five women
    for part in (
        number, "69 of every 100", "One study has a figure", "certainty.one_study_steps = 2", "judgement",
        "martysiakzurowska2020lyophilization-", "spread by the recipe", "abstract", "lyophilization",
        "Keeping it safe", "not medical advice", "edition ",
    ):  # fmt: skip
        assert part in out, part


def test_the_object_holds_rule_certainty_rows_places_and_cautions(
    shipped_path: Path, capsys: pytest.CaptureFixture[str], shipped_findings: list[Finding]
) -> None:
    number = _number(shipped_findings)
    assert main(["why", number, "--json", "--store", str(shipped_path)]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["schema"] == "whatstays-why-1"
    assert told["rule"]["state"] == "one_study"
    assert told["certainty"]["level"] in ("low", "very low")
    assert all(each["source"] for step in told["certainty"]["steps"] for each in step["thresholds"])
    used = [row for row in told["rows"] if row["use"] == "figure"]
    assert used and all(row["recipe"] and row["printed"] for row in used)
    assert [place["row"] for place in told["places"]] == [row["id"] for row in told["rows"]]
    assert any(place["doi"] or place["pmid"] or place["reference"] for place in told["places"])
    assert told["cautions"]


def test_every_answer_has_a_trail_in_words(
    shipped_path: Path, capsys: pytest.CaptureFixture[str], shipped_findings: list[Finding]
) -> None:
    kinds = {
        (each.state, each.shares is not None, tuple(step.reason for step in each.certainty.steps)): each.number
        for each in shipped_findings
    }
    assert len(kinds) > 12
    for number in sorted(set(kinds.values())):
        assert main(["why", number, "--store", str(shipped_path)]) == 0
        out = capsys.readouterr().out
        assert "Rows (" in out and "{" not in out
        assert all(len(line) <= 140 for line in out.splitlines())


@pytest.mark.parametrize("number", ["A-99999", "vitamin c", ""])
def test_a_number_that_no_answer_has_is_refused_with_the_nearest(
    number: str, shipped_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["why", number, "--store", str(shipped_path)]) == 2
    assert "an answer's number, as in A-0412" in capsys.readouterr().err
