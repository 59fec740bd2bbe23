"""A beam over bars: at every bar the best half-made plans go on, some of every kind."""

from __future__ import annotations

from rondel.planner.moves import Move, Moves
from rondel.planner.state import State

_ALIKE = 3  # plans of one group that may end with the same technique


def run(moves: Moves, width: int, keep: int = 1) -> list[tuple[float, State]]:
    """Return up to `keep` whole plans with their costs, the best first; [] where none was found.

    Deterministic: ties go to the plan that was found first.
    """
    waiting: dict[int, list[Move]] = {}
    for move in moves.first():
        waiting.setdefault(move.block.bars, []).append(move)
    for bar in range(moves.bars):
        arrived = waiting.pop(bar, None)
        if not arrived:
            continue
        for move in _chosen(arrived, width):
            state = moves.arrive_at(move)
            for following in moves.after(state):
                waiting.setdefault(bar + following.block.bars, []).append(following)
    whole = [moves.arrive_at(move) for move in waiting.get(moves.bars, [])]
    rated = sorted(
        ((moves.final_cost(state), i) for i, state in enumerate(whole)), key=lambda pair: pair
    )
    return [(cost, whole[i]) for cost, i in rated[:keep]]


def _chosen(arrived: list[Move], width: int) -> list[Move]:
    """Return the best moves; every group of obligations keeps a few of its own."""
    arrived.sort(key=lambda move: (move.rank, move.order))
    groups = {move.group for move in arrived}
    least = max(1, min(4, width // 4))
    most = max(least, width // 2 if len(groups) > 1 else width)
    taken: dict[object, int] = {}
    chosen: list[Move] = []
    for move in arrived:
        count = taken.get(move.group, 0)
        alike = (move.group, move.block.technique, move.block.kind)
        if taken.get(alike, 0) >= _ALIKE and width > 1:
            continue
        if count < least or (count < most and len(chosen) < width):
            chosen.append(move)
            taken[move.group] = count + 1
            taken[alike] = taken.get(alike, 0) + 1
    return chosen
