"""Spectrograms of ten pieces side by side, as `docs/pictures/ten-seeds.png`.

    python benchmarks/compose_picture.py docs/pictures/ten-seeds.png

Renders four minutes with each of ten seeds, the four intentions in turn, and draws each as seconds
(left to right) against pitch (semitones from C2 up, one row each). Nothing else is needed.
"""

from __future__ import annotations

import argparse
import sys
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from rondel.model.routine import Routine
from rondel.model.words import Intention, Role
from rondel.music.compose import compose
from rondel.music.instruments.tone import RATE
from rondel.music.score import LayerName
from rondel.music.synth import layer_sounds, session_frames
from rondel.rules.length import NOMINAL_BPM
from sound_routines import CRAFT, four_minutes

LOWEST, HIGHEST = 36, 96  # MIDI pitches of the rows
SIZE, COLUMNS = 16384, 420
ROW, GAP, HEAD = 4, 14, 22
FLOOR_DB = -50.0
SHADES = 24  # so few that the file stays small

Grey = NDArray[np.uint8]


def _levels(mix: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the level of every semitone (rows, the highest first) at every column, in decibels."""
    mono = np.pad(mix.mean(axis=1), SIZE // 2)
    window = np.hanning(SIZE)
    starts = np.linspace(0, len(mono) - SIZE, COLUMNS).astype(int)
    power = np.stack([np.abs(np.fft.rfft(mono[at : at + SIZE] * window)) ** 2 for at in starts])
    pitch = 69 + 12 * np.log2(np.maximum(np.fft.rfftfreq(SIZE, 1 / RATE), 1.0) / 440)
    rows = []
    for row in range(HIGHEST, LOWEST, -1):
        near = np.abs(pitch - row) <= 0.5
        if not near.any():
            near[np.argmin(np.abs(pitch - row))] = True
        rows.append(power[:, near].max(axis=1))
    levels = 10 * np.log10(np.stack(rows) + 1e-12)
    return np.asarray(levels - levels.max())


def _panel(routine: Routine) -> Grey:
    score = compose(routine, CRAFT)
    frames = session_frames(score)
    mix = np.zeros((frames, 2), dtype=np.float32)
    for layer in layer_sounds(score):
        mix += layer.block(0, frames)
    share = np.clip(1 - _levels(mix) / FLOOR_DB, 0, 1) ** 1.4
    steps = np.round(share * (SHADES - 1)) / (SHADES - 1)
    image = (255 * (1 - steps)).astype(np.uint8).repeat(ROW, axis=0)
    head = np.full((HEAD, COLUMNS), 255, dtype=np.uint8)
    for row in routine.refrains:  # a bar above every return of the refrain
        _bar(head, routine, row[0].start_bar, row[-1].end_bar, 160)
    for passage in routine.line:
        if passage.role is Role.PEAK:
            _bar(head, routine, passage.start_bar, passage.end_bar, 40)
    says = (
        f"{routine.intention} {routine.seed}: {score.key}, {dict(score.timbres)[LayerName.MOTIF]}"
    )
    cv2.putText(head, says, (2, 12), cv2.FONT_HERSHEY_SIMPLEX, 0.42, 0, 1, cv2.LINE_AA)
    return np.concatenate([head, image])


def _bar(head: Grey, routine: Routine, start: int, end: int, shade: int) -> None:
    left, right = (round(bar / routine.bars * COLUMNS) for bar in (start, end))
    head[HEAD - 5 : HEAD - 1, left : right - 1] = shade


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("out", type=Path)
    out: Path = words.parse_args().out
    panels = []
    for seed in range(10):
        intention = tuple(Intention)[seed % 4]
        bpm = Fraction(NOMINAL_BPM[intention])
        panels.append(_panel(four_minutes(intention=intention, seed=seed, bpm=bpm)))
    rows = []
    for left, right in zip(panels[::2], panels[1::2], strict=True):
        between = np.full((len(left), GAP), 255, dtype=np.uint8)
        rows.append(np.concatenate([left, between, right], axis=1))
    picture = np.concatenate(rows)
    cv2.imwrite(str(out), picture, [cv2.IMWRITE_PNG_COMPRESSION, 9])
    print(f"{out}: {picture.shape[1]} x {picture.shape[0]}, {out.stat().st_size // 1000} kB")


if __name__ == "__main__":
    main()
