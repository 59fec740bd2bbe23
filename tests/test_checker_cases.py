"""Every rule against small routines written by hand, with what is found worked out by hand.

The cases stand in `cases/<rule>.toml`; the arithmetic stands in their comments.
"""

from __future__ import annotations

import pytest

from cases.reading import RuleCase, cases_of, small_craft
from rondel.checker.check import check
from rondel.model.finding import Severity
from rondel.rules.book import BY_ID, RULES

CASES = [case for rule in RULES for case in cases_of(rule.id)]


@pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c.rule}: {c.name}")
def test_a_case_finds_what_was_worked_out_by_hand(case: RuleCase) -> None:
    found = [f for f in check(case.routine, small_craft(), case.brief) if f.rule == case.rule]
    assert [f.at_bar for f in found] == [e.bar for e in case.finds], [f.message for f in found]
    for finding, expected in zip(found, case.finds, strict=True):
        assert expected.says in finding.message


@pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c.rule}: {c.name}")
def test_a_finding_carries_severity_and_source_of_its_rule(case: RuleCase) -> None:
    for finding in check(case.routine, small_craft(), case.brief):
        rule = BY_ID[finding.rule]
        course = case.routine.music.course
        is_wish = rule.id == "summit" and course is not None and not course.stands_out
        severity = Severity.MIND if is_wish else rule.severity
        assert (finding.severity, finding.source) == (severity, rule.source)
        assert finding.message[0].isupper() or finding.message[0] in '"0123456789'
        assert finding.message.endswith((".", "!"))


@pytest.mark.parametrize("rule", RULES, ids=lambda r: r.id)
def test_every_rule_has_cases_that_pass_and_cases_that_fail(rule: object) -> None:
    known = BY_ID[rule.id]  # type: ignore[attr-defined]
    cases = cases_of(known.id)
    assert len(cases) >= (3 if known.severity is Severity.MUST else 2)
    for case in cases:
        assert (case.kind == "fail") == bool(case.finds), case.name
    assert {c.kind for c in cases} >= {"fail"}
    assert any(c.kind in ("pass", "edge") for c in cases)
