"""Fit the takes of a teacher to a routine: shots for every passage that any of them shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from rondel.app.progress import Progress
from rondel.fitting.choosing import Limits
from rondel.fitting.named import NamedTake
from rondel.fitting.passages import fit_passage
from rondel.model.names import names_shown, passage_name
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.shots import FittedPassage
from rondel.model.time import as_minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """A routine with the shots of its passages, in order."""

    passages: tuple[FittedPassage, ...]

    @property
    def off_ms(self) -> tuple[float, float] | None:
        """How far strokes are from their beats, in ms: in the middle, and at worst."""
        off = [1000 * abs(one) for passage in self.passages for one in passage.off]
        return (median(off), max(off)) if off else None


def fit_takes(
    routine: Routine,
    takes: Sequence[NamedTake],
    *,
    progress: Progress,
    limits: Limits | None = None,
) -> Fitted:
    """Return every passage of `routine` with what `takes` show of it.

    How near strokes come to the beat is told by the strokes that were seen, not by the film.
    """
    progress.begin("fitting takes to the beat", len(routine.line))
    found = []
    for passage in routine.line:
        found.append(fit_passage(routine, passage, takes, limits))
        progress.advance(1)
    progress.end()
    return Fitted(passages=tuple(found))


def fitted_sentences(fitted: Fitted, routine: Routine, craft: Craft) -> tuple[str, ...]:
    """Return a sentence a passage, and what to film for those that no take shows."""
    by_id = {passage.id: passage for passage in routine.line}
    found = []
    for one in fitted.passages:
        passage = by_id[one.passage]
        if passage.is_open:
            continue
        at = as_minutes(routine.start_seconds(passage))
        name = passage_name(passage, craft, names_shown(routine))
        if not one.shots:
            found.append(
                f"{at} {name}: {one.why_not}. {_to_film(one, routine.seconds_of(passage))}"
            )
            continue
        off = [1000 * abs(t) for t in one.off]
        slowest, fastest = one.speeds or (1.0, 1.0)
        takes = " and ".join(dict.fromkeys(shot.take for shot in one.shots))
        shots = "one shot" if len(one.shots) == 1 else f"{len(one.shots)} shots"
        found.append(
            f"{at} {name}: {shots} of {takes}, played at {slowest:.2f} to {fastest:.2f} of its "
            f"speed; strokes land {median(off):.0f} ms from the beat, {max(off):.0f} at worst."
        )
    return tuple(found)


def _to_film(one: FittedPassage, seconds: float) -> str:
    step = (one.beats[-1] - one.beats[0]) / (len(one.beats) - 1) if len(one.beats) > 1 else seconds
    return f"Film {as_minutes(seconds)} of it, a stroke every {step:.1f} seconds."
