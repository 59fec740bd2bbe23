"""A few lines of the page in a corner of the frame, and the light that moves along them.

The lines turn like stanzas: three stand still until the light has walked them, then the next three
come. So a change in one passage redraws only the frames in which its stanza stands.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from rondel.drawing.frames.layout import MAP
from rondel.drawing.ink import NOTES
from rondel.drawing.lettering import FAMILY
from rondel.drawing.page_body import Body
from rondel.drawing.page_lines import Line, line_spans, point_at, set_lines
from rondel.drawing.page_measure import MAP as MAP_MEASURE
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.time import as_minutes

LINES_TOGETHER = 3
SECONDS_A_LINE = 60.0

#: One unit of the small page is two pixels of the frame.
ZOOM = 2.0
_LEFT, _TOP, _PITCH, _TIME_SIZE = 48.0, 12.0, 19.0, 14.0


@dataclass(frozen=True, kw_only=True)
class PagePieces:
    """The small page of one routine."""

    routine: Routine
    craft: Craft

    @cached_property
    def _lines(self) -> tuple[Line, ...]:
        spans = line_spans(self.routine.clock.total_seconds, SECONDS_A_LINE)
        baselines = tuple(_TOP + _PITCH * (i % LINES_TOGETHER) for i in range(len(spans)))
        return set_lines(spans, baselines, left=_LEFT, right=MAP.width / ZOOM - 8)

    @property
    def starts(self) -> tuple[float, ...]:
        """The second at which each stanza begins."""
        return tuple(line.start for line in self._lines[::LINES_TOGETHER])

    @cached_property
    def _drawn(self) -> dict[int, str]:
        """Stanzas that were asked for before."""
        return {}

    def svg(self, stanza: int) -> str:
        """Return the lines of one stanza, with their minutes in the margin."""
        if stanza not in self._drawn:
            self._drawn[stanza] = self._draw(stanza)
        return self._drawn[stanza]

    def _draw(self, stanza: int) -> str:
        first = stanza * LINES_TOGETHER
        lines = self._lines[first : first + LINES_TOGETHER]
        body = Body(
            routine=self.routine,
            craft=self.craft,
            lines=lines,
            measure=MAP_MEASURE,
            labels={},
            has_times=False,
        ).svg()
        times = "".join(
            f'<text x="{_LEFT - 11:g}" y="{line.baseline + 4.6:g}" font-family="{FAMILY}" '
            f'font-size="{_TIME_SIZE:g}" fill="{NOTES}" text-anchor="end">'
            f"{as_minutes(line.start)}</text>"
            for line in lines
        )
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {MAP.width / ZOOM:g} '
            f'{MAP.height / ZOOM:g}">{body}{times}</svg>'
        )

    def light_at(self, seconds: float) -> tuple[float, float]:
        """Return where the light stands in the frame."""
        x, y = point_at(self._lines, seconds)
        return MAP.x + x * ZOOM, MAP.y + y * ZOOM
