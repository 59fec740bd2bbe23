"""A recording of words made ready: silence cut from its ends, its level the common one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Mono = NDArray[np.float32]

FRAME_SECONDS = 0.01
#: Frames this far below the loudest are silence at the ends, and do not count as speech.
SILENCE_DECIBELS = -42.0
SPEECH_DECIBELS = -25.0
#: Where the room itself is louder than that, what stands so far above it is heard; the room is the
#: level that a tenth of the recording stays below. Speech must stand well clear of the room.
ABOVE_ROOM_DECIBELS, CLEAR_OF_ROOM_DECIBELS = 8.0, 20.0
ROOM_SHARE = 0.1
#: A knock so short and so far from all words is no word: a key or a chair (common practice, no
#: source; the shortest syllables last about a tenth of a second).
KNOCK_SECONDS, KNOCK_APART_SECONDS = 0.05, 0.3
#: Kept before and after the words, and faded: of a clean voice, and of a recording in a room, whose
#: tone would otherwise begin and end with a step.
MARGIN_SECONDS, FADE_SECONDS = 0.03, 0.01
ROOM_SECONDS, ROOM_FADE_SECONDS = 0.15, 0.1
#: The level of every cue over its speech alone, and the highest sample allowed.
LEVEL = 0.1  # RMS: -20 dB below full scale
PEAK = 0.89


def trimmed(
    samples: Mono, rate: int, *, margin: float = MARGIN_SECONDS, fade: float = FADE_SECONDS
) -> Mono:
    """Return `samples` without silence at the ends, and with soft edges; empty if all is silent.

    `margin` seconds stay before and after the words, as far as they were recorded, and `fade` of
    them come and go softly.
    """
    span = words_span(samples, rate)
    if span is None:
        return np.zeros(0, np.float32)
    first = max(span[0] - int(margin * rate), 0)
    last = min(span[1] + int(margin * rate), len(samples))
    kept = np.array(samples[first:last], dtype=np.float32)
    frames = min(int(fade * rate), len(kept) // 2)
    if frames:
        ramp = (0.5 - 0.5 * np.cos(np.pi * np.arange(frames) / frames)).astype(np.float32)
        kept[:frames] *= ramp
        kept[-frames:] *= ramp[::-1]
    return kept


def with_room(samples: Mono, rate: int) -> Mono:
    """Return a recording trimmed as one made in a room: a little of the room stays around it."""
    return trimmed(samples, rate, margin=ROOM_SECONDS, fade=ROOM_FADE_SECONDS)


def words_span(samples: Mono, rate: int) -> tuple[int, int] | None:
    """Return (first, past) sample of what is heard; None for silence. A lone knock is not heard."""
    levels = _frame_levels(samples, rate)
    if not len(levels) or levels.max() <= 0:
        return None
    runs = _runs(levels > _threshold(levels))
    while len(runs) > 1 and _is_knock(runs[0], runs[1]):
        runs = runs[1:]
    while len(runs) > 1 and _is_knock(runs[-1], runs[-2]):
        runs = runs[:-1]
    frame = _frame(rate)
    return runs[0][0] * frame, min(runs[-1][1] * frame, len(samples))


def _threshold(levels: NDArray[np.float64]) -> float:
    loudest = float(levels.max())
    plain = loudest * _ratio(SILENCE_DECIBELS)
    over_room = float(np.quantile(levels, ROOM_SHARE)) * _ratio(ABOVE_ROOM_DECIBELS)
    is_clear = over_room < loudest * _ratio(-CLEAR_OF_ROOM_DECIBELS)
    return max(plain, over_room) if is_clear else plain


def _runs(heard: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return (first, past) of every run of frames that is heard."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], heard, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _is_knock(run: tuple[int, int], next_to: tuple[int, int]) -> bool:
    apart = max(next_to[0] - run[1], run[0] - next_to[1]) * FRAME_SECONDS
    return (run[1] - run[0]) * FRAME_SECONDS <= KNOCK_SECONDS and apart >= KNOCK_APART_SECONDS


def speech_level(samples: Mono, rate: int) -> float:
    """Return the RMS over the frames that hold speech; 0 for silence."""
    levels = _frame_levels(samples, rate)
    if not len(levels) or levels.max() <= 0:
        return 0.0
    speech = levels[levels > levels.max() * _ratio(SPEECH_DECIBELS)]
    return float(np.sqrt(np.mean(np.square(speech))))


def levelled(samples: Mono, rate: int) -> Mono:
    """Return `samples` at the common level, no sample above the highest allowed."""
    level = speech_level(samples, rate)
    if level == 0.0:
        return samples
    gain = min(LEVEL / level, PEAK / float(np.abs(samples).max()))
    return (samples * np.float32(gain)).astype(np.float32)


def cut_after(samples: Mono, rate: int, seconds: float) -> Mono:
    """Return the first `seconds` of a recording, its last room faded again."""
    kept = np.array(samples[: max(0, int(seconds * rate))], dtype=np.float32)
    frames = min(int(FADE_SECONDS * rate), len(kept))
    if frames:
        kept[len(kept) - frames :] *= np.linspace(1, 0, frames, dtype=np.float32)
    return kept


def _frame(rate: int) -> int:
    return max(1, int(FRAME_SECONDS * rate))


def _frame_levels(samples: Mono, rate: int) -> NDArray[np.float64]:
    """Return the RMS of each frame of ten milliseconds, the last one possibly shorter."""
    frame = _frame(rate)
    count = -(-len(samples) // frame)
    padded = np.zeros(count * frame)
    padded[: len(samples)] = samples
    levels: NDArray[np.float64] = np.sqrt(np.mean(padded.reshape(count, frame) ** 2, axis=1))
    return levels


def _ratio(decibels: float) -> float:
    return float(10 ** (decibels / 20))
