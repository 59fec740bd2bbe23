"""What the page and the chosen passage show, worked out once for each version."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass

from markupsafe import Markup

from rondel.checker.check import check
from rondel.desk.asking import as_data
from rondel.documents.follow import light_path
from rondel.drawing.moving_figure import moving_figure
from rondel.drawing.page import PageDrawing, draw_screen, draw_slip
from rondel.drawing.page_words import passage_told
from rondel.model.finding import Finding
from rondel.model.names import (
    lying_says,
    name_language,
    names_shown,
    passage_name,
    technique_names,
)
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.words import CONTACT_NAME, Role
from rondel.planner.groups import groups_of

_TOP = re.compile(r'<g class="key">\s*<text [^>]*?y="([\d.]+)"')
#: Room left of the lines for the minutes, right of them for the light, above the key; points.
LEFT, RIGHT, ABOVE = 36.0, 14.0, 12.0


def strangers(routine: Routine, craft: Craft) -> tuple[str, ...]:
    """Return the techniques of `routine` that nobody teaches any more, each once."""
    used = dict.fromkeys(p.technique for p in routine.passages if p.technique is not None)
    return tuple(id for id in used if not craft.has_technique(id))


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """The page as it stands in the book: for a wide screen and for a narrow one."""

    wide: Markup
    slip: Markup
    light: Markup  # JSON: where the light is at which second, on both


def drawn(routine: Routine, craft: Craft) -> Drawn:
    """Return both drawings of `routine`."""
    wide, slip = draw_screen(routine, craft), draw_slip(routine, craft)
    paths = {
        name: [[round(v, 2) for v in point] for point in light_path(page)]
        for name, page in (("wide", wide), ("slip", slip))
    }
    return Drawn(wide=_inline(wide, "wide"), slip=_inline(slip, "slip"), light=as_data(paths))


def _inline(page: PageDrawing, name: str) -> Markup:
    """Return the drawing as wide as its place, without margins and title, with its light."""
    left = max(0.0, min(line.left for line in page.lines) - LEFT)
    right = min(page.width, max(line.right for line in page.lines) + RIGHT)
    key = _TOP.search(page.svg)
    top = max(0.0, float(key[1]) - ABOVE) if key else 0.0
    start = page.svg.index("<svg")
    end = page.svg.index(">", start)
    root = re.sub(r'\s(?:width|height|viewBox)="[^"]*"', "", page.svg[start:end])
    view = f"{left:g} {top:g} {right - left:g} {page.height - top:g}"
    light = (
        f'<g class="light" id="light-{name}"><circle class="halo" r="9"/>'
        '<circle class="core" r="3.6"/></g>'
    )
    body = page.svg[end + 1 :].replace("</svg>", f"{light}</svg>")
    return Markup(f'{root} class="drawing {name}" viewBox="{view}">{body}')


def marked(svg: Markup, ids: Collection[str], mark: str) -> Markup:
    """Return a drawing with the passages `ids` given the class `mark`."""

    def one(found: re.Match[str]) -> str:
        here = found[1].removeprefix("slip-")
        return f'id="{found[1]}" class="passage{f" {mark}" if here in ids else ""}'

    return Markup(re.sub(r'id="([\w-]+)" class="passage', one, str(svg)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A passage in the list under the page."""

    id: str
    start: float
    end: float
    name: str
    language: str  # of the name
    told: str
    is_home: bool
    is_kept: bool
    stroke: tuple[float, float]  # seconds of a stroke, and where in it it lands (0 to 1)


def rows(routine: Routine, craft: Craft) -> tuple[Row, ...]:
    """Return the passages of the line in order, in words."""
    shown = names_shown(routine)
    found = []
    for p in routine.line:
        start, end = float(routine.start_seconds(p)), float(routine.end_seconds(p))
        told = passage_told(p, routine, craft).split(", ", 1)
        found.append(
            Row(
                id=p.id,
                start=round(start, 3),
                end=round(end, 3),
                name=passage_name(p, craft, shown),
                language=str(name_language(routine, p)),
                told=told[1] if len(told) > 1 else "",
                is_home=p.role is Role.REFRAIN,
                is_kept=p.kept,
                stroke=_stroke(p, routine, craft),
            )
        )
    return tuple(found)


