"""From the search's blocks to the routine: passages in bars with ids, landings and reasons."""

from __future__ import annotations

from fractions import Fraction

from rondel.model.routine import Music, Passage, Proof, Routine
from rondel.model.time import Tempo
from rondel.model.track import Laid
from rondel.model.words import Position
from rondel.planner.blocks import Block, Part
from rondel.planner.constraints import strokes
from rondel.planner.frame import Frame
from rondel.planner.material import Material

#: A drifting tempo is written every so many bars, where it has changed by such a share.
_TEMPO_BARS = 4
_TEMPO_CHANGE = Fraction(1, 200)

Placed = tuple[tuple[int, Block, Position], ...]


def routine_of(material: Material, frame: Frame, placed: Placed) -> Routine:
    """Return the routine of the placed blocks, without reasons as yet."""
    passages: list[Passage] = []
    for start, block, position in placed:
        at = start
        for part in block.parts:
            number = len(passages)
            kept = block.keep >= 0 and part.technique == block.technique
            passages.append(_passage(material, part, number, at, position, kept))
            at += part.bars
    return Routine(
        title=material.brief.title,
        seed=material.brief.seed,
        beats_per_bar=frame.beats_per_bar,
        tempo=tempo_of(frame.laid) if frame.laid else (Tempo(bar=0, bpm=frame.bpm),),
        bars=frame.bars,
        passages=tuple(passages),
        proof=Proof(),
        music=_music(frame),
        brief=material.brief,
    )


def _music(frame: Frame) -> Music:
    if frame.laid is None:
        return Music()
    return Music(
        kind="track",
        path=frame.brief.track,
        beat_seconds=frame.laid.beat_seconds,
        course=frame.laid.course,
        heard_from=frame.laid.heard_from,
    )


def tempo_of(laid: Laid) -> tuple[Tempo, ...]:
    """Return a tempo map that follows the beats closely enough to read: the mean tempo, written
    anew every few bars where it has changed by a two-hundredth or more."""
    found: list[Tempo] = []
    for bar in range(0, laid.bars, _TEMPO_BARS):
        past = min(bar + _TEMPO_BARS, laid.bars)
        seconds = laid.bar_starts[past] - laid.bar_starts[bar]
        bpm = round(Fraction(60 * (past - bar) * laid.beats_per_bar / seconds), 2)
        if not found or abs(bpm / found[-1].bpm - 1) >= _TEMPO_CHANGE:
            found.append(Tempo(bar=bar, bpm=bpm))
    return tuple(found)


def _passage(
    material: Material,
    part: Part,
    number: int,
    start: int,
    position: Position,
    kept: bool,
) -> Passage:
    technique = material.techniques[part.technique] if part.technique >= 0 else None
    return Passage(
        id=f"p{number + 1:02d}",
        technique=technique.id if technique else None,
        role=part.role,
        side=part.side,
        position=position,
        start_bar=start,
        bars=part.bars,
        pressure=part.pressure,
        beats_per_stroke=part.beats_per_stroke,
        first_landing_beat=strokes.first_landing(technique, part.beats_per_stroke)
        if technique
        else part.beats_per_stroke * 0,
        kept=kept,
        stretch=part.stretch,
    )
