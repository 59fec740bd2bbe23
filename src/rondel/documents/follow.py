"""The follow-along page: the drawn page with a light on it that moves as the session plays.

One HTML file that needs nothing from a network and opens from disk beside the session's media.
Where time goes in the session is where the light goes on the page; there is no other ruler.
It holds the page twice, for a wide and for a narrow screen, and shows the one that fits.
"""

from __future__ import annotations

import html
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from rondel.documents.captions import Caption, Talk, caption_spans
from rondel.model.names import (
    ON_SIDE_SAYS,
    language_of,
    lying_says,
    name_language,
    names_shown,
    passage_name,
)
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.safety import brief_cautions, safety_sentences
from rondel.model.time import as_minutes
from rondel.model.words import PRESSURE_SAYS, Language, Layer, Role

#: Room above and below a line in which a tap means that line, in points of the drawing.
ABOVE_LINE, BELOW_LINE = 24.0, 14.0
#: Room left of the lines for the minutes, right of them for the light, and above the key; points.
TIMES_WIDTH, RIGHT_MARGIN, KEY_HEIGHT = 36.0, 14.0, 12.0

#: What opens the cautions, and what it says where the brief names some for this couple.
ALL, ALL_AND_YOURS = "All cautions", "All cautions, and those for you"


class PageLine(Protocol):
    """A line of the drawn page: it holds the seconds `start` to `end`, from `left` to `right`."""

    @property
    def start(self) -> float: ...
    @property
    def end(self) -> float: ...
    @property
    def left(self) -> float: ...
    @property
    def right(self) -> float: ...
    @property
    def baseline(self) -> float: ...


class Page(Protocol):
    """The drawn page, with the place of a light for every second."""

    @property
    def svg(self) -> str: ...
    @property
    def width(self) -> float: ...
    @property
    def height(self) -> float: ...
    @property
    def lines(self) -> Sequence[PageLine]: ...
    def point_at(self, seconds: float) -> tuple[float, float]: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Pages:
    """The page as drawn for a wide screen, and the slip for a narrow one."""

    wide: Page
    slip: Page


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowTemplate:
    """The parts that are the same for every routine: page, style, script, font faces."""

    page: str
    style: str
    script: str
    fonts: str = ""


def follow_page(
    routine: Routine, craft: Craft, pages: Pages, speech: Talk, template: FollowTemplate
) -> str:
    """Return index.html, to stand in a folder beside session.mp4, session.m4a and page.svg."""
    consent, *cautions = safety_sentences(routine.brief, craft)
    wide, slip = (_drawn(routine, page) for page in (pages.wide, pages.slip))
    slots = {
        "language": language_of(routine),
        "title": html.escape(routine.title),
        "subtitle": html.escape(_subtitle(routine)),
        "fonts": template.fonts,
        "style": template.style,
        "script": template.script,
        "consent": html.escape(consent),
        "more": ALL_AND_YOURS if brief_cautions(routine.brief, craft) else ALL,
        "cautions": _items(cautions),
        "page": wide.svg,
        "taps": wide.taps,
        "view": wide.view,
        "slip": slip.svg,
        "slip_taps": slip.taps,
        "slip_view": slip.view,
        "passages": _passage_list(routine, craft),
        "data": _as_script(_data(routine, craft, pages, caption_spans(routine, speech))),
    }
    return re.sub(r"\{\{(\w+)\}\}", lambda found: slots[found[1]], template.page)


def light_path(page: Page) -> tuple[tuple[float, float, float], ...]:
    """Return (seconds, x, y) at both ends of every line; between them the light moves evenly."""
    points = []
    for line in page.lines:
        points.append((float(line.start), float(line.left), float(line.baseline)))
        points.append((float(line.end), float(line.right), float(line.baseline)))
    return tuple(points)


def _subtitle(routine: Routine) -> str:
    positions = list(dict.fromkeys(lying_says(p.position) for p in routine.line))
    lying = ", then ".join(positions)
    total = float(routine.clock.total_seconds)
    is_whole = abs(total - 60 * round(total / 60)) < 5
    about = "" if is_whole else "about "
    return f"{about}{round(total / 60)} minutes, {lying}"


def _items(sentences: Sequence[str]) -> str:
    return "\n".join(f"<li>{html.escape(s)}</li>" for s in sentences)


# ------------------------------------------------------------------ the drawings, inline
@dataclass(frozen=True, slots=True, kw_only=True)
class _Drawn:
    """A drawing as it stands in the page, the part of it that is shown, and where to tap."""

    svg: str
    view: str
    taps: str


def _drawn(routine: Routine, page: Page) -> _Drawn:
    view = _view(page)
    return _Drawn(svg=_inline(page.svg, view), view=view, taps=_taps(routine, page))


def _view(page: Page) -> str:
    """Return the part of the drawing that is shown: without its margins and its title.

    The title is left to the page, which says it in words of its own.
    """
    left = max(0.0, min(line.left for line in page.lines) - TIMES_WIDTH)
    right = min(page.width, max(line.right for line in page.lines) + RIGHT_MARGIN)
    key = re.search(r'<g class="key">\s*<text [^>]*?y="([\d.]+)"', page.svg)
    top = max(0.0, float(key[1]) - KEY_HEIGHT) if key else 0.0
    return f"{left:g} {top:g} {right - left:g} {page.height - top:g}"


