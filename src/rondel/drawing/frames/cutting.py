"""Reels cut from a script: every frame with its still, its hands, its words and its marks."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from typing import NamedTuple

from rondel.drawing.frames.hands import HandsInFrames
from rondel.drawing.frames.layout import (
    COLUMN,
    FADE_FRAMES,
    FRAMES_PER_SECOND,
    HEIGHT,
    LANDING_CENTRE,
    LANDING_FRAMES,
    LANDING_RADIUS,
    NEXT_BASELINE,
    OVER_CENTRE,
    WIDTH,
)
from rondel.drawing.frames.reel import Moment, Piece, Placed, Reel, Still
from rondel.drawing.frames.script import Script, Shot
from rondel.drawing.frames.stills import Line, text
from rondel.drawing.frames.words import countdown_says
from rondel.drawing.ink import BLUE, INK, PAPER, PEAK
from rondel.drawing.lettering import Face
from rondel.model.routine import Passage
from rondel.model.words import Layer, Role

COUNTDOWN_SIZE = (120, 44)

#: The light on the page: paper-white with a rim of quiet blue, in a halo.
LIGHT = Piece(
    svg=(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 40">'
        f'<circle cx="20" cy="20" r="14" fill="{PAPER}" fill-opacity="0.75"/>'
        f'<circle cx="20" cy="20" r="7.5" fill="{PAPER}" stroke="{BLUE}" stroke-width="4.5"/></svg>'
    ),
    width=40,
    height=40,
)


def cut_reel(script: Script, first: int, past: int) -> Reel:
    """Return the frames of `script` from `first` up to `past`, complete in themselves."""
    return _Cutter(script, range(first, past)).cut()


class _Cutter:
    """Collects the stills and pieces of one reel, each once, in the order in which they come."""

    def __init__(self, script: Script, frames: range) -> None:
        self._script, self._frames = script, frames
        self._stills: dict[Still, int] = {}
        self._shots: dict[int, int] = {}
        self._wordless: dict[int, int] = {}
        self._pieces: dict[Piece, int] = {}
        self._hands: dict[str, HandsInFrames | None] = {}

    def cut(self) -> Reel:
        moments = tuple(self._moments())
        return Reel(
            first_frame=self._frames.start,
            width=WIDTH,
            height=HEIGHT,
            frames_per_second=FRAMES_PER_SECOND,
            stills=tuple(self._stills),
            pieces=tuple(self._pieces),
            moments=moments,
        )

    def _moments(self) -> Iterator[Moment]:
        script = self._script
        for frame in self._frames:
            at = script.shot_at(frame)
            shot = script.shots[at]
            following = script.shots[at + 1] if at + 1 < len(script.shots) else None
            fade = _NO_FADE
            if following is not None:
                in_steps = not shot.says_the_same_as(following)
                fade = _fade(following.first_frame - frame, in_steps=in_steps)
            yield Moment(*self._stills_at(at, fade), (*self._moving(frame, shot, following, fade),))

    def _stills_at(self, at: int, fade: _Fade) -> tuple[int, int, float]:
        """Return the still, the one fading in over it, and how far."""
        if fade.out <= 0:
            return self._still(at), 0, 0.0
        shot, following = self._script.shots[at : at + 2]
        if shot.says_the_same_as(following):
            return self._still(at), self._still(at + 1), round(fade.into, 3)
        if at not in self._wordless:
            still = self._script.wordless_still(shot, following)
            self._wordless[at] = self._number(still)
        wordless = self._wordless[at]
        if fade.into <= 0:
            return self._still(at), wordless, round(fade.out, 3)
        return wordless, self._still(at + 1), round(fade.into, 3)

    def _still(self, at: int) -> int:
        if at not in self._shots:
            self._shots[at] = self._number(self._script.still(self._script.shots[at]))
        return self._shots[at]

    def _number(self, still: Still) -> int:
        return self._stills.setdefault(still, len(self._stills))

    def _piece(self, piece: Piece) -> int:
        return self._pieces.setdefault(piece, len(self._pieces))

    def _moving(
        self, frame: int, shot: Shot, following: Shot | None, fade: _Fade
    ) -> Iterator[Placed]:
        """Give hands, landing marks, light and countdown, lowest first."""
        script = self._script
        is_leaving = following is not None and following.passage != shot.passage
        for passage in script.layers(shot.passage):
            yield from self._hands_of(passage, frame, 1 - fade.into if is_leaving else 1.0)
            yield from self._landing(passage, frame)
        if following is not None and is_leaving and fade.into > 0:
            for passage in script.layers(following.passage):
                yield from self._hands_of(passage, frame, fade.into)
        page_stays = (
            following is None
            or fade.out <= 0
            or (following.has_page and following.stanza == shot.stanza)
        )
        if shot.has_page:
            yield self._light(frame, 1.0 if page_stays else 1 - fade.out)
            changes = following is not None and not shot.says_the_same_as(following)
            yield from self._countdown(shot, frame, 1 - fade.out if changes else 1.0)
        if following is not None and following.has_page and fade.into > 0:
            first = following.first_frame
            if not (shot.has_page and page_stays):
                yield self._light(first, fade.into)
            if not (shot.has_page and shot.says_the_same_as(following)):
                yield from self._countdown(following, first, fade.into)

    def _light(self, frame: int, opacity: float) -> Placed:
        x, y = self._script.page.light_at(frame / FRAMES_PER_SECOND)
        return Placed(self._piece(LIGHT), x, y, opacity=opacity)

    def _hands_of(self, passage: Passage, frame: int, opacity: float) -> Iterator[Placed]:
        if passage.id not in self._hands:
            self._hands[passage.id] = self._script.hands(passage, self._frames)
        hands = self._hands[passage.id]
        if hands is not None:
            row = frame - self._frames.start
            yield from hands.placed(row, self._piece(hands.piece), opacity)

    def _landing(self, passage: Passage, frame: int) -> Iterator[Placed]:
        landings = self._script.landing_frames[passage.id]
        last = bisect_right(landings, frame) - 1
        since = frame - landings[last] if last >= 0 else LANDING_FRAMES
        if since < LANDING_FRAMES:
            colour = PEAK if passage.role is Role.PEAK else INK
            centre = OVER_CENTRE if passage.layer is Layer.OVER else LANDING_CENTRE
            yield Placed(
                self._piece(_disc(colour)), *centre, opacity=(1 - since / LANDING_FRAMES) ** 1.5
            )

    def _countdown(self, shot: Shot, frame: int, opacity: float) -> Iterator[Placed]:
        """Give the time to the next passage, at the end of the line that names it."""
        if shot.passage + 1 >= len(self._script.line):
            return
        seconds = self._script.seconds_left(shot.passage, frame)
        width, height = COUNTDOWN_SIZE
        line = Line(countdown_says(seconds), Face.SEMIBOLD, 33, INK, 0)
        svg = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}">'
            f"{text(line, width - 2, 32, anchor='end')}</svg>"
        )
        x = COLUMN.x + COLUMN.width - width / 2
        piece = self._piece(Piece(svg=svg, width=width, height=height))
        yield Placed(piece, x, NEXT_BASELINE - 10, opacity=opacity)


def _disc(colour: str) -> Piece:
    size = 2 * LANDING_RADIUS + 2
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size} {size}">'
        f'<circle cx="{size / 2:g}" cy="{size / 2:g}" r="{LANDING_RADIUS}" fill="{colour}"/></svg>'
    )
    return Piece(svg=svg, width=size, height=size)


class _Fade(NamedTuple):
    """How far the old words have gone, and how far what follows has come: 0 to 1."""

    out: float
    into: float


_NO_FADE = _Fade(0.0, 0.0)


def _fade(frames_left: int, *, in_steps: bool) -> _Fade:
    """Return the fade `frames_left` before the next shot: out first, then in; or both at once."""
    if frames_left > FADE_FRAMES:
        return _NO_FADE
    part = (FADE_FRAMES + 1 - frames_left) / (FADE_FRAMES + 1)
    if not in_steps:
        return _Fade(_eased(part), _eased(part))
    return _Fade(_eased(min(part * 2, 1.0)), _eased(max(part * 2 - 1, 0.0)))


def _eased(part: float) -> float:
    return part * part * (3 - 2 * part)
