"""Random briefs: a plan breaks no rule, and a refusal speaks in sentences."""

from __future__ import annotations

import pytest

from planner_briefs import random_brief
from rondel.adapters.craft_files import builtin_craft
from rondel.checker.check import check
from rondel.model.finding import Severity
from rondel.planner.attempts import QUICK
from rondel.planner.plan import plan


@pytest.mark.parametrize("first", range(0, 40, 10))
def test_random_briefs_give_sound_plans_or_reasons(first: int) -> None:
    craft = builtin_craft()
    planned = 0
    for seed in range(first, first + 10):
        brief = random_brief(seed, craft, longest=20)
        outcome = plan(brief, craft, effort=QUICK)
        if outcome.routine is None:
            assert outcome.reasons
            assert all(reason.endswith(".") for reason in outcome.reasons)
            continue
        planned += 1
        broken = [f for f in check(outcome.routine, craft, brief) if f.severity is Severity.MUST]
        assert broken == [], seed
    assert planned >= 5  # most of what a teacher may ask for can be planned
