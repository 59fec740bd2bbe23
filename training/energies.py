"""Find the weights of `rondel.listening.energies`, on made-up tracks that nothing is tested on.

    python -m training.energies [--count 60] [--cores 2] [--worse]     # some ten minutes

Tracks: `tests/ambient_tracks.py` with seeds from 40000 on, three to seven minutes, heard as Rondel
hears them; their true energies are what their layers weigh. A network of one inner layer is fitted
to them bar by bar, each track less its own mean, with weights that are never negative. It is
judged on the tuning seeds of `benchmarks/tracks/split.json`, on sections as heard, and on seeds
from 32000 on, on which nothing was chosen. The last thing printed is what
`rondel/listening/energy_weights.py` holds. `--worse`: every track is also heard under hiss, under
a sea, with noise in a part of it, or without its highs, and the weights are found on both.
"""

from __future__ import annotations

import argparse
import json
from bisect import bisect_left
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.signal import butter, sosfilt

from ambient_tracks import make_track
from rondel.adapters.beat_weights import builtin_network
from rondel.listening.energies import bar_columns, bar_sound, strength_of
from rondel.listening.features import FeatureStream
from rondel.listening.hearing import first_heard
from rondel.model.track import Heard

FIRST_SEED, UNSEEN_SEED = 40000, 32000
WORSE = ("hiss", "sea", "without highs", "patch")
SECONDS = (180.0, 240.0, 300.0, 420.0)
INNER, HELD = 8, 1e-4  # places in the inner layer; the price of the squares of all weights
ROUNDS = 400
AS_STRONG = 0.02  # as `rondel.music.track_bars` has it
SPLIT = Path(__file__).parents[1] / "benchmarks" / "tracks" / "split.json"

Rows = NDArray[np.float64]
Sound = NDArray[np.float32]


@dataclass(frozen=True)
class Example:
    """A track: what is true of it, what is heard of it, its bar lines, and what is weighed."""

    truth: Heard
    heard: Heard
    lines: Rows
    columns: Rows

    @property
    def energy(self) -> Rows:
        """The true energy in the middle of every bar."""
        ends = [section.span.end for section in self.truth.sections]
        middles = (self.lines[:-1] + self.lines[1:]) / 2
        places = [min(bisect_left(ends, at), len(ends) - 1) for at in middles]
        return np.array([self.truth.sections[place].energy for place in places])


def example(task: tuple[int, float, str]) -> Example:
    """Return the track of a seed, so many seconds long, made worse in a way or not, listened to."""
    seed, seconds, way = task
    track = make_track(seed, seconds)
    stream = FeatureStream(track.rate)
    stream.feed(made_worse(track.sound, track.rate, way, seed) if way else track.sound)
    features = stream.features()
    heard = first_heard(features, builtin_network())
    sound = bar_sound(features, heard.downbeats)
    return Example(track.truth, heard, sound.lines, bar_columns(sound, heard.beatless))


def made_worse(sound: Sound, rate: int, way: str, seed: int) -> Sound:
    """Return (frames, 2) `sound` as a poorer recording of it, or one by the sea, would be."""
    dice = np.random.default_rng(seed)
    level = 10 ** dice.uniform(-2.5, -1.2)
    if way == "without highs":
        low = butter(4, dice.uniform(3000, 8000), fs=rate, output="sos")
        return np.asarray(sosfilt(low, sound, axis=0), dtype=np.float32)
    noise = dice.standard_normal(sound.shape).astype(np.float32)
    if way == "hiss":
        return np.asarray(sound + level * noise, dtype=np.float32)
    noise = sosfilt(butter(2, dice.uniform(500, 6000), fs=rate, output="sos"), noise, axis=0)
    at = np.arange(len(sound)) / rate
    if way == "sea":
        turn, first = dice.uniform(6, 14), dice.uniform(0, 6)
        shape = 0.55 + 0.45 * np.sin(2 * np.pi * at / turn + first)
    else:
        start = dice.uniform(0, 0.7) * at[-1]
        end = start + dice.uniform(20, 90)
        shape = np.clip((at - start) / 4, 0, 1) * np.clip((end - at) / 4, 0, 1)
    return np.asarray(sound + 2 * level / noise.std() * shape[:, None] * noise, dtype=np.float32)


@dataclass(frozen=True)
class Weights:
    """The network: (15, INNER), (INNER,), (INNER,)."""

    inner: Rows
    bias: Rows
    outer: Rows

    @classmethod
    def unpacked(cls, packed: Rows) -> Weights:
        """Weights are kept as numbers whose softplus they are: never negative."""
        inner, bias, outer = np.split(packed, [-2 * INNER, -INNER])
        return cls(_softplus(inner.reshape(-1, INNER)), bias, _softplus(outer))


