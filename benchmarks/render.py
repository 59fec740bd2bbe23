"""How long film takes to make, next to libav alone, and how true made-up pictures are.

`python benchmarks/render.py [--seconds 40]`

Drawn takes of 1280 x 720. Not slowed: seconds for the same frames, decoded and encoded with equal
settings on one thread by libav alone, are the reference. Slowed to 0.7: frames a second with as
many processes as cores. In-betweens: pictures drawn for the moment in between are the truth, in
decibels of PSNR; mixing both neighbours and repeating the nearer one are the references.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory

import av
import cv2
import numpy as np
from av.video.stream import VideoStream
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from rondel.adapters.film_between import Between
from rondel.adapters.planes import joined
from rondel.adapters.raster import ResvgRasteriser
from rondel.adapters.video import X264_FILM, LibavVideoMaker, encode_planes
from rondel.drawing.frames.reel import FilmedTake, Footage, Moment, Reel, Shown
from rondel.drawing.frames.shapes import Shape
from take_motion import Kind, make_motion
from take_scenes import TakeScene, Trouble, frames

Picture = NDArray[np.uint8]
SIZE = (1280, 720)
FPS = 25


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=int, default=40, help="how long the drawn take is")
    parser.add_argument("--seed", type=int, default=9500)
    arguments = parser.parse_args()
    cv2.setNumThreads(1)
    with TemporaryDirectory() as name:
        folder = Path(name)
        take = _take(folder / "take.mp4", arguments.seed, arguments.seconds)
        _not_slowed(take, folder, arguments.seconds)
        _slowed(take, folder, arguments.seconds)
    _in_between(arguments.seed)


def _take(path: Path, seed: int, seconds: int) -> Path:
    """Draw a take, larger than the generator draws, with grain of its own."""
    motion = make_motion(seed, float(seconds), (Kind.GLIDE, Kind.ALTERNATE))
    dice = np.random.default_rng(seed)
    grain = dice.normal(0, 3, (8, SIZE[1], SIZE[0])).astype(np.float32)
    with av.open(str(path), "w") as file:
        stream = file.add_stream("libx264", rate=FPS, options={"crf": "20"})
        assert isinstance(stream, VideoStream)
        stream.width, stream.height, stream.pix_fmt = *SIZE, "yuv420p"
        stream.codec_context.colorspace = 1
        colour = [np.full((SIZE[1] // 4, SIZE[0]), v, np.uint8) for v in (116, 143)]
        for number, (_, picture) in enumerate(frames(TakeScene(motion=motion, trouble=Trouble()))):
            large = cv2.resize(picture, SIZE, interpolation=cv2.INTER_CUBIC) + grain[number % 8]
            planes = np.vstack([np.clip(large, 0, 255).astype(np.uint8), *colour])
            frame = av.VideoFrame.from_ndarray(planes, format="yuv420p")
            frame.pts = number
            file.mux(stream.encode(frame))
        file.mux(stream.encode(None))
    return path


def reel_of(take: Path, first: float, count: int, speed: float) -> Reel:
    """Return `count` frames of film from second `first` of a take on, at one speed."""
    shown = tuple(Shown(0, first + n / FPS * speed, speed) for n in range(count))
    return Reel(
        first_frame=0,
        width=SIZE[0],
        height=SIZE[1],
        frames_per_second=FPS,
        stills=(),
        pieces=(),
        moments=(Moment(0, 0, 0.0, ()),) * count,
        footage=Footage(takes=(FilmedTake(path=str(take), digest=""),), shown=shown),
        is_of_film=True,
        shape=Shape.WIDE,
    )


def _not_slowed(take: Path, folder: Path, seconds: int) -> None:
    count = seconds * FPS - 2
    times: dict[str, list[float]] = {"rondel": [], "libav": []}
    for turn in range(3):
        began = time.process_time()
        reel = reel_of(take, 0.0, count, 1.0)
        LibavVideoMaker().encode(reel, ResvgRasteriser(), folder / f"film{turn}.mp4")
        times["rondel"].append(time.process_time() - began)
        began = time.process_time()
        encode_planes(
            _decoded(take, count), FPS, folder / f"plain{turn}.mp4", threads=1, settings=X264_FILM
        )
        times["libav"].append(time.process_time() - began)
    ours, theirs = (min(times[name]) for name in ("rondel", "libav"))
    print(
        f"not slowed, {count} frames: {ours:.2f} s, libav alone {theirs:.2f} s (CPU, one thread, "
        f"best of three): ratio {ours / theirs:.2f} (goal 1.5)"
    )


def _decoded(take: Path, count: int) -> Iterator[Picture]:
    with av.open(str(take)) as file:
        file.streams.video[0].thread_count = 1
        for _, frame in zip(range(count), file.decode(video=0), strict=False):
            yield np.asarray(frame.to_ndarray(), dtype=np.uint8)


def _slowed(take: Path, folder: Path, seconds: int) -> None:
    speed, workers = 0.7, min(4, os.cpu_count() or 1)
    each = int(seconds / workers / speed * FPS) - 4
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        list(
            pool.map(
                _encode, [(take, 0.0, 3, speed, folder / f"warm{n}.mp4") for n in range(workers)]
            )
        )
        began = time.perf_counter()
        jobs = [
            (take, n * seconds / workers, each, speed, folder / f"slow{n}.mp4")
            for n in range(workers)
        ]
        made = sum(pool.map(_encode, jobs))
        took = time.perf_counter() - began
    rate = workers * each / took
    print(
        f"slowed to {speed}, {workers} processes: {rate:.1f} frames a second (goal 40), "
        f"{made / (workers * each):.0%} of them made up"
    )


def _encode(job: tuple[Path, float, int, float, Path]) -> int:
    take, first, count, speed, out = job
    reel = reel_of(take, first, count, speed)
    LibavVideoMaker().encode(reel, ResvgRasteriser(), out)
    shares = [(shown.second * FPS) % 1.0 for shown in reel.footage.shown] if reel.footage else []
    return sum(min(share, 1 - share) > 0.12 for share in shares)


def _in_between(seed: int) -> None:
    plain = np.full((SIZE[1] // 2, SIZE[0] // 2), 128, np.uint8)
    for kind in Kind:
        motion = make_motion(seed + 1, 6.0, (kind,))
        scene = TakeScene(motion=motion, trouble=Trouble(noise=1.0), fps=2.0 * FPS)
        drawn = [
            np.asarray(cv2.resize(picture, SIZE, interpolation=cv2.INTER_CUBIC), dtype=np.uint8)
            for _, picture in frames(scene)
        ]
        between, rows = Between(SIZE), []
        for n in range(20, len(drawn) - 2, 6):
            one, truth, two = drawn[n : n + 3]
            planes = [joined((picture, plain, plain)) for picture in (one, two)]
            made = between.picture((0, n, n + 2), planes[0], planes[1], 0.5)[: SIZE[1]]
            mixed = np.asarray(cv2.addWeighted(one, 0.5, two, 0.5, 0), dtype=np.uint8)
            rows.append([_psnr(picture, truth) for picture in (made, mixed, one)])
        made_db, mixed_db, near_db = np.mean(rows, axis=0)
        print(
            f"in-betweens of {kind}: {made_db:.1f} dB, mixed {mixed_db:.1f}, "
            f"repeated {near_db:.1f}; error as a share of the mixture's: "
            f"{10 ** ((mixed_db - made_db) / 10):.2f}"
        )


def _psnr(picture: Picture, truth: Picture) -> float:
    error = np.mean((picture.astype(np.float64) - truth) ** 2)
    return float(10 * np.log10(255**2 / error))


if __name__ == "__main__":
    main()
