"""Whether hands land on the beat in the encoded film, against the truth of drawn takes.

`python benchmarks/fit.py [--seeds 9000 --count 4]`

Each take is watched, named, fitted to a passage of the demo's routine and encoded as film. Colour
only (brightness does not change, so that watching cannot see it), a mark runs through a strip of
every picture at an even pace: its place in a frame of the encoded film tells which second of the
take is shown there. When the true landings of the drawing are shown, as told so, is compared with
the beat. The reference is the same take shown at an even speed, its first stroke on the beat.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.raster import ResvgRasteriser
from rondel.adapters.studio_files import demo_brief
from rondel.adapters.video import LibavVideoMaker
from rondel.app.progress import Silent
from rondel.app.watch_take import AskedOfTake
from rondel.drawing.frames.film import Film, Source
from rondel.drawing.frames.layout import FRAMES_PER_SECOND
from rondel.drawing.frames.script import Script
from rondel.fitting.named import NamedTake
from rondel.fitting.passages import fit_passage
from rondel.model.routine import Passage, Routine
from rondel.model.shots import FittedPassage
from rondel.model.take_corrections import TakeCorrections
from rondel.planner.plan import plan
from rondel.wiring_takes import watch_from_file
from take_marks import marked, shown_seconds
from take_motion import STROKE_SECONDS, Kind, Motion, make_motion
from take_scenes import TakeScene, Trouble, frames

Numbers = NDArray[np.float64]

CRAFT = builtin_craft()
TAKE_SECONDS = 48.0
#: Strokes that a passage may have; of those with as many the first is taken.
_ENOUGH = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One take: ms off the beat on the film, and at an even speed; what it took."""

    off: Numbers
    even: Numbers
    fit_seconds: float
    render_fps: float
    shots: int


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=9000, help="the first seed of drawn takes")
    parser.add_argument("--count", type=int, default=4, help="takes of each kind")
    parser.add_argument("--jitter", type=float, default=0.15)
    arguments = parser.parse_args()
    routine = plan(demo_brief(), CRAFT).routine
    assert routine is not None
    print("kind       takes  median   p95  worst ms | even speed: median   p95 ms | fit s  fps")
    every: list[Measured] = []
    for kind in (Kind.ALTERNATE, Kind.GLIDE, Kind.CIRCLE, Kind.PRESS):
        rows = list(_measured(kind, routine, arguments))
        every += rows
        if rows:
            print(_row(str(kind), rows), flush=True)
    print(_row("all", every))
    off, even = (np.abs(np.concatenate(part)) for part in _parts(every))
    print(f"p95 as a share of that at an even speed: {_p95(off) / _p95(even):.3f}")


def _parts(rows: list[Measured]) -> tuple[list[Numbers], list[Numbers]]:
    return [row.off for row in rows], [row.even for row in rows]


def _row(name: str, rows: list[Measured]) -> str:
    off, even = (np.abs(np.concatenate(part)) for part in _parts(rows))
    fit = max(row.fit_seconds for row in rows)
    fps = float(np.median([row.render_fps for row in rows]))
    return (
        f"{name:<10} {len(rows):>5} {np.median(off):7.1f} {_p95(off):6.1f} {off.max():6.1f}    |"
        f" {np.median(even):18.1f} {_p95(even):6.1f}    | {fit:4.2f} {fps:5.1f}"
    )


def _p95(values: Numbers) -> float:
    return float(np.percentile(values, 95))


def _measured(kind: Kind, routine: Routine, asked: argparse.Namespace) -> Iterator[Measured]:
    passage = _passage_for(kind, routine)
    wanted = _stroke_seconds(routine, passage)
    seed, found = asked.seeds, 0
    while found < asked.count:
        motion = make_motion(seed, TAKE_SECONDS, (kind,), jitter=asked.jitter)
        seed += 1
        usual = float(np.median(np.diff(motion.landings)))
        if min(abs(np.log(usual / wanted)), abs(np.log(2 * usual / wanted))) > 0.2:
            continue
        found += 1
        row = _measure(motion, kind, routine, passage)
        if row is not None:
            yield row
        else:
            print(f"{kind} {seed - 1}: no row of its strokes fits {passage.technique}")