def _inline(svg: str, view: str) -> str:
    """Return the drawing without its prologue, cropped to `view`, as wide as its place."""
    start = svg.index("<svg")
    end = svg.index(">", start)
    root = re.sub(r'\s(?:width|height|viewBox)="[^"]*"', "", svg[start:end])
    return f'{root} class="drawing" viewBox="{view}"{svg[end:]}'


def _taps(routine: Routine, page: Page) -> str:
    """Return one invisible rectangle for every piece of a passage on a line."""
    rects = []
    for n, passage in enumerate(routine.line):
        start, end = routine.start_seconds(passage), routine.end_seconds(passage)
        for line in page.lines:
            first, last = max(start, line.start), min(end, line.end)
            if last - first <= 1e-6:
                continue
            scale = (line.right - line.left) / (line.end - line.start)
            x = line.left + (first - line.start) * scale
            rects.append(
                f'<rect data-n="{n}" x="{x:.2f}" y="{line.baseline - ABOVE_LINE:.2f}" '
                f'width="{(last - first) * scale:.2f}" height="{ABOVE_LINE + BELOW_LINE:g}"/>'
            )
    return "\n".join(rects)


# ------------------------------------------------------------------ the passages, in words
def _passage_list(routine: Routine, craft: Craft) -> str:
    shown = names_shown(routine)
    return "\n".join(
        f'<li><button type="button" data-n="{n}"{_home_class(p)}>'
        f'<span class="at">{as_minutes(routine.start_seconds(p))}</span> '
        f'<span class="what"><span class="name"{_language(routine, p)}>'
        f"{html.escape(passage_name(p, craft, shown))}"
        f'</span> <span class="facts">{html.escape(", ".join(_facts(routine, p, craft)))}'
        "</span></span></button></li>"
        for n, p in enumerate(routine.line)
    )


def _language(routine: Routine, passage: Passage) -> str:
    """Return the attribute that says in which language a name is, where it is not the page's."""
    language = name_language(routine, passage)
    return "" if language is Language.ENGLISH else f' lang="{language}"'


def _home_class(passage: Passage) -> str:
    return ' class="home"' if passage.role is Role.REFRAIN else ""


def _facts(routine: Routine, passage: Passage, craft: Craft) -> list[str]:
    """Return side and pressure in words, and what is special about the passage."""
    if passage.technique is None:
        return ["free for a technique of your own"]
    special = {
        Role.REFRAIN: "the refrain",
        Role.PEAK: "the peak",
        Role.REST: "a rest",
    }.get(passage.role)
    facts = []
    held = craft.technique(passage.technique).family.is_held
    if not held or passage.side.is_one_sided:
        facts.append(ON_SIDE_SAYS[passage.side])
    facts.append(PRESSURE_SAYS[passage.pressure])
    if special:
        facts.append(special)
    if passage.stretch:
        facts.append("skip it if you like")
    on_top = _on_top(routine, passage, craft)
    if on_top:
        facts.append(f"with {on_top} lightly on top")
    return facts


def _on_top(routine: Routine, passage: Passage, craft: Craft) -> str:
    for other in routine.passages:
        is_over = other.layer is Layer.OVER and other.start_bar == passage.start_bar
        if is_over and other.technique is not None:
            return passage_name(other, craft, names_shown(routine))
    return ""


# ------------------------------------------------------------------ what the script needs
def _data(
    routine: Routine, craft: Craft, pages: Pages, captions: Sequence[Caption]
) -> dict[str, object]:
    return {
        "seconds": round(float(routine.clock.total_seconds), 3),
        "light": _light(pages.wide),
        "slip_light": _light(pages.slip),
        "passages": [_passage_data(routine, p, craft) for p in routine.line],
        "refrains": [round(float(routine.start_seconds(r[0])), 3) for r in routine.refrains],
        "captions": [
            [round(c.start_seconds, 3), round(c.end_seconds, 3), c.text] for c in captions
        ],
    }


def _light(page: Page) -> list[list[float]]:
    return [[round(v, 3) for v in point] for point in light_path(page)]


def _passage_data(routine: Routine, passage: Passage, craft: Craft) -> dict[str, object]:
    technique = craft.technique(passage.technique) if passage.technique else None
    is_held = technique is not None and technique.family.is_held
    pressure = f"{passage.pressure} of 5, " if passage.pressure else ""
    return {
        "start": round(float(routine.start_seconds(passage)), 3),
        "end": round(float(routine.end_seconds(passage)), 3),
        "name": passage_name(passage, craft, names_shown(routine)),
        "lang": name_language(routine, passage),
        "side": ""
        if technique is None or (is_held and not passage.side.is_one_sided)
        else ON_SIDE_SAYS[passage.side],
        "pressure": "" if technique is None else pressure + PRESSURE_SAYS[passage.pressure],
        "how": technique.how if technique else "This part is yours: no one leads here.",
        "position": lying_says(passage.position),
        "home": passage.role is Role.REFRAIN,
        "skip": passage.stretch,
        "top": _on_top(routine, passage, craft),
    }


def _as_script(data: Mapping[str, object]) -> str:
    """Return JSON that cannot end the script element it stands in."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")
