"""A beam over bars: at every bar the best half-made plans go on, some of every kind."""

from __future__ import annotations

from rondel.planner.memory import state_after
from rondel.planner.moves import Move, Moves
from rondel.planner.state import State

_ALIKE = 3  # plans of one group that may end with the same technique


def run(moves: Moves, width: int) -> tuple[float, State] | None:
    """Return the cheapest whole plan met, with its cost; None where none was met.

    Deterministic: ties go to the plan that was found first.
    """
    waiting: dict[int, list[Move]] = {}
    for move in moves.first():
        waiting.setdefault(move[4].bars, []).append(move)
    for bar in range(moves.bars):
        arrived = waiting.pop(bar, None)
        if not arrived:
            continue
        moves.forget_places()
        for _, _, cost, before, block, position, _ in chosen(arrived, width):
            state = state_after(moves.grounds, before, block, position, cost)
            for following in moves.after(state):
                waiting.setdefault(bar + following[4].bars, []).append(following)
    best: tuple[float, State] | None = None
    for _, _, cost, before, block, position, _ in waiting.get(moves.bars, []):
        state = state_after(moves.grounds, before, block, position, cost)
        total = moves.costs.final(state)
        if best is None or total < best[0]:
            best = (total, state)
    return best


def chosen(arrived: list[Move], width: int) -> list[Move]:
    """Return the best moves; every group of obligations keeps a few of its own."""
    arrived.sort(key=_by_rank)
    groups = len({move[6] for move in arrived})
    least = 1 if groups == 1 or width < 12 else 2
    most = width if groups == 1 else max(least, width // 2)
    taken: dict[object, int] = {}
    found: list[Move] = []
    for move in arrived:
        group, block = move[6], move[4]
        count = taken.get(group, 0)
        if count >= least and (count >= most or len(found) >= width):
            continue
        alike = (group, block.technique, block.kind)
        if taken.get(alike, 0) < _ALIKE:
            found.append(move)
            taken[group] = count + 1
            taken[alike] = taken.get(alike, 0) + 1
    return found


def _by_rank(move: Move) -> tuple[float, int]:
    return move[0], move[1]
