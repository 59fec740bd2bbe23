"""Do picture, notes and sound of a finished session agree? Measured on the files, not on the plan.

    python benchmarks/agree.py SESSION_FOLDER

Reads session.mp4 (the landing mark frame by frame, and the decoded sound), score.mid (its tempo
map, through mido) and routine.json (which beats are landings). Prints three distances:

- video to notes: from each landing mark to the second of the nearest landing by the MIDI's clock;
- sound to notes: for every half minute of heard beats, the shift at which onsets in the decoded mix
  fit the MIDI's beats best;
- both against one frame at 25 frames a second (40 ms), the ratio that must stay below 1.

Landings closer together than a frame can tell (strokes of half a beat or less) are counted once.
"""

from __future__ import annotations

import argparse
import json
from bisect import bisect_left
from fractions import Fraction
from pathlib import Path

import av
import mido
import numpy as np
from numpy.typing import NDArray

from rondel.drawing.frames.layout import LANDING_CENTRE
from rondel.model.codec.routine import routine_from_dict
from rondel.model.routine import Routine
from rondel.model.spans import heard_beats

FRAME = 1 / 25
RATE = 48_000
HOP = 96  # 2 ms
SEARCH_SECONDS = 0.2
WINDOW_SECONDS = 30.0

Floats = NDArray[np.float64]


class MidiClock:
    """The seconds of beats by the tempo map of a Standard MIDI File."""

    def __init__(self, path: Path) -> None:
        file = mido.MidiFile(str(path))
        self._ticks_per_beat = file.ticks_per_beat
        self._map: list[tuple[int, float, int]] = []  # tick, second, microseconds a beat
        tick, second, tempo = 0, 0.0, 500_000
        for message in mido.merge_tracks(file.tracks):
            second += mido.tick2second(message.time, file.ticks_per_beat, tempo)
            tick += message.time
            if message.type == "set_tempo":
                tempo = message.tempo
                self._map.append((tick, second, tempo))

    def second_of(self, beat: Fraction | int) -> float:
        tick = float(beat * self._ticks_per_beat)
        i = max(bisect_left([t for t, _, _ in self._map], tick + 1e-6) - 1, 0)
        at, second, tempo = self._map[i]
        return float(second + (tick - at) * tempo / 1e6 / self._ticks_per_beat)


def marked_seconds(path: Path) -> list[float]:
    """Return the second of every frame in which the landing mark falls sharply dark."""
    x, y = LANDING_CENTRE
    seconds, luma = [], []
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        stream.thread_type = "AUTO"
        for frame in container.decode(stream):
            plane = frame.planes[0]
            rows = np.frombuffer(memoryview(plane), np.uint8).reshape(-1, plane.line_size)
            seconds.append(float(frame.time or 0.0))
            luma.append(float(rows[y - 8 : y + 8, x - 8 : x + 8].mean()))
    fall = np.diff(np.array(luma)) * -1
    return [seconds[i + 1] for i in np.flatnonzero(fall > 25.0)]


def onset_strength(path: Path) -> Floats:
    """Return how much louder the decoded sound becomes, every 2 ms, summed over bands."""
    blocks = []
    with av.open(str(path)) as container:
        resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE)
        for frame in container.decode(audio=0):
            for piece in resampler.resample(frame):
                blocks.append(piece.to_ndarray().ravel())
    sound = np.concatenate(blocks).astype(np.float32)
    return flux(sound)


def flux(sound: NDArray[np.float32]) -> Floats:
    """Return the rise of log energy in 24 bands, in frames of 2 ms; windows look 11 ms ahead."""
    size = 1024
    window = np.hanning(size).astype(np.float32)
    edges = np.unique(np.geomspace(2, size // 2, 25).astype(int))
    frames = (len(sound) - size) // HOP
    strength = np.zeros(frames)
    before = np.zeros(len(edges) - 1)
    for first in range(0, frames, 4096):
        rows = np.arange(first, min(first + 4096, frames)) * HOP
        pieces = sound[rows[:, None] + np.arange(size)] * window
        power = np.abs(np.fft.rfft(pieces, axis=1)) ** 2
        bands = np.log(1e-6 + np.add.reduceat(power[:, : edges[-1]], edges[:-1], axis=1))
        stacked = np.vstack([before, bands])
        strength[rows // HOP] = np.maximum(np.diff(stacked, axis=0), 0).sum(axis=1)
        before = bands[-1]
    return strength


def shift_of(strength: Floats, beats: Floats) -> float:
    """Return the seconds by which onsets come after `beats`, where they fit best.

    The window's centre, not its start, stands for an onset: half a window is taken off.
    """
    half = 512 / RATE
    shifts = np.arange(-SEARCH_SECONDS, SEARCH_SECONDS, HOP / RATE)
    rows = np.round((beats[None, :] + shifts[:, None] - half) * RATE / HOP).astype(int)
    rows = np.clip(rows, 0, len(strength) - 1)
    fit = np.convolve(strength[rows].mean(axis=1), np.hanning(7), mode="same")
    return float(shifts[int(np.argmax(fit))])


def video_distances(routine: Routine, clock: MidiClock, marks: list[float]) -> list[float]:
    """Return, for every mark, the seconds to the nearest landing by the MIDI's clock."""
    landings = sorted(clock.second_of(beat) for p in routine.line for beat in routine.landings(p))
    found = []
    for mark in marks:
        i = bisect_left(landings, mark)
        near = landings[max(i - 1, 0) : i + 1]
        found.append(min(abs(mark - second) for second in near))
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("session", type=Path)
    folder = parser.parse_args().session
    routine = routine_from_dict(json.loads((folder / "routine.json").read_text("utf-8")))
    clock = MidiClock(folder / "score.mid")
    marks = marked_seconds(folder / "session.mp4")
    landings = sum(len(routine.landings(p)) for p in routine.line)
    away = video_distances(routine, clock, marks)
    print(f"landings in the routine {landings}, marks seen in the video {len(marks)}")
    print(
        f"video to notes: median {1000 * np.median(away):.1f} ms, worst {1000 * max(away):.1f} ms"
    )
    first, past = heard_beats(routine)
    beats = np.array([clock.second_of(b) for b in range(first, past)])
    strength = onset_strength(folder / "session.mp4")
    shifts = []
    for start in np.arange(beats[0], beats[-1] - WINDOW_SECONDS / 2, WINDOW_SECONDS):
        inside = beats[(beats >= start) & (beats < start + WINDOW_SECONDS)]
        shifts.append(shift_of(strength, inside))
    worst = max(abs(s) for s in shifts)
    middle = 1000 * np.median(shifts)
    print(f"sound to notes over {len(shifts)} half minutes: median {middle:.1f} ms,", end=" ")
    print(f"worst {1000 * worst:.1f} ms")
    print(f"worst of all against one frame of 40 ms: ratio {max(max(away), worst) / FRAME:.2f}")


if __name__ == "__main__":
    main()
