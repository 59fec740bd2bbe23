"""From the search's blocks to the routine: passages in bars with ids, landings and reasons."""

from __future__ import annotations

from rondel.model.routine import Passage, Proof, Routine
from rondel.model.time import Tempo
from rondel.model.words import Position
from rondel.planner.blocks import Block, Part
from rondel.planner.constraints import length, strokes
from rondel.planner.frame import Frame
from rondel.planner.material import Material

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
        beats_per_bar=length.BEATS_PER_BAR,
        tempo=(Tempo(bar=0, bpm=frame.bpm),),
        bars=frame.bars,
        passages=tuple(passages),
        proof=Proof(),
        brief=material.brief,
    )


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
