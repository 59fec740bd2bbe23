"""What to film for a routine: each technique once a side, how long, and how slow."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rondel.drawing.page_cards import Still
from rondel.model.names import ON_SIDE_SAYS, lying_says, names_shown, technique_names
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.time import as_minutes
from rondel.model.words import PRESSURE_SAYS

#: Film is asked for in whole steps of so many seconds, with a few strokes to spare before and
#: after: hands settle in, and a cutter needs room (common practice, no source).
_STEP_SECONDS = 5
_SPARE_STROKES = 4
_SPARE_AT_LEAST = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ShotToFilm:
    """One thing to film. `seconds`: how long at least; `stroke_seconds`: from one stroke to the
    next, None for a hold; `starts`: when it is shown."""

    technique: str
    name: str
    anatomical: str
    where: str
    how: str
    seconds: int
    stroke_seconds: float | None
    starts: tuple[float, ...]
    picture: str

    @property
    def pace(self) -> str:
        """Return how quick strokes are, in words."""
        if self.stroke_seconds is None:
            return "held still"
        return f"a stroke every {self.stroke_seconds:.2g} seconds"

    @property
    def a_minute(self) -> str:
        """Return how many strokes there are in a minute, in words; nothing for a hold."""
        return "" if self.stroke_seconds is None else f"{60 / self.stroke_seconds:.2g} a minute"


def seconds_to_film(shown: float, stroke_seconds: float) -> int:
    """Return how long to film what is shown for so many seconds; a hold's stroke takes 0."""
    spare = max(_SPARE_AT_LEAST, _SPARE_STROKES * stroke_seconds)
    return _STEP_SECONDS * math.ceil((shown + spare) / _STEP_SECONDS)


def shots_to_film(routine: Routine, craft: Craft, still: Still) -> tuple[ShotToFilm, ...]:
    """Return what to film, in the order in which it is first shown."""
    rows: dict[tuple[str, str, str, float], list[Passage]] = {}
    for passage in routine.line:
        if passage.technique is not None and craft.has_technique(passage.technique):
            key = (
                passage.technique,
                passage.side.value,
                passage.position.value,
                float(passage.beats_per_stroke),
            )
            rows.setdefault(key, []).append(passage)
    return tuple(_shot(routine, craft, row, still) for row in rows.values())


def _shot(routine: Routine, craft: Craft, row: list[Passage], still: Still) -> ShotToFilm:
    first = row[0]
    technique = craft.technique(first.technique or "")
    longest = max(routine.seconds_of(passage) for passage in row)
    beat = routine.seconds_of(first) / (first.bars * routine.beats_per_bar)
    step = float(first.beats_per_stroke) * beat
    is_held = technique.family.is_held
    name, beside = technique_names(technique, names_shown(routine))
    return ShotToFilm(
        technique=technique.id,
        name=name,
        anatomical=beside,
        where=f"{ON_SIDE_SAYS[first.side]}, {lying_says(first.position)}, "
        f"{PRESSURE_SAYS[max(passage.pressure for passage in row)]}",
        how=technique.how,
        seconds=seconds_to_film(longest, 0.0 if is_held else step),
        stroke_seconds=None if is_held else step,
        starts=tuple(routine.start_seconds(passage) for passage in row),
        picture=still(technique, first.side, first.position),
    )


def shot_sentences(shots: tuple[ShotToFilm, ...]) -> tuple[str, ...]:
    """Return a sentence for each thing to film, and one for all of it."""
    told = [
        f"{shot.name}, {shot.where}: film {as_minutes(shot.seconds)}, {shot.pace}. It is shown at "
        f"{_listed([as_minutes(start) for start in shot.starts])}."
        for shot in shots
    ]
    whole = as_minutes(sum(shot.seconds for shot in shots))
    return (*told, f"Together {whole} of film for each place where a camera stands.")


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
