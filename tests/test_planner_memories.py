"""Nodes that remember more never make the network dearer than a plan that is lawful, and what the
cheapest way neglects is remembered afterwards."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rondel.model.brief import Brief
from rondel.planner.actions import Actions
from rondel.planner.bound import Relaxation, Solved
from rondel.planner.fixing import fixed
from rondel.planner.memories import LastReturn, LongStrokes, Memory, Runs, Used, Warmed
from rondel.planner.multipliers import Multipliers
from rondel.planner.neglect import neglected, remembering_more, way_of
from rondel.planner.outlook import Outlook
from rondel.planner.remembering import Remembering
from rondel.planner.search import Placed
from rondel.planner.windows import around
from test_planner_bound import _BRIEFS, known, some_prices

_NOTHING = (0, 0)
_MANY = 10**7
_ROOM = 1e-3  # above the plan, so that it stays in the network
_SHORT = (_BRIEFS[0], _BRIEFS[1], _BRIEFS[3])
_NEGLECTING = _BRIEFS[3]  # without prices, the cheapest way neglects something there


def every_memory(solved: Solved, placed: Placed) -> list[Memory]:
    """Return one memory of every sort that a plan may have to do with."""
    actions = Actions(solved.table)
    outlook = Outlook(solved, actions)
    found: list[Memory] = [LastReturn(solved.net, actions)]
    if solved.net.follows_row:
        found.append(Runs(outlook))
    found += [Warmed(outlook, slot) for slot in range(len(outlook.grounds.slots))][:2]
    small = {block.small.bit_length() - 1 for _, block, _ in placed if block.small}
    found += [LongStrokes(outlook, bit) for bit in sorted(small)]
    used = {number for _, block, _ in placed if block.is_own for number in block.numbers}
    return [*found, *(Used(outlook, number) for number in sorted(used)[:2])]


def without(at: Multipliers, relaxation: Relaxation) -> Multipliers:
    """Return prices with none for the techniques that nodes remember."""
    techniques = at.techniques.copy()
    techniques[[number for sort, number in relaxation.remembered if sort == "technique"]] = 0.0
    return replace(at, techniques=techniques)


@pytest.mark.parametrize("brief", _SHORT, ids=lambda b: b.title)
def test_a_plan_stays_as_cheap_as_it_is_whatever_nodes_remember(brief: Brief) -> None:
    plan = known(brief)
    network = plan.networks[-1]
    for number in range(len(every_memory(network.solve(network.usual()), plan.placed))):
        solved = around(network, plan.placed, _NOTHING).solve(some_prices(network, 1))
        memory = every_memory(solved, plan.placed)[number]
        finer = Remembering(solved, memory, Actions(solved.table)).built()
        for seed in range(3):
            at = without(some_prices(network, seed), finer)
            assert finer.solve(at).value() <= plan.cost + 1e-9
            # What is remembered only ever forbids, or costs.
            if memory.sort[0] != "technique":
                least = solved.relaxation.solve(at).value()
                assert finer.solve(at).value() >= least - 1e-9


def test_what_is_neglected_is_remembered_and_the_plan_stays() -> None:
    plan = known(_NEGLECTING)
    solved = plan.networks[-1].solve(plan.networks[-1].usual())
    solved = fixed(solved, plan.cost + _ROOM).solve(solved.at)
    remembered = 0
    while remembered < 3:
        finer = remembering_more(solved, _MANY, {})
        if finer is None:
            break
        remembered += 1
        assert len(finer.relaxation.remembered) == remembered
        assert finer.value() >= solved.value() - 1e-9 or finer.at is not solved.at
        left = fixed(finer, plan.cost + _ROOM)
        alone = around(left, plan.placed, _NOTHING)
        assert alone.solve(finer.at).value() <= plan.cost + 1e-9
        solved = left.solve(finer.at)
        actions = Actions(solved.table)
        still = [m.sort for m in neglected(solved, actions, way_of(solved, actions))]
        assert not solved.relaxation.remembered & set(still)
    assert remembered  # so something was tried


def test_a_network_that_would_be_too_large_is_given_up_until_more_is_allowed() -> None:
    plan = known(_NEGLECTING)
    solved = plan.networks[-1].solve(plan.networks[-1].usual())
    given_up: dict[tuple[str, int], int] = {}
    assert remembering_more(solved, 10, given_up) is None
    assert given_up
    assert set(given_up.values()) == {10}
    assert remembering_more(solved, 10, dict(given_up)) is None
    assert remembering_more(solved, _MANY, given_up) is not None


def test_endings_after_which_all_costs_the_same_are_one() -> None:
    plan = known(_BRIEFS[0])
    solved = plan.networks[-1].solve(plan.networks[-1].usual())
    outlook = Outlook(solved, Actions(solved.table))
    others, direct = outlook._classes
    table = solved.table
    for number in range(int(others.max()) + 1):
        mine = np.nonzero(others == number)[0]
        assert np.array_equal(
            table.history[mine], np.repeat(table.history[mine[:1]], len(mine), axis=0)
        )
    assert direct.max() >= others.max()
