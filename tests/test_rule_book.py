"""The rule book is whole, and planner, checker and page speak of the same rules."""

from __future__ import annotations

import importlib
import pkgutil
from pathlib import Path

import pytest

import rondel.checker.findings
import rondel.planner.constraints
import rondel.rules
from rondel.checker.check import FINDERS
from rondel.checker.rule_page import rule_page
from rondel.model.finding import Severity
from rondel.rules.book import BY_ID, COMPOSED_RULES, RULES
from rondel.rules.rule import COMMON_PRACTICE, Rule

#: The rule table, written out once more: id and severity, in order.
MUST = [
    "length",
    "strokes",
    "range",
    "opening",
    "close",
    "refrain_same",
    "refrain_spacing",
    "sides",
    "warm",
    "rise",
    "rest",
    "peak",
    "level",
    "spare",
    "avoid",
    "limits",
    "cautions",
    "reach",
    "positions",
    "keep",
    "open",
    "load",
]
MIND = [
    "repeat",
    "focus",
    "filler",
    "curve",
    "vary",
    "small_areas",
    "speed",
    "rhythm",
    "contact_kept",
]
WITH_TRACK = {
    "phrase": Severity.MIND,
    "quiet": Severity.MUST,
    "audible": Severity.MUST,
    "home": Severity.MIND,
    "summit": Severity.MUST,
    "turns": Severity.MIND,
    "ending": Severity.MUST,
}

DOCS = Path(__file__).parent.parent / "docs"


def _modules(package: object) -> set[str]:
    return {m.name for m in pkgutil.iter_modules(package.__path__)}  # type: ignore[attr-defined]


def test_the_book_holds_exactly_the_rules_of_the_table_in_order() -> None:
    assert [r.id for r in RULES] == [*MUST, *MIND, *WITH_TRACK]
    assert [r.id for r in COMPOSED_RULES] == [*MUST, *MIND]


def test_severities_are_those_of_the_table() -> None:
    assert {r.id for r in COMPOSED_RULES if r.severity is Severity.MUST} == set(MUST)
    assert {r.id for r in COMPOSED_RULES if r.severity is Severity.MIND} == set(MIND)
    assert {id: BY_ID[id].severity for id in WITH_TRACK} == WITH_TRACK


@pytest.mark.parametrize("rule", RULES, ids=lambda r: r.id)
def test_every_rule_has_a_name_a_sentence_and_a_source(rule: Rule) -> None:
    assert rule.name
    assert rule.says[0].isupper()
    assert rule.says.endswith(".")
    assert rule.source == COMMON_PRACTICE or len(rule.source) > 10
    assert rule.weight > 0


@pytest.mark.parametrize("rule", RULES, ids=lambda r: r.id)
def test_scaled_seconds_are_parameters_of_the_rule(rule: Rule) -> None:
    for name in rule.scaled:
        assert name.partition(".")[0] in rule.parameters


def test_touch_speed_and_pressure_name_their_published_sources() -> None:
    assert "Löken et al. 2009" in BY_ID["speed"].source
    assert BY_ID["speed"].parameters["cm_per_second"] == (1, 10)
    assert "Walton" in BY_ID["limits"].source
    assert "Werner 2020" in BY_ID["limits"].source


def test_every_rule_has_a_module_of_its_name() -> None:
    """Rules, findings and constraints are found by their ids."""
    ids = {r.id for r in RULES}
    assert ids <= _modules(rondel.rules)
    assert _modules(rondel.checker.findings) == ids
    assert list(FINDERS) == [r.id for r in RULES]
    for id in ids:
        module = importlib.import_module(f"rondel.checker.findings.{id}")
        assert module.RULE is BY_ID[id]
        assert FINDERS[id] is module.findings


def test_the_planner_has_a_constraint_for_every_rule() -> None:
    constraints = _modules(rondel.planner.constraints)
    assert {c for c in constraints if not c.startswith("_")} == {r.id for r in RULES}


def test_the_page_of_rules_is_the_book_as_it_stands() -> None:
    """How to write it anew stands in `rondel.checker.rule_page`."""
    assert (DOCS / "rules.md").read_text(encoding="utf-8") == rule_page()


def test_the_page_names_every_rule_with_its_numbers() -> None:
    page = rule_page()
    for rule in RULES:
        weighed = f"; weight {rule.weight:g}" if rule.severity is Severity.MIND else ""
        assert f"### {rule.name}\n`{rule.id}` ({rule.severity}{weighed})\n" in page
        assert rule.says in page
    # warm: sixty seconds, scaled, at 1 to 3
    assert "seconds 60 (scaled), pressures 1 to 3" in page
