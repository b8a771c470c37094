"""whatstays in-a-day: what an answer means in what a child drinks in a day, beside authorities' figures."""

from __future__ import annotations

import argparse
import json
import re
import textwrap
from typing import TYPE_CHECKING, Any

from reports.command.bring import add_store_option
from reports.command.language import add_language_option
from reports.command.with_settings import add_settings_option, chosen_settings

if TYPE_CHECKING:
    from evidence.findings.in_a_day import InADay
    from evidence.model.rules import InADayRules
    from reports.words.in_a_day import Age

__all__ = ["SCHEMA", "add_arguments", "read_age", "read_drinks", "run"]

SCHEMA = "whatstays-in-a-day-1"
_WIDTH = 96
_UNITS = {"d": "days", "w": "weeks", "m": "months", "y": "years"}
_AGE = re.compile(r"(\d{1,4})\s*(d|days?|w|wks?|weeks?|mo?|mos|months?|y|yrs?|years?)", re.IGNORECASE)
_DRINKS = re.compile(r"(\d+(?:[.,]\d+)?)\s*(ml|cl|dl|l|litres?|liters?|oz|fl\.? ?oz)", re.IGNORECASE)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of in-a-day."""
    parser.add_argument("component", nargs="+", metavar="COMPONENT", help="one component, as in vitamin C")
    parser.add_argument("--age", required=True, metavar="AGE", help="as in 14mo, 3 months, 6 weeks, 20 days, 2 years")
    parser.add_argument(
        "--drinks", metavar="VOLUME", help="milk in a day, as in 120ml or 4oz; default up to 12 months: a usual amount"
    )
    parser.add_argument("--early", action="store_true", help="the child was born early")
    parser.add_argument("--country", metavar="CODE", help="whose figures, as in GB (default: your settings', or all)")
    parser.add_argument("--units", choices=("metric", "us"), default=None, help="ml and °C, or fl oz and °F")
    parser.add_argument("--json", action="store_true", help="print an object")
    add_language_option(parser)
    add_settings_option(parser)
    add_store_option(parser)


def read_age(text: str, rules: InADayRules) -> Age:
    """Read an age with its unit. Raises InputProblems."""
    from evidence.model.problems import InputProblems, Problem
    from reports.words.in_a_day import Age

    found = _AGE.fullmatch(text.strip())
    if found is not None:
        age = Age(int(found[1]), _UNITS[found[2][0].lower()])  # type: ignore[arg-type]
        if age.months <= rules.most_age_months:
            return age
    allowed = f"an age of at most {rules.most_age_months:g} months, as in 14mo, 6 weeks or 20 days"
    raise InputProblems([Problem("--age", None, None, text, allowed)])


def read_drinks(text: str, rules: InADayRules) -> float:
    """Read a volume of milk and return it in ml. Raises InputProblems."""
    from evidence.model.problems import InputProblems, Problem
    from reports.words.measures import ML_A_FLUID_OUNCE

    found = _DRINKS.fullmatch(text.strip())
    if found is not None:
        unit = found[2].lower()
        times = {"ml": 1.0, "cl": 10.0, "dl": 100.0}.get(unit, ML_A_FLUID_OUNCE if unit.endswith("oz") else 1000.0)
        amount = float(found[1].replace(",", ".")) * times
        if 0 < amount <= rules.most_drinks_ml:
            return amount
    allowed = f"a volume up to {rules.most_drinks_ml:g} ml, as in 120ml, 0.5 l or 4oz"
    raise InputProblems([Problem("--drinks", None, None, text, allowed)])


def run(options: argparse.Namespace) -> int:
    """Print the amounts; exit status 3 where none can be told."""
    import dataclasses

    from evidence.findings import ensure_evidence, findings
    from evidence.findings.in_a_day import in_a_day, usual_drinks_ml
    from evidence.model.problems import InputProblems, Problem
    from evidence.model.rules import load_rules
    from evidence.store import open_store
    from reports.command.path import component_named
    from reports.sheets.in_a_day import day_part
    from reports.words.catalogue import load_catalogue
    from reports.words.choose import DRYING, FREEZING, by_component, leading
    from reports.words.in_a_day import DayWords
    from reports.words.library import load_library
    from reports.words.measures import temperatures_in
    from reports.words.named import caution_text, page_name

    settings, rules = chosen_settings(options), load_rules().in_a_day
    problems: list[Problem] = []
    age, drinks = None, None
    try:
        age = read_age(options.age, rules)
    except InputProblems as found:
        problems += found.problems
    try:
        drinks = read_drinks(options.drinks, rules) if options.drinks else None
    except InputProblems as found:
        problems += found.problems
    country = settings.country if options.country is None else options.country.strip().upper()
    if options.country is not None:
        problems += _country_problems(country)
    if age is not None and not options.drinks:
        drinks = usual_drinks_ml(age.months, rules)
        if drinks is None:
            problems.append(
                Problem("--drinks", None, None, "", load_catalogue(part="in_a_day").say("command/no_usual"))
            )
    if problems or age is None:
        raise InputProblems(problems)
    store = open_store(options.store)
    ensure_evidence(store)
    say = load_catalogue(options.lang)
    library = load_library(store)
    component = library.components[component_named(store, " ".join(options.component))]
    words = DayWords(library, say, settings.units)
    if options.early:
        print(_wrapped(words.say.say("command/early")))
        return 3
    assert drinks is not None
    mine = by_component(findings(store)).get(component.id, [])
    led = [*leading(mine, DRYING)[:1], *leading(mine, FREEZING)[:1]]
    part = day_part(store, rules, dataclasses.replace(settings, country=country), words)
    composition, intake = part.composition.get(component.id, ()), part.intake.get(component.id, ())
    day = in_a_day(component.id, led, composition, intake, age.months, drinks, country, rules)
    lines: list[str] = []
    if day.content is not None:
        lines.append(words.fresh(day, age, component))
        lines += [words.left(day, *each) for each in day.left]
    lines += words.reasons(day, component)
    if day.content is not None and day.mothers is not None:
        lines.append(words.mothers(day))
    figures = words.figures(day)[1:] or [words.say.say("figure/none")]
    if country and not day.own_authority and day.figures:
        figures = [words.say.say("figure/not_own", country=country), *figures]
    rests = [*words.content_rows(day, composition)]
    if day.left:
        rests.append(words.say.say("side/how_text"))
    if any(kept.low == kept.high for kept, _, _ in day.left):
        rests.append(words.say.say("side/single"))
    told = [temperatures_in(line, settings.units) for line in lines]
    if options.json:
        print(json.dumps(_as_json(day, told, figures, rests, library, drinks), ensure_ascii=False, indent=2))
    else:
        print(_wrapped(words.say.say("command/title", component=page_name(component, say))))
        print("\n".join(_wrapped(line) for line in told))
        print("\n" + "\n".join(_wrapped(f"- {line}") for line in figures))
        if rests:
            print(f"\n{words.say.say('command/sources')}")
            print("\n".join(_wrapped(f"- {line}") for line in rests))
        print("\n" + load_catalogue(options.lang, "layout").say("keeping_safe"))
        print("\n".join(_wrapped(f"* {caution_text(each, say)}") for each in library.cautions))
    return 0 if day.content is not None else 3


def _country_problems(country: str) -> list[Any]:
    from evidence.model.problems import Problem, nearest_word
    from reports.settings.reading import country_names

    names = country_names()
    if country in names:
        return []
    near = nearest_word(country, names.values())
    code = next((code for code, name in names.items() if name == near), None)
    allowed = "a country's code of two letters (ISO 3166), as in GB"
    return [Problem("--country", None, None, country, allowed, f"{code} ({near})" if code else None)]


def _as_json(day: InADay, told: list[str], figures: list[str], rests: list[str], library: Any, drinks: float) -> Any:
    content = day.content
    return {
        "schema": SCHEMA,
        "component": day.component,
        "age_months": round(day.age_months, 2),
        "drinks_ml": round(drinks, 1),
        "unit": None if content is None else content.unit,
        "counted_as": None if content is None else content.equivalent,
        "fresh": None if day.fresh is None else [round(end, 4) for end in day.fresh],
        "mothers": None if day.mothers is None else [round(end, 4) for end in day.mothers],
        "mothers_are": None if content is None or content.mothers is None else content.mothers.kind,
        "left": [
            {
                "number": kept.finding.number, "handling": kept.finding.handling,
                "still_there_percent": [round(kept.low, 2), round(kept.high, 2)],
                "amount": [round(low, 4), round(high, 4)],
                "baselines": dict(kept.finding.baselines),
                "studies": len(kept.finding.figure_studies),
            }
            for kept, low, high in day.left
        ],
        "not_told": [
            {"number": None if finding is None else finding.number, "reason": reason} for finding, reason in day.why
        ],
        "figures": [
            {
                "id": each.id, "authority": each.authority, "country": each.country, "kind": each.kind,
                "value": each.value, "average_in_milk": each.average_in_milk,
            }
            for each in day.figures
        ],
        "own_authority": day.own_authority,
        "sentences": [str(line) for line in (*told, *figures)],
        "counted_with": [str(line) for line in rests],
        "cautions": [each.text_en for each in library.cautions],
        "edition": library.edition.hash[:12],
        "evidence_of": library.edition.evidence_of,
    }  # fmt: skip


def _wrapped(text: str) -> str:
    return textwrap.fill(text, _WIDTH, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)
