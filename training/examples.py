"""Make the examples the network learns from, on all cores.

    python -m training.examples OUT --font FluidR3Mono_GM.sf3 [--scores 1600] [--songs 1200]
        [--ambient 300] [--game-tunes FOLDER] [--cores N]

Needs music21, tinysoundfont and mido (extra `train`). Each example is one file in OUT.
"""

from __future__ import annotations

import argparse
import json
import os
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from training.material import SPLIT, training_files, tunes_in  # first: it makes the rest findable
from training.renders import Example, ambient_example, score_example, song_example

from corpora.game_tunes import game_tune  # isort: skip
from corpora.tunes import Tune  # isort: skip
from rondel.listening.features import FRAMES, loudness_of  # isort: skip

FAR = 9.0  # seconds to the nearest beat where there is none


def save(example: Example, path: Path) -> None:
    """Write what the network sees, and by frame: seconds to beat and downbeat, tempo, heard."""
    features = example.features
    count = len(features.bands)
    at = np.arange(count) / FRAMES
    still = np.zeros(count, dtype=bool)
    judged = np.ones(count, dtype=bool)
    for start, end in example.still:
        still |= (at >= start) & (at < end)
    for start, end in example.unjudged:
        judged &= ~((at >= start) & (at < end))
    gaps = np.diff(example.beats)
    middles = (example.beats[:-1] + example.beats[1:]) / 2
    np.savez(
        path,
        loud=loudness_of(features.bands, features.level).astype(np.float16),
        to_beat=_distance(at, example.beats).astype(np.float16),
        to_downbeat=_distance(at, example.downbeats).astype(np.float16),
        bpm=np.interp(at, middles, 60 / gaps).astype(np.float16),
        still=still,
        judged=judged,
        beats_per_bar=np.array(example.beats_per_bar),
    )


def _distance(at: np.ndarray, marks: np.ndarray) -> np.ndarray:
    after = np.searchsorted(marks, at).clip(1, len(marks) - 1)
    nearest = np.minimum(np.abs(at - marks[after]), np.abs(at - marks[after - 1]))
    return np.minimum(nearest, FAR)


def _make(job: tuple[str, object, int, Path, Path]) -> str:
    kind, tune, seed, font, out = job
    path = out / f"{kind}-{seed:05d}.npz"
    try:
        if kind == "song":
            save(song_example(seed, font), path)
        elif kind == "ambient":
            save(ambient_example(seed), path)
        else:
            assert isinstance(tune, Tune)
            save(score_example(tune, seed, font), path)
    except (ValueError, IndexError) as error:
        return f"{path.name}: {error}"
    return ""


def _read(path: Path) -> list[Tune]:
    try:
        return tunes_in(path)
    except Exception:  # a file music21 cannot read is left out, whatever the reason
        return []


def main() -> None:
    parser = argparse.ArgumentParser(description="Make training examples.")
    parser.add_argument("out", type=Path)
    parser.add_argument("--font", type=Path, required=True)
    parser.add_argument("--scores", type=int, default=1600)
    parser.add_argument("--songs", type=int, default=1200)
    parser.add_argument("--ambient", type=int, default=300)
    parser.add_argument("--game-tunes", type=Path)
    parser.add_argument("--files", type=int, default=100_000)
    parser.add_argument("--cores", type=int, default=os.cpu_count() or 1)
    asked = parser.parse_args()
    asked.out.mkdir(parents=True, exist_ok=True)

    import music21

    files = training_files(Path(music21.__file__).parent / "corpus")[: asked.files]
    with ProcessPoolExecutor(asked.cores) as pool:
        read = list(pool.map(_read, files, chunksize=2))
        by_file = [tunes for tunes in read if tunes]
        print(f"{len(files)} files, {sum(map(len, by_file))} tunes", flush=True)
        if asked.game_tunes:
            names = json.loads(SPLIT.read_text(encoding="utf-8"))["O"]["training"]
            games = [game_tune(asked.game_tunes / f"{name}.mid") for name in names]
        else:
            games = []
        jobs: list[tuple[str, object, int, Path, Path]] = []
        rng = np.random.default_rng(0)
        for seed in range(asked.scores):
            tunes = by_file[int(rng.integers(len(by_file)))]
            tune = tunes[int(rng.integers(len(tunes)))]
            jobs.append(("score", tune, seed, asked.font, asked.out))
        jobs += [("game", games[k % 7], k, asked.font, asked.out) for k in range(25 * len(games))]
        jobs += [("song", None, seed, asked.font, asked.out) for seed in range(asked.songs)]
        jobs += [
            ("ambient", None, 10_000 + seed, asked.font, asked.out) for seed in range(asked.ambient)
        ]
        faults = [says for says in pool.map(_make, jobs, chunksize=4) if says]
    print(f"{len(jobs) - len(faults)} examples; {len(faults)} left out", *faults[:5], sep="\n")


if __name__ == "__main__":
    main()
