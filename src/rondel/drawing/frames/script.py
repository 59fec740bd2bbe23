"""What every frame of a routine shows: which still, which hands where, which words.

Frame n shows the instant n / 25 s, the moment at which it appears. A landing is marked in the frame
nearest to it. Fades end where the new begins; hands keep their true phase while they fade, and the
hands of what comes next wait where their first stroke starts.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from rondel.drawing.frames.hands import HandsInFrames, figure_svg, hands_in_frames, look_of
from rondel.drawing.frames.layout import (
    COLUMN,
    FADE_FRAMES,
    FIGURE,
    FRAMES_PER_SECOND,
    HEIGHT,
    LANDING_CENTRE,
    LANDING_FRAMES,
    LANDING_RADIUS,
    MAP,
    NEXT_BASELINE,
    OVER_CENTRE,
    WIDTH,
)
from rondel.drawing.frames.page_piece import PagePieces
from rondel.drawing.frames.reel import Inlay, Moment, Piece, Placed, Reel, Still
from rondel.drawing.frames.stills import (
    Line,
    card_column,
    closing_column,
    column_inlay,
    grounds,
    passage_column,
    rings,
    text,
)
from rondel.drawing.frames.words import (
    CLOSING_SECONDS,
    card_heads,
    countdown_says,
    opening_cards,
    passage_names,
    reading_seconds,
)
from rondel.drawing.ink import BLUE, INK, PAPER, PEAK, TINT
from rondel.drawing.lettering import Face
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """Frames from `first_frame` on that have one still: a passage, and what its column shows."""

    first_frame: int
    passage: int
    stanza: int
    card: int | None = None
    is_closing: bool = False

    @property
    def has_page(self) -> bool:
        """True where the column has room for a piece of the page."""
        return self.card is None and not self.is_closing


def first_frame_at(seconds: float) -> int:
    """Return the first frame that appears at or after `seconds`."""
    return math.ceil(seconds * FRAMES_PER_SECOND - 1e-6)


def nearest_frame(seconds: float) -> int:
    """Return the frame that appears nearest to `seconds`; halfway, the later."""
    return math.floor(seconds * FRAMES_PER_SECOND + 0.5)


def frames_of(routine: Routine) -> int:
    """Return how many frames the whole routine has."""
    return max(nearest_frame(routine.clock.total_seconds), 1)


class Script:
    """The frames of one routine, from first to last. Reels are cut from it."""

    def __init__(self, routine: Routine, craft: Craft) -> None:
        self._routine, self._craft = routine, craft
        self._line = routine.line
        self.frames = frames_of(routine)

    @cached_property
    def shots(self) -> tuple[Shot, ...]:
        """Every stretch with a still of its own, in order; the first begins at frame 0."""
        passages = [first_frame_at(self._routine.start_seconds(p)) for p in self._line]
        cards = [0]
        for sentences in self._cards:
            cards.append(cards[-1] + first_frame_at(reading_seconds(sentences)))
        stanzas = [first_frame_at(s) for s in self._page.starts]
        closing = self._closing_frame(passages[-1], cards[-1])
        shots = []
        for frame in sorted({*passages, *cards, *stanzas, closing}):
            if frame < self.frames:
                card = bisect_right(cards, frame) - 1
                shots.append(
                    Shot(
                        first_frame=frame,
                        passage=bisect_right(passages, frame) - 1,
                        stanza=bisect_right(stanzas, frame) - 1,
                        card=card if card < len(self._cards) else None,
                        is_closing=frame >= closing,
                    )
                )
        return tuple(shots)

    def _closing_frame(self, last_passage: int, cards_over: int) -> int:
        """Return where the last words begin; past the end where there is no room for them."""
        wanted = self.frames - first_frame_at(CLOSING_SECONDS)
        earliest = max(last_passage, cards_over) + 2 * FADE_FRAMES
        return wanted if wanted >= earliest else self.frames

    @cached_property
    def _page(self) -> PagePieces:
        return PagePieces(routine=self._routine, craft=self._craft)

    @cached_property
    def _cards(self) -> tuple[tuple[str, ...], ...]:
        return opening_cards(self._routine, self._craft)

    @cached_property
    def _shot_frames(self) -> list[int]:
        return [s.first_frame for s in self.shots]

    @cached_property
    def _over(self) -> dict[int, Passage]:
        """The upper layer of a peak, by the bar it starts with."""
        return {p.start_bar: p for p in self._routine.passages if p.layer is Layer.OVER}

    def _layers(self, index: int) -> tuple[Passage, ...]:
        passage = self._line[index]
        over = self._over.get(passage.start_bar)
        return (passage, over) if over else (passage,)

    @cached_property
    def landing_frames(self) -> dict[str, tuple[int, ...]]:
        """The frames in which strokes of each passage land, by the passage's id."""
        clock = self._routine.clock
        return {
            p.id: tuple(nearest_frame(clock.seconds_at(b)) for b in self._routine.landings(p))
            for p in self._routine.passages
        }

    def still(self, shot: Shot) -> Still:
        """Return the still of a shot."""
        passage = self._line[shot.passage]
        technique = self._craft.technique(passage.technique) if passage.technique else None
        is_home = passage.role is Role.REFRAIN
        figure = figure_svg(technique, passage, TINT if is_home else PAPER)
        words = self._column(shot) + rings(self._layers(shot.passage))
        inlays = [Inlay(svg=figure, box=FIGURE), column_inlay(words)]
        if shot.has_page:
            inlays.append(Inlay(svg=self._page.svg(shot.stanza), box=MAP))
        return Still(grounds=grounds(is_home=is_home), laid_over=tuple(inlays))

    def _column(self, shot: Shot) -> str:
        if shot.is_closing:
            return closing_column(self._routine.title)
        if shot.card is None:
            return passage_column(self._routine, shot.passage, self._craft)
        name = passage_names(self._routine, self._line[shot.passage], self._craft)[0]
        title, above = card_heads(self._routine, shot.card)
        return card_column(title, above, self._cards[shot.card], f"meanwhile: {name}")

    def reel(self, first: int, past: int) -> Reel:
        """Return the frames from `first` up to `past`, complete in themselves."""
        return _Cutter(self, range(first, past)).cut()

    def shot_at(self, frame: int) -> int:
        """Return the index of the shot that `frame` is in."""
        return bisect_right(self._shot_frames, frame) - 1

    def phase(self, passage: Passage, frame: int) -> float:
        """Return how far the stroke under way has come, 0 to 1, at the instant of `frame`.

        Before the passage it is 0: the hands wait where their first stroke starts.
        """
        beat = self._routine.clock.beat_at(frame / FRAMES_PER_SECOND)
        strokes = (beat - self._routine.start_beat(passage)) / float(passage.beats_per_stroke)
        return max(strokes, 0.0) % 1.0

    def hands(self, passage: Passage, frames: range) -> HandsInFrames | None:
        """Return the hands of `passage` in every one of `frames`; none where bars are open."""
        if passage.technique is None:
            return None
        technique = self._craft.technique(passage.technique)
        phases = np.array([self.phase(passage, frame) for frame in frames])
        return hands_in_frames(technique, passage, phases, look_of(passage))

    def seconds_left(self, index: int, frame: int) -> float:
        """Return the seconds from `frame` to the end of the passage of the line at `index`."""
        return self._routine.end_seconds(self._line[index]) - frame / FRAMES_PER_SECOND


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
        for passage in script._layers(shot.passage):
            yield from self._hands_of(passage, frame, stays)
            yield from self._landing(passage, frame)
        if is_leaving and following is not None:
            for passage in script._layers(following.passage):
                yield from self._hands_of(passage, frame, mix)
        if not shot.has_page:
            return
        goes = 1.0 if following is None or following.has_page else 1 - mix
        x, y = script._page.light_at(frame / FRAMES_PER_SECOND)
        turns = following is not None and following.stanza != shot.stanza
        yield Placed(self._piece(LIGHT), x, y, opacity=1 - mix if turns else goes)
        if shot.passage + 1 < len(script._line):
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