def fitted(examples: list[Example]) -> Weights:
    """Return the weights with the least squared error between bars of the same track."""
    columns = np.vstack([one.columns for one in examples])
    spread = columns.std(axis=0) + 1e-6
    track = np.repeat(np.arange(len(examples)), [len(one.columns) for one in examples])
    bars = np.bincount(track)

    def centred(rows: Rows) -> Rows:
        return rows - (np.bincount(track, rows) / bars)[track]

    scaled, wanted = columns / spread, centred(np.concatenate([one.energy for one in examples]))

    def price(packed: Rows) -> tuple[float, Rows]:
        now = Weights.unpacked(packed)
        hidden = np.tanh(scaled @ now.inner + now.bias)
        off = centred(hidden @ now.outer) - wanted
        slope = centred(2 * off / len(off))
        inner = np.outer(slope, now.outer) * (1 - hidden**2)
        slopes = (
            (scaled.T @ inner + 2 * HELD * now.inner) * -np.expm1(-now.inner),
            inner.sum(axis=0),
            (hidden.T @ slope + 2 * HELD * now.outer) * -np.expm1(-now.outer),
        )
        cost = np.mean(off**2) + HELD * (np.sum(now.inner**2) + np.sum(now.outer**2))
        return float(cost), np.concatenate([part.ravel() for part in slopes])

    dice = np.random.default_rng(0)
    inner = dice.normal(-3, 0.5, columns.shape[1] * INNER)
    start = np.concatenate([inner, dice.normal(0, 1, INNER), dice.normal(-1, 0.3, INNER)])
    options = {"maxiter": ROUNDS}
    found = Weights.unpacked(minimize(price, start, jac=True, method="L-BFGS-B", options=options).x)
    return Weights(found.inner / spread[:, None], found.bias, found.outer)


def _softplus(rows: Rows) -> Rows:
    return np.asarray(np.logaddexp(0, rows))


def judged(examples: list[Example], weights: Weights) -> str:
    """Say how near energies come to the truth, second by second, on sections as heard."""
    correlations, right, alike = [], 0, 0
    for one in examples:
        strength = strength_of(one.columns, weights.inner, weights.bias, weights.outer)
        ends = [section.span.end for section in one.heard.sections]
        edges = [0, *(int(np.argmin(abs(one.lines - end))) for end in ends)]
        told = [float(np.median(strength[a:b])) for a, b in pairwise(edges)]
        true_ends = [section.span.end for section in one.truth.sections]
        seconds = np.arange(0.5, one.truth.seconds - 0.5)
        has = np.array([told[min(bisect_left(ends, s), len(ends) - 1)] for s in seconds])
        true = np.array([one.truth.sections[bisect_left(true_ends, s)].energy for s in seconds])
        correlations.append(np.corrcoef(has, true)[0, 1])
        right += float(np.median(true[has == has.max()])) >= true.max() - 1e-6
        near = has >= has.max() - AS_STRONG * (has.max() - has.min())
        alike += bool(np.mean(true[near] >= true.max() - 1e-6) > 0.9)
    return (
        f"correlation {np.mean(correlations):.3f}, strongest right {right} of {len(examples)}; all "
        f"as strong truly strongest on {alike}"
    )


def written(weights: Weights) -> str:
    """Return the module that holds the weights."""
    rows = [f"    ({', '.join(f'{w:.4g}' for w in row)})," for row in weights.inner]
    told = {
        name: ", ".join(f"{w:.4g}" for w in getattr(weights, name)) for name in ("bias", "outer")
    }
    return "\n".join(
        [
            '"""Weights that tell how strong a bar is; written by `training/energies.py`."""',
            "",
            "#: By column of `energies.bar_columns`, in each of eight places.",
            "INNER = (",
            *rows,
            ")",
            f"BIAS = ({told['bias']})",
            f"OUTER = ({told['outer']})",
        ]
    )


def _judges(split: dict[str, Any]) -> dict[str, list[tuple[int, float, str]]]:
    """Return the tracks that weights are judged on, by what they are called."""
    unseen = [UNSEEN_SEED + n for n in range(len(split["tuning"]))]
    return {
        f"{name}{', worse' if worse else ''}": [
            (seed, split["seconds"], WORSE[n % len(WORSE)] if worse else "")
            for n, seed in enumerate(its)
        ]
        for name, its in (("tuning seeds", split["tuning"]), ("unseen seeds", unseen))
        for worse in (False, True)
    }


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--cores", type=int, default=2)
    parser.add_argument("--worse", action="store_true", help="with tracks that are made worse")
    arguments = parser.parse_args()
    seeds = range(FIRST_SEED, FIRST_SEED + arguments.count)
    split = json.loads(SPLIT.read_text("utf-8"))
    ways = [WORSE[n // len(SECONDS) % len(WORSE)] for n in range(arguments.count)]
    trained = [
        (seed, SECONDS[seed % len(SECONDS)], way) for seed, way in zip(seeds, ways, strict=True)
    ]
    judges = _judges(split)
    with ProcessPoolExecutor(arguments.cores) as pool:
        plain = list(pool.map(example, [(seed, seconds, "") for seed, seconds, _ in trained]))
        worse = list(pool.map(example, trained)) if arguments.worse else []
        half = len(plain) // 2
        part = fitted(plain[:half] + worse[:half])
        print("half by the other half:", judged(plain[half:], part))
        if worse:
            print("half by the other half, worse:", judged(worse[half:], part))
        weights = fitted(plain + worse)
        print("all, by itself:", judged(plain, weights))
        for name, tasks in judges.items():
            print(f"{name}:", judged(list(pool.map(example, tasks)), weights), flush=True)
    print(written(weights))


if __name__ == "__main__":
    main()
