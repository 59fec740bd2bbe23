"""Reels cut from a script: every frame with its still, its hands, its words and its marks."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator

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
            mix = 0.0
            if following is not None:
                mix = _fade(following.first_frame - frame)
            still = self._still(at)
            fading_in = self._still(at + 1) if mix > 0 else 0
            placed = (*self._moving(shot, frame, following, mix),)
            yield Moment(still, fading_in, round(mix, 3), placed)

    def _still(self, at: int) -> int:
        if at not in self._shots:
            still = self._script.still(self._script.shots[at])
            self._shots[at] = self._stills.setdefault(still, len(self._stills))
        return self._shots[at]

    def _piece(self, piece: Piece) -> int:
        return self._pieces.setdefault(piece, len(self._pieces))

    def _moving(
        self, shot: Shot, frame: int, following: Shot | None, mix: float
    ) -> Iterator[Placed]:
        script = self._script
        is_leaving = mix > 0 and following is not None and following.passage != shot.passage
        stays = 1 - mix if is_leaving else 1.0
        for passage in script.layers(shot.passage):
            yield from self._hands_of(passage, frame, stays)
            yield from self._landing(passage, frame)
        if is_leaving and following is not None:
            for passage in script.layers(following.passage):
                yield from self._hands_of(passage, frame, mix)
        if not shot.has_page:
            return
        goes = 1.0 if following is None or following.has_page else 1 - mix
        x, y = script.page.light_at(frame / FRAMES_PER_SECOND)
        turns = following is not None and following.stanza != shot.stanza
        yield Placed(self._piece(LIGHT), x, y, opacity=1 - mix if turns else goes)
        if shot.passage + 1 < len(script.line):
            left = script.seconds_left(shot.passage, frame)
            yield self._countdown(left, min(stays, goes))

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

    def _countdown(self, seconds: float, opacity: float) -> Placed:
        width, height = COUNTDOWN_SIZE
        line = Line(countdown_says(seconds), Face.SEMIBOLD, 33, INK, 0)
        svg = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}">'
            f"{text(line, width - 2, 32, anchor='end')}</svg>"
        )
        x = COLUMN.x + COLUMN.width - width / 2
        piece = self._piece(Piece(svg=svg, width=width, height=height))
        return Placed(piece, x, NEXT_BASELINE - 10, opacity=opacity)


def _disc(colour: str) -> Piece:
    size = 2 * LANDING_RADIUS + 2
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size} {size}">'
        f'<circle cx="{size / 2:g}" cy="{size / 2:g}" r="{LANDING_RADIUS}" fill="{colour}"/></svg>'
    )
    return Piece(svg=svg, width=size, height=size)


def _fade(frames_left: int) -> float:
    """Return how far the next still has come `frames_left` before it begins: eased, 0 to 1."""
    if frames_left > FADE_FRAMES:
        return 0.0
    part = (FADE_FRAMES + 1 - frames_left) / (FADE_FRAMES + 1)
    return part * part * (3 - 2 * part)
