"""A part of a plan planned afresh, while the rest stands: much looked at for little work.

Between two returns everything is free; before and after, only the blocks of the plan may be placed
where they are. Searching in so small a network takes a fraction of the time, and goes as deep.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from rondel.planner.blocks import Kind
from rondel.planner.bound import Relaxation
from rondel.planner.layers import Layer
from rondel.planner.search import Placed

#: First bar of a window and the first bar after it.
Window = tuple[int, int]


def windows_of(placed: Placed, homes: int) -> Iterator[Window]:
    """Yield the stretches of a plan from one return to the start of the return `homes` later (or
    to the end), the first from the beginning."""
    end = max(bar + block.bars for bar, block, _ in placed)
    starts = [0, *(bar for bar, block, _ in placed if block.kind is Kind.HOME), end]
    for i in range(max(1, len(starts) - homes)):
        yield starts[i], starts[min(i + homes, len(starts) - 1)]


def around(relaxation: Relaxation, placed: Placed, window: Window) -> Relaxation:
    """Return the part of the network that leaves the plan as it is outside of `window`; only
    arrival and close may become others of the same length."""
    number = {id(block): i for i, block in enumerate(relaxation.table.own)}
    standing = {bar: block for bar, block, _ in placed}
    layers = []
    for layer in relaxation.layers:
        if window[0] <= layer.bar < window[1]:
            layers.append(layer)
        elif layer.bar in standing:
            block = standing[layer.bar]
            layers.append(_standing(layer, block.kind, number.get(id(block), -1), relaxation))
    smaller = copy.copy(relaxation)
    smaller.with_layers(layers, are_alike=True)
    return smaller


def _standing(layer: Layer, kind: Kind, block: int, relaxation: Relaxation) -> Layer:
    """Return the layer with nothing but what stands there: own block number `block` (-1: none), or
    a move of that kind."""
    rows = np.ones(len(layer.rows), dtype=bool)
    ends = np.ones(len(layer.ends), dtype=bool)
    nowhere = np.full(len(layer.rows), relaxation.net.count)
    return replace(
        layer.kept(rows, layer.own == block, ends, relaxation.table),
        homes=layer.homes if kind is Kind.HOME else nowhere,
        opens=layer.opens if kind is Kind.OPEN else nowhere,
        turns=layer.turns if kind is Kind.TURN else (),
        closing=layer.closing if kind is Kind.CLOSE else layer.closing[:0],
    )