def _stroke_seconds(routine: Routine, passage: Passage) -> float:
    beats = [float(routine.clock.seconds_at(beat)) for beat in routine.landings(passage)]
    return float(np.median(np.diff(beats)))


def _passage_for(kind: Kind, routine: Routine) -> Passage:
    """Return a passage of not too few strokes, of a length that hands of this kind can keep."""
    low, high = STROKE_SECONDS[kind]

    def fits(passage: Passage) -> int:
        landings = routine.landings(passage)
        if passage.is_open or len(landings) < 3:
            return 0
        step = _stroke_seconds(routine, passage)
        return min(len(landings), _ENOUGH) if low <= step <= high or low <= step / 2 <= high else 0

    return max(routine.line, key=fits)


def _measure(motion: Motion, kind: Kind, routine: Routine, passage: Passage) -> Measured | None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "take.mp4"
        scene = TakeScene(motion=motion, trouble=Trouble())
        marked(path, frames(scene), TAKE_SECONDS)
        truth = np.array(motion.landings)
        one = AskedOfTake()
        if kind is Kind.CIRCLE:  # where a circle lands is told by one tap
            one = AskedOfTake(more=TakeCorrections(landing=float(truth[len(truth) // 2])))
        watched = watch_from_file(path, progress=Silent(), asked=one)
        named = tuple(
            replace(stretch, technique=passage.technique) for stretch in watched.seen.stretches
        )
        seen = replace(watched.seen, stretches=named)
        began = time.perf_counter()
        fitted = fit_passage(routine, passage, [NamedTake(name="take.mp4", seen=seen)])
        took = time.perf_counter() - began
        if not fitted.shots:
            return None
        source = Source(path=str(path), digest="", seconds=seen.seconds, cuts=seen.cuts)
        film = Film(Script(routine, CRAFT), [fitted], {"take.mp4": source})
        span = film.spans[0]
        out = Path(folder) / "film.mp4"
        began = time.perf_counter()
        reel = film.reel(span.first, span.past)
        LibavVideoMaker().encode(reel, ResvgRasteriser(), out, scale=0.5)
        fps = reel.frames / (time.perf_counter() - began)
        shown = shown_seconds(out, TAKE_SECONDS)
    at = (span.first + np.arange(len(shown))) / FRAMES_PER_SECOND
    return Measured(
        off=_off(fitted, truth, at, shown),
        even=_even(fitted, truth),
        fit_seconds=took,
        render_fps=fps,
        shots=len(fitted.shots),
    )


def _off(fitted: FittedPassage, truth: Numbers, at: Numbers, shown: Numbers) -> Numbers:
    """Return how many ms after its beat each true landing is shown in the film."""
    found = []
    for shot in fitted.shots:
        inside = (at >= shot.map.at[0] + 0.2) & (at <= shot.map.at[-1] - 0.2)
        times, seconds = at[inside], np.maximum.accumulate(shown[inside])
        for beat, landing in zip(shot.beats, shot.landings, strict=True):
            true = float(truth[np.argmin(np.abs(truth - landing))])
            if len(seconds) and seconds[0] < true < seconds[-1]:
                found.append(1000 * (_reached(seconds, times, true) - beat))
    return np.array(found)


def _reached(seconds: Numbers, times: Numbers, wanted: float) -> float:
    """Return when film that shows `seconds` at `times` shows `wanted`."""
    n = int(np.searchsorted(seconds, wanted))
    low, high = seconds[n - 1], seconds[n]
    return float(times[n - 1] + (wanted - low) / (high - low) * (times[n] - times[n - 1]))


def _even(fitted: FittedPassage, truth: Numbers) -> Numbers:
    """Return the same for each shot at the even speed that brings both its ends to the beat."""
    found = []
    for shot in fitted.shots:
        beats, landings = np.array(shot.beats), np.array(shot.landings)
        true = truth[np.argmin(np.abs(truth[:, None] - landings[None, :]), axis=0)]
        ends = (float(landings[0]), float(landings[-1]))
        found.append(1000 * (np.interp(true, ends, (beats[0], beats[-1])) - beats))
    return np.concatenate(found)


if __name__ == "__main__":
    main()
