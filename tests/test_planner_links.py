"""Short cuts of the planner give what the long way gives: links by groups, uses long ago, refrains
remembered for briefs that are alike, places that do not lead to the close."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rondel.adapters.craft_files import builtin_craft
from rondel.model.brief import Brief, Keep
from rondel.model.words import Intention
from rondel.planner.attempts import Attempts
from rondel.planner.case import case_of, forms_of
from rondel.planner.halfway import Past
from rondel.planner.links import Linking
from rondel.planner.net import Net
from rondel.planner.refrains import refrain_rows

CRAFT = builtin_craft()
LIKELY = (0.0, 0.3, 6.0, float("inf"))  # few costs, so that rows and columns are often alike


@given(st.integers(0, 10**6))
def test_links_by_groups_are_the_least_of_all_sums(seed: int) -> None:
    dice = np.random.default_rng(seed)
    ends, begins, rows = dice.integers(1, 9, 3)
    costs = dice.choice(LIKELY, (12, 10))
    some, others = dice.choice(12, ends, replace=False), dice.choice(10, begins, replace=False)
    links = Linking(costs).part(some, others)
    whole = costs[np.ix_(some, others)]
    ahead, behind = dice.random((rows, begins)), dice.random((rows, ends))
    assert (links.before(ahead) == (whole[None] + ahead[:, None, :]).min(axis=2)).all()
    assert (links.after(behind) == (whole[None] + behind[:, :, None]).min(axis=1)).all()


def _column(values: list[int]) -> dict[str, np.ndarray]:
    return {"uses": np.array(values, dtype=np.uint8)[:, None]}


def test_the_way_back_stops_at_the_last_block_begun_before_a_bar() -> None:
    # Plans 0 and 1 begin at bar 0; 2 goes on from 1 at bar 4, 3 from 2 at bar 8.
    past = Past()
    for parents, starts, uses in (([-1, -1], [0, 0], [1, 2]), ([1], [4], [3]), ([2], [8], [4])):
        column = {
            **_column(uses),
            "parent": np.array(parents),
            "row": np.zeros(len(parents), dtype=np.int64),
            "action": np.zeros(len(parents), dtype=np.int64),
        }
        past.add(column, np.array(starts))
    plans = np.array([3, 2, 0])
    assert past.before(plans, 9).tolist() == [3, 2, 0]
    assert past.before(plans, 8).tolist() == [2, 2, 0]
    assert past.before(plans, 1).tolist() == [1, 1, 0]
    assert past.before(plans, 0).tolist() == [-1, -1, -1]
    assert past.column("uses", np.array([3, -1, 1]))[:, 0].tolist() == [4, 0, 2]


BASE = Brief(title="x", minutes=Fraction(15), intention=Intention.SETTLE, level=3)
ALIKE = (
    BASE,
    replace(BASE, refrains=6, open_minutes=Fraction(2)),
    replace(BASE, keep=(Keep(technique="zip-stitch"),)),
    replace(BASE, keep=(Keep(technique="zip-stitch", at_seconds=Fraction(300)),)),
    replace(BASE, level=1),
    replace(BASE, intention=Intention.SLEEP),
    replace(BASE, minutes=Fraction(25)),
    replace(BASE, main_regions=("calves",)) if CRAFT.has_region("calves") else BASE,
)


def test_remembered_refrains_are_those_worked_out_afresh() -> None:
    for brief in (*ALIKE, *ALIKE):
        case = case_of(brief, CRAFT)
        afresh = forms_of(refrain_rows(case.material, case.frame))
        assert sorted(case.homes, key=repr) == sorted(afresh, key=repr)


@pytest.mark.parametrize("open_minutes", [0, 2])
def test_every_row_leads_on_and_none_is_left_out_that_does(open_minutes: int) -> None:
    brief = replace(BASE, minutes=Fraction(8), open_minutes=Fraction(open_minutes))
    attempts = Attempts(brief, CRAFT)
    contest = next(
        found
        for settings in attempts.settings(1)
        for setting in settings
        if (found := attempts.contest(setting)) is not None
    )
    net = contest.relaxation.net
    assert isinstance(net, Net)
    assert net.rows
    for number, row in enumerate(net.rows):
        moves = [*row.steps.tolist(), *row.plain_steps.tolist(), row.home, row.open]
        moves += [to for _, to, _ in row.turns]
        on = [to for to in moves if to != net.count]
        assert on or row.may_close
        assert all(number < to < net.count for to in on)