def _stroke(p: Passage, routine: Routine, craft: Craft) -> tuple[float, float]:
    """Return the seconds of one stroke, and the share of it at which it lands."""
    span = float(routine.end_seconds(p)) - float(routine.start_seconds(p))
    if p.technique is None or craft.technique(p.technique).family.is_held:
        return round(span, 3), 0.0
    beat = span / (p.bars * routine.beats_per_bar)
    share = float(p.first_landing_beat / p.beats_per_stroke) % 1.0
    return round(float(p.beats_per_stroke) * beat, 4), round(share, 4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """All that the right leaf says of a passage."""

    id: str
    name: str
    beside: str
    under: str
    figure: Markup
    tracks: Markup
    stroke: tuple[float, float]
    how: str
    why: tuple[str, ...]
    findings: tuple[Finding, ...]
    start: float
    pressure: int
    pressures: tuple[int, ...]
    is_kept: bool
    is_open: bool
    is_home: bool
    is_one_sided: bool
    technique: str


def chosen(routine: Routine, passage: Passage, craft: Craft) -> Chosen:
    """Return what there is to say of `passage`. Sentences are the craft's own, in English."""
    shown = names_shown(routine)
    technique = craft.technique(passage.technique) if passage.technique else None
    names = (
        technique_names(technique, shown)
        if technique
        else (passage_name(passage, craft, shown), "")
    )
    figure, tracks, stroke = Markup(""), as_data([]), (0.0, 0.0)
    pressures: tuple[int, ...] = ()
    if technique is not None:
        stroke = _stroke(passage, routine, craft)
        moving = moving_figure(technique, passage.side, passage.position, stroke[1])
        figure, tracks = Markup(moving.svg), as_data(moving.tracks)
        low, high = technique.pressure
        pressures = tuple(range(low, high + 1))
    under = (
        ""
        if technique is None
        else " · ".join(
            (
                craft.region(technique.region).name,
                CONTACT_NAME[technique.contact],
                lying_says(passage.position),
            )
        )
    )
    bars = range(passage.start_bar, passage.end_bar)
    return Chosen(
        id=passage.id,
        name=names[0],
        beside=names[1],
        under=under,
        figure=figure,
        tracks=tracks,
        stroke=stroke,
        how=technique.how if technique else "",
        why=passage.why,
        findings=tuple(f for f in check(routine, craft) if f.at_bar in bars),
        start=float(routine.start_seconds(passage)),
        pressure=passage.pressure,
        pressures=pressures,
        is_kept=_is_kept(routine, passage, craft),
        is_open=passage.is_open,
        is_home=passage.role is Role.REFRAIN,
        is_one_sided=passage.side.is_one_sided,
        technique=passage.technique or "",
    )


def _is_kept(routine: Routine, passage: Passage, craft: Craft) -> bool:
    """True where anything of what belongs together with `passage` is insisted on."""
    group = next((g for g in groups_of(routine, craft) if g.holds(passage)), None)
    return passage.kept if group is None else any(p.kept for p in group.passages)


def differing(one: Routine, other: Routine) -> tuple[frozenset[str], frozenset[str]]:
    """Return the passages of each that the other does not have, at the same place and alike."""

    def alike(p: Passage, routine: Routine) -> tuple[object, ...]:
        at = round(float(routine.start_seconds(p)), 2), round(float(routine.end_seconds(p)), 2)
        return (p.technique, p.side, p.pressure, p.role, p.layer, p.position, p.kept, *at)

    of = [{alike(p, r): p.id for p in r.passages} for r in (one, other)]
    return (
        frozenset(i for key, i in of[0].items() if key not in of[1]),
        frozenset(i for key, i in of[1].items() if key not in of[0]),
    )
