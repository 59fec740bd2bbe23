"""What every frame of a routine shows: which still, which hands where, which words.

Frame n shows the instant n / 25 s, the moment at which it appears. A passage begins in the frame
nearest to its start, and a landing is marked in the frame nearest to it. Fades end where the new
begins: first the words go, then the figure changes and the new words come. Hands keep their true
phase while they fade, and the hands of what comes next wait where their first stroke starts.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from rondel.drawing.frames.hands import (
    HandsInFrames,
    are_seen_together,
    figure_svg,
    hands_in_frames,
    look_of,
)
from rondel.drawing.frames.layout import (
    ALL_WORDS,
    FADE_FRAMES,
    FIGURE,
    FRAMES_PER_SECOND,
    MAP,
    RINGS,
    WORDS,
)
from rondel.drawing.frames.page_piece import PagePieces
from rondel.drawing.frames.reel import Inlay, Still
from rondel.drawing.frames.stills import (
    card_column,
    closing_column,
    grounds,
    inlay_of,
    passage_column,
    rings,
)
from rondel.drawing.frames.words import (
    CLOSING_SECONDS,
    card_heads,
    opening_cards,
    passage_names,
    reading_seconds,
)
from rondel.drawing.ink import PAPER, TINT
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.words import Layer, Role


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """Frames from `first_frame` on that have one still: a passage, and what its column shows."""

    first_frame: int
    passage: int
    stanza: int
    card: int | None = None
    is_closing: bool = False

    def says_the_same_as(self, other: Shot) -> bool:
        """True where both shots have the same words, so that only the page turns."""
        mine = self.passage, self.card, self.is_closing
        return mine == (other.passage, other.card, other.is_closing)

    @property
    def has_page(self) -> bool:
        """True where the column has room for a piece of the page."""
        return self.card is None and not self.is_closing


def nearest_frame(seconds: float) -> int:
    """Return the frame that appears nearest to `seconds`; halfway, the later."""
    return math.floor(seconds * FRAMES_PER_SECOND + 0.5)


def frames_of(routine: Routine) -> int:
    """Return how many frames the whole routine has."""
    return max(nearest_frame(routine.clock.total_seconds), 1)


class Script:
    """The frames of one routine, from first to last. Reels are cut from it (`cutting`)."""

    def __init__(self, routine: Routine, craft: Craft) -> None:
        self.routine, self.craft = routine, craft
        self.line = routine.line
        self.frames = frames_of(routine)

    @cached_property
    def shots(self) -> tuple[Shot, ...]:
        """Every stretch with a still of its own, in order; the first begins at frame 0."""
        starts = [self.routine.start_seconds(p) for p in self.line[1:]]
        passages = [0, *(nearest_frame(s) for s in starts)]
        cards = [0]
        for sentences in self._cards:
            cards.append(cards[-1] + math.ceil(reading_seconds(sentences) * FRAMES_PER_SECOND))
        stanzas = [nearest_frame(s) for s in self.page.starts]
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
        wanted = self.frames - nearest_frame(CLOSING_SECONDS)
        earliest = max(last_passage, cards_over) + 2 * FADE_FRAMES
        return wanted if wanted >= earliest else self.frames

    def first_frame(self, index: int) -> int:
        """Return the first frame of the passage of the line at `index`."""
        return nearest_frame(self.routine.start_seconds(self.line[index])) if index else 0

    def past_frame(self, index: int) -> int:
        """Return the frame after the last one of the passage of the line at `index`."""
        return self.first_frame(index + 1) if index + 1 < len(self.line) else self.frames

    @cached_property
    def first_free_frame(self) -> int:
        """The first frame after the cards of the opening."""
        return next((s.first_frame for s in self.shots if s.card is None), self.frames)

    @cached_property
    def closing_frame(self) -> int:
        """The frame in which the last words come; past the end where there are none."""
        return next((s.first_frame for s in self.shots if s.is_closing), self.frames)

    @cached_property
    def page(self) -> PagePieces:
        """The small page in the corner."""
        return PagePieces(routine=self.routine, craft=self.craft)

    @cached_property
    def _cards(self) -> tuple[tuple[str, ...], ...]:
        return opening_cards(self.routine, self.craft)

    @cached_property
    def _shot_frames(self) -> list[int]:
        return [s.first_frame for s in self.shots]

    @cached_property
    def _over(self) -> dict[int, Passage]:
        """The upper layer of a peak, by the bar it starts with."""
        return {p.start_bar: p for p in self.routine.passages if p.layer is Layer.OVER}

    def layers(self, index: int) -> tuple[Passage, ...]:
        """Return the passage of the line at `index`, and what shares its bars on top of it."""
        passage = self.line[index]
        over = self._over.get(passage.start_bar)
        return (passage, over) if over else (passage,)

    @cached_property
    def landing_frames(self) -> dict[str, tuple[int, ...]]:
        """The frames in which strokes of each passage land, by the passage's id."""
        clock = self.routine.clock
        return {
            p.id: tuple(nearest_frame(clock.seconds_at(b)) for b in self.routine.landings(p))
            for p in self.routine.passages
        }

    def still(self, shot: Shot) -> Still:
        """Return the still of a shot."""
        return self._still(shot, self._column(shot), has_page=shot.has_page)

    def wordless_still(self, shot: Shot, following: Shot) -> Still:
        """Return the still of a shot without words; the page stays where the next shot has it."""
        stays = shot.has_page and following.has_page and shot.stanza == following.stanza
        return self._still(shot, "", has_page=stays)

    def _still(self, shot: Shot, column: str, *, has_page: bool) -> Still:
        passage = self.line[shot.passage]
        technique = self.craft.technique(passage.technique) if passage.technique else None
        is_home = passage.role is Role.REFRAIN
        figure = figure_svg(technique, passage, TINT if is_home else PAPER)
        inlays = [Inlay(svg=figure, box=FIGURE)]
        if passage.technique is not None:
            inlays.append(inlay_of(rings(self.layers(shot.passage)), RINGS))
        if column:
            inlays.append(inlay_of(column, WORDS if shot.has_page else ALL_WORDS))
        if has_page:
            inlays.append(Inlay(svg=self.page.svg(shot.stanza), box=MAP))
        return Still(grounds=grounds(is_home=is_home), laid_over=tuple(inlays))

    def _column(self, shot: Shot) -> str:
        layers = self.layers(shot.passage)
        if shot.is_closing:
            return closing_column(self.routine.title)
        if shot.card is None:
            tops = [passage_names(self.routine, p, self.craft)[0] for p in layers[1:]]
            return passage_column(self.routine, shot.passage, self.craft, "".join(tops))
        name = passage_names(self.routine, self.line[shot.passage], self.craft)[0]
        title, above = card_heads(self.routine, shot.card)
        return card_column(title, above, self._cards[shot.card], f"meanwhile: {name}")

    def _is_in_view(self, passage: Passage) -> bool:
        if passage.layer is not Layer.OVER:
            return True
        under = next((p for p in self.line if p.start_bar == passage.start_bar), passage)
        return are_seen_together(self.craft, under, passage)

    def shot_at(self, frame: int) -> int:
        """Return the index of the shot that `frame` is in."""
        return bisect_right(self._shot_frames, frame) - 1

    def phase(self, passage: Passage, frame: int) -> float:
        """Return how far the stroke under way has come, 0 to 1, at the instant of `frame`.

        Before the passage it is 0: the hands wait where their first stroke starts.
        """
        beat = self.routine.clock.beat_at(frame / FRAMES_PER_SECOND)
        strokes = (beat - self.routine.start_beat(passage)) / float(passage.beats_per_stroke)
        return max(strokes, 0.0) % 1.0

    def hands(self, passage: Passage, frames: range) -> HandsInFrames | None:
        """Return the hands of `passage` in every one of `frames`.

        None where bars are open, and for strokes on top that another view of the body would show.
        """
        if passage.technique is None or not self._is_in_view(passage):
            return None
        technique = self.craft.technique(passage.technique)
        phases = np.array([self.phase(passage, frame) for frame in frames])
        return hands_in_frames(technique, passage, phases, look_of(passage))

    def seconds_left(self, index: int, frame: int) -> float:
        """Return the seconds from `frame` to the end of the passage of the line at `index`."""
        return self.routine.end_seconds(self.line[index]) - frame / FRAMES_PER_SECOND
