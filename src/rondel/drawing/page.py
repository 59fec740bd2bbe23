"""The page: the whole routine as lines of strokes, for screens and for paper.

`draw_page` gives one tall drawing for screens and the same cut into sheets of paper;
`draw_slip` gives the tall drawing alone, narrow enough for a screen held in the hand;
`draw_map` gives the routine without words in a small box. The same routine gives the same bytes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from rondel.drawing import ink, page_key, page_labels
from rondel.drawing.lettering import Face
from rondel.drawing.page_body import Body, ink_of, technique_of
from rondel.drawing.page_labels import Label, Placed, Run
from rondel.drawing.page_lines import Line, line_spans, point_at, seconds_per_line, set_lines
from rondel.drawing.page_measure import (
    A4,
    LINES_LEFT,
    MAP,
    MARGIN_BOTTOM,
    MARGIN_RIGHT,
    MARGIN_TOP,
    PAGE,
    SLIP_WIDTH,
    Paper,
)
from rondel.drawing.page_svg import document, english_in
from rondel.drawing.page_words import Name, names_on_page, page_told
from rondel.model.names import language_of, name_language
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.words import Role


@dataclass(frozen=True, kw_only=True)
class PageDrawing:
    """A drawn routine.

    `svg` is one continuous drawing of `width` × `height` points (its viewBox starts at 0 0);
    `sheets` are the same lines as one drawing a sheet of paper (none for a slip or a map).
    `lines` are the lines of `svg`, and `seconds` is how long the routine lasts.
    """

    svg: str
    width: float
    height: float
    lines: tuple[Line, ...]
    seconds: float
    sheets: tuple[str, ...] = ()

    def point_at(self, seconds: float) -> tuple[float, float]:
        """Return where in `svg` a light stands that has reached `seconds`."""
        return point_at(self.lines, seconds)


#: Left free between the last line and the foot, in points.
ABOVE_FOOT = 5.0

Spans = tuple[tuple[float, float], ...]


def draw_page(routine: Routine, craft: Craft, paper: Paper = A4) -> PageDrawing:
    """Return the page of `routine`, with sheets of the size of `paper`."""
    plan = _planned(routine, craft, paper)
    return replace(plan.drawing(), sheets=plan.sheets())


def draw_screen(routine: Routine, craft: Craft) -> PageDrawing:
    """Return the page of `routine` as `draw_page` does, without sheets: for screens only."""
    return _planned(routine, craft, A4).drawing()


def draw_slip(routine: Routine, craft: Craft) -> PageDrawing:
    """Return the page of `routine` for a narrow screen, half a minute a line, without sheets.

    Its ids begin with `slip-`, so that it may stand in one document with the page.
    """
    paper = Paper(name="slip", width=SLIP_WIDTH, height=0.0)
    return _planned(routine, craft, paper, prefix="slip-").drawing()


def _planned(routine: Routine, craft: Craft, paper: Paper, *, prefix: str = "") -> _Plan:
    """Return what the page needs, its names set."""
    right = paper.width - MARGIN_RIGHT
    total = routine.clock.total_seconds
    names = sum(_label(n, routine, craft, 0.0).width for n in names_on_page(routine, craft))
    spans = line_spans(total, seconds_per_line(total, names, right - LINES_LEFT))
    labels = _placed_names(routine, craft, spans, right)
    extra = [_rows_above(labels.get(i, ())) for i in range(len(spans))]
    return _Plan(
        routine=routine,
        craft=craft,
        paper=paper,
        spans=spans,
        labels=labels,
        extra=extra,
        prefix=prefix,
    )


def draw_map(
    routine: Routine, craft: Craft, width: float = 260.0, height: float = 400.0
) -> PageDrawing:
    """Return the routine without words in a box of `width` × `height`, on nothing.

    Lines hold as many whole minutes as keep the box readable.
    """
    margin, total = 8.0, routine.clock.total_seconds
    room = height - 2 * margin
    per_line = next(
        (s for s in (60.0, 120.0, 180.0, 240.0, 300.0) if total / s * 19.0 <= room), 360.0
    )
    spans = line_spans(total, per_line)
    pitch = min(MAP.widest_pitch, room / len(spans))
    top = (height - pitch * len(spans)) / 2 + pitch * 0.42
    baselines = tuple(top + pitch * i for i in range(len(spans)))
    lines = set_lines(spans, baselines, left=margin, right=width - margin)
    body = Body(routine=routine, craft=craft, lines=lines, measure=MAP, labels={}, has_times=False)
    svg = document(
        body.svg(),
        width=width,
        height=height,
        title=f"{routine.title}: the routine at a glance",
        desc=page_told(routine, craft),
        name="map",
        paper=None,
    )
    return PageDrawing(svg=svg, width=width, height=height, lines=lines, seconds=total)


@dataclass(frozen=True, kw_only=True)
class _Plan:
    """All that head, lines and foot need to be set on one drawing or on sheets."""

    routine: Routine
    craft: Craft
    paper: Paper
    spans: Spans
    labels: dict[int, tuple[Placed, ...]]
    extra: list[float]
    prefix: str = ""  # of every id

    @property
    def right(self) -> float:
        return self.paper.width - MARGIN_RIGHT

    def drawing(self) -> PageDrawing:
        """Return the tall page, without sheets."""
        head = page_key.head(self.routine, self.craft, top=MARGIN_TOP, right=self.right)
        baselines = self._baselines(
            range(len(self.spans)), MARGIN_TOP + head.height, PAGE.pitch + 2
        )
        lines = self._lines(baselines)
        foot_top = baselines[-1] + 30
        foot = page_key.foot(self.routine, self.craft, top=foot_top, right=self.right)
        height = foot_top + foot.height + MARGIN_BOTTOM
        body = self._body(lines, may_touch=True)
        inside = f"{head.svg}\n{body}\n{foot.svg}"
        return PageDrawing(
            svg=self._document(inside, height, ground=ink.PAPER),
            width=self.paper.width,
            height=height,
            lines=lines,
            seconds=self.routine.clock.total_seconds,
        )

    def sheets(self) -> tuple[str, ...]:
        """Return one drawing a sheet; the foot stands on every sheet."""
        foot_height = page_key.foot(self.routine, self.craft, top=0, right=self.right).height
        bottom = self.paper.height - MARGIN_BOTTOM - foot_height
        head = page_key.head(self.routine, self.craft, top=MARGIN_TOP, right=self.right)
        rooms = _Rooms(
            first=bottom - ABOVE_FOOT - MARGIN_TOP - head.height,
            further=bottom - ABOVE_FOOT - MARGIN_TOP - page_key.SHORT_HEAD,
        )
        runs = _dealt(self.extra, rooms)
        return tuple(self._sheet(i, len(runs), run, head, bottom) for i, run in enumerate(runs))

    def _sheet(
        self, index: int, count: int, run: range, head: page_key.Block, bottom: float
    ) -> str:
        if index:
            head = page_key.short_head(
                self.routine, index + 1, count, top=MARGIN_TOP, right=self.right
            )
        foot = page_key.foot(self.routine, self.craft, top=bottom, right=self.right)
        top = MARGIN_TOP + head.height
        fitting = (bottom - ABOVE_FOOT - top - sum(self.extra[i] for i in run)) / len(run)
        pitch = max(PAGE.pitch, min(PAGE.widest_pitch, fitting))
        known = dict(zip(run, self._baselines(run, top, pitch), strict=True))
        every = tuple(known.get(i, -1000.0) for i in range(len(self.spans)))
        lines = tuple(line for line in self._lines(every) if line.index in known)
        body = self._body(lines, may_touch=False)
        note = f", sheet {index + 1} of {count}" if count > 1 else ""
        inside = f"{head.svg}\n{body}\n{foot.svg}"
        # No ground: the paper itself is the paper, and a printer's ink is saved.
        return self._document(inside, self.paper.height, note)

    def _baselines(self, run: range, top: float, pitch: float) -> tuple[float, ...]:
        """Return the baselines of lines `run` from `top` on, wider where names need more rows."""
        found, y = [], top
        for i in run:
            y += self.extra[i]
            found.append(y + pitch * 0.6)
            y += pitch
        return tuple(found)

    def _lines(self, baselines: tuple[float, ...]) -> tuple[Line, ...]:
        return set_lines(self.spans, baselines, left=LINES_LEFT, right=self.right)

    def _body(self, lines: tuple[Line, ...], *, may_touch: bool) -> str:
        return Body(
            routine=self.routine,
            craft=self.craft,
            lines=lines,
            measure=PAGE,
            labels=self.labels,
            may_touch=may_touch,
            prefix=self.prefix,
        ).svg()

    def _document(
        self, body: str, height: float, note: str = "", *, ground: str | None = None
    ) -> str:
        return document(
            body,
            width=self.paper.width,
            height=height,
            title=f"{self.routine.title}{note}",
            desc=page_told(self.routine, self.craft),
            name=f"{self.prefix}page",
            paper=ground,
            language=language_of(self.routine),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rooms:
    """The height that lines have on the first and on a further sheet."""

    first: float
    further: float


def _dealt(extra: list[float], rooms: _Rooms) -> list[range]:
    """Deal lines to sheets in order: as few sheets as hold them, filled alike."""
    heights = [PAGE.pitch + e for e in extra]
    greedy = _filled(heights, rooms, 1.0)
    part = 0.5
    while part < 1.0:  # the least filling that needs no further sheet
        tried = _filled(heights, rooms, part)
        if len(tried) == len(greedy):
            return tried
        part += 0.02
    return greedy


def _filled(heights: list[float], rooms: _Rooms, part: float) -> list[range]:
    found, start, used = [], 0, 0.0
    room = rooms.first * part
    for i, height in enumerate(heights):
        if i > start and used + height > room:
            found.append(range(start, i))
            start, used, room = i, 0.0, rooms.further * part
        used += height
    found.append(range(start, len(heights)))
    return found


def _placed_names(
    routine: Routine, craft: Craft, spans: Spans, right: float
) -> dict[int, tuple[Placed, ...]]:
    """Return the names of every line, set so that they do not meet."""
    lines = set_lines(spans, (0.0,) * len(spans), left=LINES_LEFT, right=right)
    by_line: dict[int, list[Label]] = {}
    for name in names_on_page(routine, craft):
        start = routine.start_seconds(name.passage)
        line = next(n for n in reversed(lines) if start >= n.start - 1e-6)
        by_line.setdefault(line.index, []).append(_label(name, routine, craft, line.x_at(start)))
    return {
        index: page_labels.place(tuple(labels), LINES_LEFT, right)
        for index, labels in by_line.items()
    }


def _label(name: Name, routine: Routine, craft: Craft, at: float) -> Label:
    passage, page_in = name.passage, language_of(routine)
    name_in = name_language(routine, passage)
    colour = ink_of(passage, technique_of(passage, craft))
    face = Face.SEMIBOLD_ITALIC if passage.role is Role.PEAK else Face.ITALIC
    runs = [
        Run(
            text=name.name,
            face=face,
            size=PAGE.name_size,
            fill=colour,
            language=None if name_in is page_in else name_in,
        )
    ]
    if name.remark:
        mark = "" if name.remark.startswith("◊") else "· "
        runs.append(
            Run(
                text=f"  {mark}{name.remark}",
                face=Face.REGULAR,
                size=PAGE.remark_size,
                fill=ink.NOTES,
                language=english_in(page_in),
            )
        )
    return Label(at=at, runs=tuple(runs), owner=passage.id)


def _rows_above(placed: tuple[Placed, ...]) -> float:
    """Return the height that names above the first row need."""
    return page_labels.ROW_POINTS * max((p.top_row for p in placed), default=0)
