"""Pictures between two pictures of a take, for film that is played slower than it was taken.

Dense flow between both, worked out at half size, says where everything is on its way; both
pictures are brought there and mixed. Where they disagree, one of them shows what the other hides
or the flow is wrong: there only the nearer one counts, so that no hand is seen twice.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from rondel.adapters.planes import Planes, joined, split

#: Levels of 255 by which two pictures of the same thing may differ, and the span over which the
#: mixture gives way to the nearer one.
_ALIKE, _SPAN = 10.0, 14.0

#: How much the nearer one counts (of 255), by how many levels both are apart.
_LEVELS = np.arange(256, dtype=np.float32)
_NEARER = np.clip((_LEVELS - _ALIKE) * (255 / _SPAN), 0, 255).astype(np.uint8)

Flow = NDArray[np.float32]


class Between:
    """Makes pictures between two; keeps the flow between the last two."""

    def __init__(self, size: tuple[int, int]) -> None:
        self._size = size
        width, height = size
        self._flow = cv2.DISOpticalFlow.create(cv2.DISOPTICAL_FLOW_PRESET_FAST)
        self._flow.setUseSpatialPropagation(True)
        rows, columns = np.mgrid[0 : height // 2, 0 : width // 2].astype(np.float32)
        self._halves = np.dstack([columns, rows])
        rows, columns = np.mgrid[0:height, 0:width].astype(np.float32)
        self._wholes = np.dstack([columns, rows])
        self._key: tuple[int, float, float] | None = None
        self._ways: tuple[Flow, Flow] | None = None

    def picture(
        self, key: tuple[int, float, float], one: Planes, two: Planes, share: float
    ) -> Planes:
        """Return the picture at `share` of the way from `one` to `two`, which `key` names."""
        if key != self._key or self._ways is None:
            self._key, self._ways = key, self._both_ways(one, two)
        there, back = self._ways
        # A point at `share` was `share` of the way back, and goes on by the rest.
        from_one, from_two = -share * there, -(1 - share) * back
        parts_one, parts_two = split(one, self._size), split(two, self._size)
        y = _mixed(
            _moved(parts_one[0], self._enlarged(from_one)),
            _moved(parts_two[0], self._enlarged(from_two)),
            share,
        )
        colours = [
            cv2.addWeighted(
                _moved(parts_one[n], self._halves + from_one),
                1 - share,
                _moved(parts_two[n], self._halves + from_two),
                share,
                0,
            )
            for n in (1, 2)
        ]
        return joined((y, np.asarray(colours[0]), np.asarray(colours[1])))

    def _both_ways(self, one: Planes, two: Planes) -> tuple[Flow, Flow]:
        width, height = self._size
        halves = (width // 2, height // 2)
        small = [
            cv2.resize(split(planes, self._size)[0], halves, interpolation=cv2.INTER_AREA)
            for planes in (one, two)
        ]
        nothing = np.zeros((height // 2, width // 2, 2), dtype=np.float32)
        there = self._flow.calc(small[0], small[1], nothing.copy())
        back = self._flow.calc(small[1], small[0], nothing)
        return np.asarray(there, dtype=np.float32), np.asarray(back, dtype=np.float32)

    def _enlarged(self, way: Flow) -> Flow:
        """Return where everything in a whole picture comes from, from the ways at half size."""
        large = cv2.resize(way, self._size, interpolation=cv2.INTER_LINEAR)
        return np.asarray(cv2.scaleAdd(large, 2.0, self._wholes), dtype=np.float32)


def _moved(part: Planes, places: Flow) -> Planes:
    # One map of both coordinates needs no second one, which the library's types do not know.
    made = cv2.remap(  # type: ignore[call-overload]
        part, places, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(made, dtype=np.uint8)


def _mixed(one: Planes, two: Planes, share: float) -> Planes:
    """Return both mixed where they agree, and the nearer one where they do not."""
    near = one if share < 0.5 else two
    both = cv2.addWeighted(one, 1 - share, two, share, 0)
    apart = cv2.GaussianBlur(cv2.absdiff(one, two), (0, 0), 2.0)
    trust = cv2.LUT(np.asarray(apart), _NEARER)
    kept = cv2.multiply(both, cv2.bitwise_not(trust), scale=1 / 255)
    return np.asarray(cv2.add(kept, cv2.multiply(near, trust, scale=1 / 255)), dtype=np.uint8)
