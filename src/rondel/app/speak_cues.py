"""Speak every cue of a routine, with the teacher's own recordings where she made them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rondel.app.ports.voice import Recordings, Speaker, Speech, SpokenCue
from rondel.app.progress import Progress
from rondel.cues.pace import estimate_seconds
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
#: A recording shorter than this, or with no louder sample, holds no words (common practice, no
#: source: the shortest cue takes four times as long, and -60 dB is the noise of a quiet room).
SHORTEST_SECONDS = 0.3
SOFTEST = 0.001
#: Of the time that the bundled voice may take at its calm pace: who speaks twice as fast still says
#: all the words, and who takes more than twice as long says others.
TOO_SHORT, TOO_LONG = 0.45, 2.2


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

    A cue that the teacher recorded herself is taken from `own_voice`, unless nothing is to be heard
    there; `Speech.notes` says which recording is used for which words, so that one made for other
    words is noticed. Words that last longer than
    their place begin earlier where there is room; `Speech.notes` says in sentences where they
    still run past it. Raises BadInput for a recording that cannot be read.
    """
    progress.begin("Speaking the cues", len(routine.cues))
    spoken: list[SpokenCue] = []
    notes: list[str] = []
    used: dict[str, Cue] = {}
    free_from = 0.0
    for i, cue in enumerate(routine.cues):
        own = _recorded(cue, own_voice, notes)
        samples, rate = own if own is not None else _ready(*speaker.speak(cue.say))
        seconds = len(samples) / rate
        if own is not None and own_voice is not None:
            used[own_voice.name_of(cue.id)] = cue
            notes.extend(_length_notes(own_voice.name_of(cue.id), cue, seconds))
        after = routine.cues[i + 1] if i + 1 < len(routine.cues) else None
        place = _place_of(cue, after, routine)
        start = _start(place, seconds, free_from)
        notes.extend(_notes(cue, place, start, seconds, is_own=own is not None))
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
    about_files = _file_notes(routine, own_voice, used) if own_voice else ()
    return Speech(spoken=tuple(spoken), notes=(*about_files, *notes))


# ------------------------------------------------------------------ her own recordings
def _recorded(
    cue: Cue, own_voice: Recordings | None, notes: list[str]
) -> tuple[NDArray[np.float32], int] | None:
    """Return her recording of `cue`, ready to be heard; None, and a note, where it is silent."""
    recorded = own_voice.load(cue.id) if own_voice else None
    if own_voice is None or recorded is None:
        return None
    samples, rate = recorded
    if np.abs(samples).max(initial=0.0) > SOFTEST:
        samples, rate = _ready(samples, rate)
        if len(samples) / rate >= SHORTEST_SECONDS:
            return samples, rate
    notes.append(
        f"Nothing is to be heard in your recording {own_voice.name_of(cue.id)}, so the bundled "
        f"voice says “{_quoted(cue)}”; record it again, or take the file away."
    )
    return None


def _ready(samples: NDArray[np.float32], rate: int) -> tuple[NDArray[np.float32], int]:
    return levelled(trimmed(samples, rate), rate), rate


def _length_notes(name: str, cue: Cue, seconds: float) -> Iterator[str]:
    """Say where a recording lasts so short or so long that it may hold other words."""
    needed = estimate_seconds(cue.say)
    if TOO_SHORT * needed <= seconds <= TOO_LONG * needed:
        return
    yield (
        f"Your recording {name} lasts {seconds:.1f} seconds, but “{_quoted(cue)}” takes about "
        f"{needed:.0f}: was it made for other words? Listen to it, and record it again if so."
    )


def _file_notes(routine: Routine, own_voice: Recordings, used: Mapping[str, Cue]) -> Iterator[str]:
    """Say which recordings stand for which words, and what lies beside them unused."""
    if len(used) == 1:
        yield from (f"Your recording {n} is used for: “{_quoted(c)}”" for n, c in used.items())
    elif used:
        each = "; ".join(f"{name} for “{_quoted(cue)}”" for name, cue in used.items())
        yield f"Your {len(used)} recordings are used: {each}."
    ids = [cue.id for cue in routine.cues]
    unused = own_voice.unused(ids)
    if unused:
        known = f" (here {ids[0]} to {ids[-1]})" if ids else ""
        yield (
            f"Not used in voice/: {', '.join(unused)}. A recording is called by the id of its "
            f"cue{known}, as c03.wav, once; the cues stand in routine.json."
        )


# ------------------------------------------------------------------ places
def _quoted(cue: Cue) -> str:
    words = " ".join(cue.say.split())
    return words if len(words) <= QUOTED_CHARACTERS else f"{words[:QUOTED_CHARACTERS].rstrip()}…"


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
    quoted = _quoted(cue)
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
