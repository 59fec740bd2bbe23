"""The picture of a take: stills over a line, each beside the next."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest

from rondel.drawing.page_measure import LINES_LEFT
from rondel.drawing.seen_picture import WIDTH, Still, draw_seen, still_seconds
from rondel.model.take import Seen


@pytest.mark.parametrize("seconds", [2.0, 10.0, 34.6, 35.9, 65.0, 95.9, 245.0, 10_800.0])
@pytest.mark.parametrize(("width", "height"), [(240, 100), (240, 135), (135, 240)])
def test_stills_lie_side_by_side_on_the_paper(seconds: float, width: int, height: int) -> None:
    # A line may hold up to six seconds more than usual, so that its moments lie nearer together.
    seen = Seen(seconds=seconds, fps=25, width=640, height=360, stretches=())
    stills = [
        Still(second=second, address="data:,", width=width, height=height)
        for second in still_seconds(seconds)
    ]
    svg = draw_seen(seen, "a take", stills)
    boxes = [
        tuple(float(re.search(rf'\b{name}="([-.\d]+)"', one)[1]) for name in ("x", "y", "width"))  # type: ignore[index]
        for one in re.findall(r"<image[^>]*>", svg)
    ]
    assert len(boxes) == len(stills) > 0
    for (x, y, wide), (later, beside, _) in pairwise(boxes):
        assert y != beside or x + wide < later
    assert min(x for x, _, _ in boxes) >= LINES_LEFT
    assert max(x + wide for x, _, wide in boxes) <= WIDTH
