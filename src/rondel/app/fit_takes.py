"""Fit the takes of a teacher to a routine: shots for every passage that any of them shows."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from statistics import median

from rondel.app.progress import Progress
from rondel.drawing.frames.layout import FRAMES_PER_SECOND
from rondel.drawing.shot_list import seconds_to_film
from rondel.fitting.choosing import Limits
from rondel.fitting.named import NamedTake
from rondel.fitting.passages import NOT_NAMED, fit_passage
from rondel.model.names import names_shown, passage_name
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.shots import FittedPassage, Shot, is_made_up
from rondel.model.time import as_minutes
from rondel.planner.naming import listed


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """A routine with the shots of its passages, in order. `rates`: pictures a second, by take."""

    passages: tuple[FittedPassage, ...]
    rates: Mapping[str, float] = field(default_factory=dict)

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
    return Fitted(passages=tuple(found), rates={take.name: take.seen.fps for take in takes})


def film_report(passages: Sequence[FittedPassage], seen: Collection[str]) -> dict[str, object]:
    """Return what made.json says of the film in a session: nothing where no take is fitted.

    `seen`: the ids of those passages in which film is seen. Others stay drawn though takes show
    them: where cards or last words stand all the while.
    """
    having = [one for one in passages if one.shots]
    if not having:
        return {}
    shown = [one for one in having if one.passage in seen]
    fitted = Fitted(passages=tuple(shown))
    told: dict[str, object] = {"filmed_passages": len(shown)}
    if fitted.off_ms is not None:
        told["off_beat_ms"] = [round(ms, 2) for ms in fitted.off_ms]
    says = f"{len(shown)} of {len(passages)} passages are film"
    if len(having) > len(shown):
        more = len(having) - len(shown)
        says = (
            f"{len(shown)} of {len(passages)} passages are film; {more} more have takes, and stay "
            "drawn for the words to be read there"
        )
    return {**told, "says": says}


def fitted_sentences(fitted: Fitted, routine: Routine, craft: Craft) -> tuple[str, ...]:
    """Return a sentence a passage, and what to film for those that no take shows.

    Passages of one name that no take shows for one reason share a sentence.
    """
    by_id = {passage.id: passage for passage in routine.line}
    found: list[str] = []
    alike: dict[tuple[str, str, float], list[Passage]] = {}
    places: dict[int, tuple[str, str, float]] = {}
    for one in fitted.passages:
        passage = by_id[one.passage]
        if passage.is_open:
            continue
        at = as_minutes(routine.start_seconds(passage))
        name = passage_name(passage, craft, names_shown(routine))
        if one.shots:
            found.append(f"{at} {name}: {_shown(one, fitted.rates)}")
            found += [f"{at} {name}: {note}." for note in one.notes]
            continue
        key = (name, one.why_not, _stroke_seconds(passage, routine, craft))
        if key not in alike:
            places[len(found)] = key
            found.append("")
        alike.setdefault(key, []).append(passage)
    for place, key in places.items():
        found[place] = _not_shown(key, alike[key], routine)
    return tuple(found)


def _not_shown(key: tuple[str, str, float], passages: Sequence[Passage], routine: Routine) -> str:
    name, why_not, stroke = key
    starts = listed([as_minutes(routine.start_seconds(p)) for p in passages])
    length = as_minutes(seconds_to_film(max(routine.seconds_of(p) for p in passages), stroke))
    pace = f"a stroke every {stroke:.1f} seconds" if stroke else "held still"
    return f"{starts} {name}: {why_not}. Film {length} of it, {pace}."


def unused_sentences(
    fitted: Fitted, takes: Sequence[NamedTake], routine: Routine, craft: Craft
) -> tuple[str, ...]:
    """Return what a teacher should know of takes that are not shown, or not as she may expect.

    Passages that no take is named for are passed over: `rondel shots` lists those.
    """
    found = []
    for one, passage in zip(fitted.passages, routine.line, strict=True):
        at, name = as_minutes(routine.start_seconds(passage)), None
        if one.notes or one.why_not not in ("", NOT_NAMED):
            name = passage_name(passage, craft, names_shown(routine))
        if one.why_not not in ("", NOT_NAMED):
            found.append(f"{at} {name} is drawn, though a take is named for it: {one.why_not}.")
        found += [f"{at} {name}: {note}." for note in one.notes]
    return (*found, *stranger_sentences(takes, routine))


def stranger_sentences(takes: Sequence[NamedTake], routine: Routine) -> tuple[str, ...]:
    """Return a sentence for each take of nothing that is in `routine`."""
    done = {passage.technique for passage in routine.line}
    found = []
    for take in takes:
        shows = {take.technique, *(one.technique for one in take.seen.stretches)} - {None}
        if not shows & done:
            names = " and ".join(sorted(str(one) for one in shows))
            found.append(f"The take {take.name} is not shown: this routine has no {names}.")
    return tuple(found)


def _shown(one: FittedPassage, rates: Mapping[str, float]) -> str:
    """Return how a passage is shown: with what, how fast, and how near the beat."""
    takes = " and ".join(dict.fromkeys(shot.take for shot in one.shots))
    shots = "one shot" if len(one.shots) == 1 else f"{len(one.shots)} shots"
    slowest, fastest = one.speeds or (1.0, 1.0)
    says = f"{shots} of {takes}, played at {slowest:.2f} to {fastest:.2f} of its speed"
    off = [1000 * abs(t) for t in one.off]
    if off:
        says += f"; strokes land {near_beat_says(median(off), max(off))}"
    made_up = made_up_share(one.shots, rates)
    if made_up >= 0.005:
        says += f"; and {made_up:.0%} of its pictures are made up between those that were filmed"
    return f"{says}."


def near_beat_says(middle: float, worst: float) -> str:
    """Return how near the beat strokes land, in ms: in the middle, and at worst."""
    if round(worst) == 0:
        return "on the beat"
    if round(middle) == 0:
        return f"on the beat, {worst:.0f} ms from it at worst"
    return f"{middle:.0f} ms from the beat, {worst:.0f} ms at worst"


def made_up_share(shots: Sequence[Shot], rates: Mapping[str, float]) -> float:
    """Return which share of the frames of `shots` lies between pictures of the takes, which come
    `rates` a second (0: not told), and gets a picture of its own."""
    frames = made_up = 0
    for shot in shots:
        rate = rates.get(shot.take, 0.0)
        first, last = (round(t * FRAMES_PER_SECOND) for t in (shot.map.at[0], shot.map.at[-1]))
        for frame in range(first, last):
            second, speed = shot.map.beyond(frame / FRAMES_PER_SECOND)
            frames += 1
            made_up += rate > 0 and is_made_up((second * rate) % 1.0, speed)
    return made_up / frames if frames else 0.0


def _stroke_seconds(passage: Passage, routine: Routine, craft: Craft) -> float:
    """Return how long a stroke of a passage takes that is to be filmed, to a tenth; 0 for a
    hold."""
    if passage.technique is not None and craft.technique(passage.technique).family.is_held:
        return 0.0
    beat = routine.seconds_of(passage) / (passage.bars * routine.beats_per_bar)
    return round(float(passage.beats_per_stroke) * beat, 1)
