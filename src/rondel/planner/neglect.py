"""What the cheapest way through a network neglects, and the network that remembers it.

The cheapest way is followed as the exact search would follow it. What it does that rules forbid, or
that costs more than the network knows, shows what nodes should remember. So only that is remembered
which keeps the bound down (decremental state-space relaxation, Righini & Salani 2008, Networks
51:155-170; from memory).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from rondel.planner.actions import Actions
from rondel.planner.bound import Solved
from rondel.planner.memories import NO, LastReturn, LongStrokes, Memory, Runs, Sort, Used, Warmed
from rondel.planner.net import Row, TooLarge
from rondel.planner.outlook import Outlook
from rondel.planner.remembering import Remembering

_FORBIDDEN = 9.0  # as much as what is forbidden counts; nothing that costs comes near

#: The cheapest way: an action with the row at which it begins; none for the arrival.
Way = list[tuple[Row | None, int]]


def remembering_more(solved: Solved, most: int, given_up: dict[Sort, int]) -> Solved | None:
    """Return the solved network whose nodes also remember what its cheapest way neglects most;
    None where that is nothing, or the network would have more than about `most` joins.

    What would be too large is noted in `given_up`, and not tried again before `most` has grown.
    """
    actions = Actions(solved.table)
    way = way_of(solved, actions)
    for memory in neglected(solved, actions, way):
        if given_up.get(memory.sort, 0) >= most:
            continue
        try:
            relaxation = Remembering(solved, memory, actions, most).built()
        except TooLarge:
            given_up[memory.sort] = most
            continue
        at = solved.at
        if memory.sort[0] == "technique":  # now known exactly, it needs no price
            techniques = at.techniques.copy()
            techniques[memory.sort[1]] = 0.0
            at = replace(at, techniques=techniques)
        return relaxation.solve(at)
    return None


def way_of(solved: Solved, actions: Actions) -> Way:
    """Return the cheapest way, which must exist, without the close."""
    _, arrival, _, number = min(solved.roots())
    ending = int(solved.table.arrival_end[arrival])
    way: Way = [(None, actions.first_arrival + arrival)]
    while True:
        row = solved.net.rows[number]
        uses, block, number, ending = solved.next(number, ending)
        if number < 0:
            return way
        way.append((row, block if uses is not None else _moved(row, number, actions)))


def _moved(row: Row, to: int, actions: Actions) -> int:
    """Return the action, no own block, that leads from `row` to another."""
    if to == row.home:
        return actions.home
    if to == row.open:
        return actions.first_open + row.node.opens
    position = next(p for p, turned, _ in row.turns if turned == to)
    return actions.first_turn + actions.turn_positions.index(position)


def neglected(solved: Solved, actions: Actions, way: Way) -> list[Memory]:
    """Return memories of what a way neglects, the most neglected first."""
    outlook = Outlook(solved, actions)
    found = []
    for memory in _memories(outlook, way):
        if memory.sort not in solved.relaxation.remembered:
            amount = _neglect(memory, way, actions)
            if amount > 0:
                found.append((amount, memory))
    found.sort(key=lambda pair: -pair[0])
    return [memory for _, memory in found]


def _memories(outlook: Outlook, way: Way) -> list[Memory]:
    """Return the memories that a way may neglect."""
    net, actions = outlook.net, outlook.actions
    done = np.array([action for _, action in way])
    found: list[Memory] = [LastReturn(net, actions)]
    if net.follows_row:
        found.append(Runs(outlook))
    found += [Warmed(outlook, slot) for slot in range(len(outlook.grounds.slots))]
    small = np.bitwise_or.reduce(actions.small_early[done] | actions.small_late[done])
    found += [
        LongStrokes(outlook, bit) for bit in range(int(small).bit_length()) if small >> bit & 1
    ]
    if outlook.knows_uses:
        uses = np.bincount(actions.techniques[done].ravel())[: outlook.uses.shape[1]]
        found += [Used(outlook, technique) for technique in np.nonzero(uses > 1)[0].tolist()]
    return found


def _neglect(memory: Memory, way: Way, actions: Actions) -> float:
    """Return what a way costs more than its network knows, by what a memory remembers."""
    state, total = memory.first(way[0][1]), 0.0
    for row, action in way[1:]:
        assert row is not None
        costs = memory.costs(state, row)
        if costs is not None and action < actions.own_count:
            total += float(costs[action])
        state = int(memory.after(state, row, np.array([action]))[0])
        if state == NO:
            return _FORBIDDEN
    return total
