"""Make the examples the network learns from, on all cores.

    python -m training.examples OUT --tunes TUNES.npz --font FluidR3Mono_GM.sf3 [--scores 4000]
        [--songs 2400] [--ambient 600] [--game-tunes FOLDER] [--cores N]

TUNES.npz is what `python -m training.tunes` made. Needs tinysoundfont and mido (extra `train`).
Each example is one file in OUT.
"""

from __future__ import annotations

import argparse
import json
import os
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from training.material import SOURCES, SPLIT, read_tunes  # first: it makes the rest findable
from training.renders import Example, ambient_example, score_example, song_example

from corpora.game_tunes import game_tune  # isort: skip
from corpora.tunes import Tune  # isort: skip
from rondel.listening.features import FRAMES, loudness_of  # isort: skip

Job = tuple[str, object, int, Path, Path]  # kind, tune if it is of one, seed, font, folder

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


def _make(job: Job) -> str:
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


def _jobs(asked: argparse.Namespace) -> list[Job]:
    tunes, sources = read_tunes(asked.tunes)
    weights = np.array([weight for _, _, weight in SOURCES])
    each = weights[sources] / np.bincount(sources, minlength=len(SOURCES))[sources]
    drawn = np.random.default_rng(0).choice(len(tunes), asked.scores, p=each / each.sum())
    jobs: list[Job] = []
    for seed, number in enumerate(drawn.tolist()):
        jobs.append(("score", tunes[number], seed, asked.font, asked.out))
    if asked.game_tunes:
        names = json.loads(SPLIT.read_text(encoding="utf-8"))["O"]["training"]
        games = [game_tune(asked.game_tunes / f"{name}.mid") for name in names]
        jobs += [("game", games[k % 7], k, asked.font, asked.out) for k in range(40 * len(games))]
    jobs += [("song", None, seed, asked.font, asked.out) for seed in range(asked.songs)]
    for seed in range(10_000, 10_000 + asked.ambient):
        jobs.append(("ambient", None, seed, asked.font, asked.out))
    return jobs


def main() -> None:
    parser = argparse.ArgumentParser(description="Make training examples.")
    parser.add_argument("out", type=Path)
    parser.add_argument("--tunes", type=Path, required=True)
    parser.add_argument("--font", type=Path, required=True)
    parser.add_argument("--scores", type=int, default=4000)
    parser.add_argument("--songs", type=int, default=2400)
    parser.add_argument("--ambient", type=int, default=600)
    parser.add_argument("--game-tunes", type=Path)
    parser.add_argument("--cores", type=int, default=os.cpu_count() or 1)
    asked = parser.parse_args()
    asked.out.mkdir(parents=True, exist_ok=True)
    jobs = _jobs(asked)
    with ProcessPoolExecutor(asked.cores) as pool:
        faults = [says for says in pool.map(_make, jobs, chunksize=4) if says]
    print(f"{len(jobs) - len(faults)} examples; {len(faults)} left out", *faults[:5], sep="\n")


if __name__ == "__main__":
    main()
