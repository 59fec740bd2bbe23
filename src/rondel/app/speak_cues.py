"""Speak every cue of a routine, with the teacher's own recordings where she made them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rondel.app.ports.voice import Recordings, Speaker, Speech, SpokenCue
from rondel.app.progress import Progress
from rondel.model.routine import Cue, Routine

FRAME_SECONDS = 0.01
#: Frames this far below the loudest are silence at the ends, and do not count as speech.
SILENCE_DECIBELS = -42.0
SPEECH_DECIBELS = -25.0
MARGIN_SECONDS = 0.03  # kept before and after the words
FADE_SECONDS = 0.01
#: The level of every cue over its speech alone, and the highest sample allowed.
LEVEL = 0.1  # RMS: -20 dB below full scale
PEAK = 0.89
#: Apart from each other, even where a recording is too long for its place.
SECONDS_APART = 1.0
SECONDS_APART_AT_LEAST = 0.3
FORGIVEN_SECONDS = 0.05
QUOTED_CHARACTERS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """Where a cue may sound: words should begin at `wanted` and be over at `until`."""

    earliest: float
    wanted: float
    until: float


def speak_cues(
    routine: Routine, own_voice: Recordings | None, speaker: Speaker, progress: Progress
) -> Speech:
    """Return all cues of `routine` as sound, in order, apart from each other, equally loud.

    A cue that the teacher recorded herself is taken from `own_voice`. Words that last longer than
    their place begin earlier where there is room; `Speech.notes` says in sentences where they
    still run past it. Raises BadInput for a recording that cannot be read.
    """
    progress.begin("Speaking the cues", len(routine.cues))
    spoken: list[SpokenCue] = []
    notes: list[str] = []
    free_from = 0.0
    for i, cue in enumerate(routine.cues):
        recorded = own_voice.load(cue.id) if own_voice else None
        samples, rate = recorded if recorded is not None else speaker.speak(cue.say)
        samples = levelled(trimmed(samples, rate), rate)
        seconds = len(samples) / rate
        after = routine.cues[i + 1] if i + 1 < len(routine.cues) else None
        place = _place_of(cue, after, routine)
        start = _start(place, seconds, free_from)
        notes.extend(_notes(cue, place, start, seconds, is_own=recorded is not None))
        if len(samples):
            spoken.append(
                SpokenCue(
                    cue_id=cue.id,
                    text=cue.say,
                    start_seconds=start,
                    samples=samples,
                    sample_rate=rate,
                )
            )
            free_from = start + seconds
        progress.advance(1)
    progress.end()
    return Speech(spoken=tuple(spoken), notes=tuple(notes))


def _place_of(cue: Cue, after: Cue | None, routine: Routine) -> _Place:
    """From its beat to the end of the passage it begins in, or shortly before the next cue."""
    passage = routine.passage_at(float(cue.at_beat))
    until = routine.end_seconds(passage)
    if after is not None:
        until = min(until, routine.clock.seconds_at(after.at_beat) - SECONDS_APART_AT_LEAST)
    return _Place(
        earliest=routine.start_seconds(passage),
        wanted=routine.clock.seconds_at(cue.at_beat),
        until=until,
    )


def _start(place: _Place, seconds: float, free_from: float) -> float:
    """Begin as wanted; earlier where the words are too long, and never over the cue before."""
    start = place.wanted
    if start + seconds > place.until + FORGIVEN_SECONDS:
        early = max(place.until - seconds, place.earliest, free_from + SECONDS_APART)
        start = min(start, early)
    after_last = free_from + SECONDS_APART_AT_LEAST if free_from else 0.0
    return max(start, after_last, 0.0)


def _notes(cue: Cue, place: _Place, start: float, seconds: float, *, is_own: bool) -> Iterator[str]:
    """Say in a sentence where a cue comes late, or runs past its place."""
    words = " ".join(cue.say.split())
    quoted = words if len(words) <= QUOTED_CHARACTERS else f"{words[:QUOTED_CHARACTERS]}…"
    what = f"Your recording of cue {cue.id}" if is_own else f"Cue {cue.id}"
    over = start + seconds - place.until
    late = start - place.wanted
    if late > FORGIVEN_SECONDS:
        yield (
            f"{what} (“{quoted}”) begins {late:.1f} seconds late, because the cue before it is "
            "too long."
        )
    elif over > FORGIVEN_SECONDS:
        advice = "speak it faster or say less" if is_own else "shorten it or let it begin earlier"
        yield (
            f"{what} (“{quoted}”) lasts {seconds:.1f} seconds, {over:.1f} more than there is "
            f"room for: {advice}."
        )


def trimmed(samples: NDArray[np.float32], rate: int) -> NDArray[np.float32]:
    """Return `samples` without silence at the ends, and with soft edges; empty if all is silent."""
    loudness = _frame_levels(samples, rate)
    if not len(loudness) or loudness.max() <= 0:
        return np.zeros(0, np.float32)
    heard = np.flatnonzero(loudness > loudness.max() * _ratio(SILENCE_DECIBELS))
    frame = _frame(rate)
    margin = int(MARGIN_SECONDS * rate)
    first = max(int(heard[0]) * frame - margin, 0)
    last = min((int(heard[-1]) + 1) * frame + margin, len(samples))
    kept = np.array(samples[first:last], dtype=np.float32)
    fade = min(int(FADE_SECONDS * rate), len(kept) // 2)
    if fade:
        ramp = (0.5 - 0.5 * np.cos(np.pi * np.arange(fade) / fade)).astype(np.float32)
        kept[:fade] *= ramp
        kept[-fade:] *= ramp[::-1]
    return kept


def speech_level(samples: NDArray[np.float32], rate: int) -> float:
    """Return the RMS over the frames that hold speech; 0 for silence."""
    loudness = _frame_levels(samples, rate)
    if not len(loudness) or loudness.max() <= 0:
        return 0.0
    speech = loudness[loudness > loudness.max() * _ratio(SPEECH_DECIBELS)]
    return float(np.sqrt(np.mean(np.square(speech))))


def levelled(samples: NDArray[np.float32], rate: int) -> NDArray[np.float32]:
    """Return `samples` at the common level, no sample above the highest allowed."""
    level = speech_level(samples, rate)
    if level == 0.0:
        return samples
    gain = min(LEVEL / level, PEAK / float(np.abs(samples).max()))
    return (samples * np.float32(gain)).astype(np.float32)


def _frame(rate: int) -> int:
    return max(1, int(FRAME_SECONDS * rate))


def _frame_levels(samples: NDArray[np.float32], rate: int) -> NDArray[np.float64]:
    """Return the RMS of each frame of ten milliseconds, the last one possibly shorter."""
    frame = _frame(rate)
    count = -(-len(samples) // frame)
    padded = np.zeros(count * frame)
    padded[: len(samples)] = samples
    levels: NDArray[np.float64] = np.sqrt(np.mean(padded.reshape(count, frame) ** 2, axis=1))
    return levels


def _ratio(decibels: float) -> float:
    return float(10 ** (decibels / 20))
