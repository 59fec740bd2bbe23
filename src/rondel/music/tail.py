"""A tail for a brought track: a quiet hold in its key that goes on where the track has gone."""

from __future__ import annotations

from fractions import Fraction

from rondel.model.routine import Routine
from rondel.model.spans import audible_beats, times_scale
from rondel.music.key_finding import FoundKey
from rondel.music.score import LayerName, Marker, Note, Score, ScoreLayer
from rondel.music.setting import SILENT_SECONDS

#: The tail stands when the track has gone: its tones come up under the track's last seconds.
COMES_SECONDS = 4.0
#: The slowest release of the tones used, in seconds: see instruments/sustained.py.
RELEASE_SECONDS = 4.0
#: So long a chord stays before the other one (common practice, no source).
CHORD_SECONDS = 12.0

DRONE_VELOCITY, PAD_VELOCITY = 62, 56
#: The voices of the key's first and fourth chord, as (degree from 0, octave): from one to the other
#: each stays or moves by a step. Without thirds they suit major and minor alike.
CHORDS = {0: ((0, 1), (4, 1), (2, 2)), 3: ((7, 0), (5, 1), (3, 2))}
OPEN_CHORDS = {0: ((0, 1), (4, 1)), 3: ((7, 0), (3, 1))}

#: A tick that marks a beat is soft, a little fuller on the first of a bar.
TICK_VELOCITY, FIRST_TICK_VELOCITY = 44, 60


def write_tail(
    routine: Routine,
    key: FoundKey | None,
    markers: tuple[Marker, ...],
    *,
    has_beat_marks: bool = False,
) -> Score:
    """Return what is composed beside a track: its tail, where it has one and `key` is known.

    The tones are gone before the session's last seconds, which are silent. With `has_beat_marks`
    a soft tick marks every beat that can be heard.
    """
    layers = [*_tail_layers(routine, key)] if key is not None else []
    if has_beat_marks:
        layers.append(ScoreLayer(name=LayerName.PULSE, notes=_ticks(routine, key)))
    beats = audible_beats(routine)
    return Score(
        title=routine.title,
        key=key.key.name if key else "",
        clock=routine.clock,
        layers=tuple(layer for layer in layers if layer.notes),
        markers=markers,
        heard=(beats[0], beats[-1] + 1) if beats else (0, 0),
    )


def silent_end(routine: Routine) -> tuple[float, float]:
    """Return the seconds from which all that is composed has gone, and of the end."""
    end = float(routine.clock.total_seconds)
    return max(0.0, end - SILENT_SECONDS * times_scale(routine)), end


def tail_span(routine: Routine) -> tuple[float, float] | None:
    """Return the seconds from which the tail's tones come, and at which they are let go.

    None where there is no tail, or no time for one.
    """
    course = routine.music.course
    if course is None or course.tail_from is None:
        return None
    end, _ = silent_end(routine)
    starts = max(0.0, course.tail_from - COMES_SECONDS)
    release = min(RELEASE_SECONDS, (end - starts) / 2)
    return (starts, end - release) if end - release > starts + 1.0 else None


def _tail_layers(routine: Routine, key: FoundKey) -> tuple[ScoreLayer, ...]:
    span = tail_span(routine)
    if span is None:
        return ()
    start, let_go = span
    root = key.key.root
    drone = [
        _tone(routine, start, let_go, root, DRONE_VELOCITY),
        _tone(routine, start, let_go, root + 7, DRONE_VELOCITY - 16),
    ]
    return (
        ScoreLayer(name=LayerName.DRONE, notes=tuple(drone)),
        ScoreLayer(name=LayerName.PAD, notes=_pad(routine, key, start, let_go)),
    )


def _pad(routine: Routine, key: FoundKey, start: float, let_go: float) -> tuple[Note, ...]:
    """Rock between the key's first and fourth chord, and end on the first, one voice fewer."""
    count = max(1, round((let_go - start) / CHORD_SECONDS))
    count += 1 - count % 2  # so that the last chord is the first one
    each = (let_go - start) / count
    notes: list[Note] = []
    for place in range(count):
        degree = 3 if place % 2 else 0
        voices = _voices(key, degree)
        if place == count - 1 and count > 1:
            voices = voices[:-1]
        at = start + place * each
        for voice, pitch in enumerate(voices):
            notes.append(_tone(routine, at, at + each, pitch, PAD_VELOCITY - 4 * voice))
    return tuple(sorted(_held_on(notes), key=lambda n: (n.start, n.pitch)))


def _voices(key: FoundKey, degree: int) -> tuple[int, ...]:
    """Return the voices of a chord, lowest first; thirds only where they are sure."""
    chords = CHORDS if key.has_third else OPEN_CHORDS
    return tuple(key.key.pitch(step, octave) for step, octave in chords[degree])


def _held_on(notes: list[Note]) -> list[Note]:
    """Return the notes with a pitch that is taken up again where it ends held on instead."""
    found: dict[int, Note] = {}
    done: list[Note] = []
    for note in sorted(notes, key=lambda n: n.start):
        before = found.get(note.pitch)
        if before is not None and before.end >= note.start:
            found[note.pitch] = Note(
                start=before.start,
                beats=note.end - before.start,
                pitch=note.pitch,
                velocity=before.velocity,
            )
            continue
        if before is not None:
            done.append(before)
        found[note.pitch] = note
    return [*done, *found.values()]


def _tone(routine: Routine, start: float, end: float, pitch: int, velocity: int) -> Note:
    first, last = (Fraction(routine.clock.beat_at(s)).limit_denominator(960) for s in (start, end))
    first = max(first, Fraction(0))
    return Note(start=first, beats=last - first, pitch=pitch, velocity=velocity)


def _ticks(routine: Routine, key: FoundKey | None) -> tuple[Note, ...]:
    pitch = 48 + key.key.root % 12 if key else 60
    return tuple(
        Note(
            start=Fraction(beat),
            beats=Fraction(1, 2),
            pitch=pitch,
            velocity=TICK_VELOCITY if beat % routine.beats_per_bar else FIRST_TICK_VELOCITY,
        )
        for beat in audible_beats(routine)
    )
