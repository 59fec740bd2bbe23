"""The second routine of the demo: takes in a studio, watched, and cut to the beat.

`python tests/demo_film.py STUDIO` does what a teacher would: it starts a studio, plans a short
routine, lays drawn takes into it (three angles of one technique, one of them with a slip), tells
Rondel what they show, and makes the session, once with composed music and once with a track that
was brought. Hands, back and music are made up.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from multiprocessing import get_context
from pathlib import Path

import av
import cv2
import numpy as np
import soundfile
from av.video.stream import VideoStream
from numpy.typing import NDArray

from ambient_tracks import make_track
from rondel.cli.main import main as rondel
from take_motion import Kind, Motion, make_motion
from take_scenes import HEIGHT, WIDTH, TakeScene, Trouble, frames

Picture = NDArray[np.uint8]

COMPOSED, BROUGHT = "low-tide", "low-tide-walk"
BRIEF = """\
title = "Low Tide"
minutes = 5
intention = "settle"
level = 2
refrains = 3
main_regions = ["shoulders"]
positions = ["prone"]
seed = 4
"""
#: What was filmed from three angles is to be seen in the brought track's session too.
WITH_TAKES = '[[keep]]\ntechnique = "snow-slide"\n'
TRACK_SEED, TRACK_SECONDS, TRACK_RATE = 712, 330.0, 44_100
#: Blue and red difference of warm light on skin.
_WARM = 116, 143


@dataclass(frozen=True, slots=True, kw_only=True)
class Shooting:
    """One take: what it shows, from where, and how evenly it was stroked.

    `stroke` is the seconds from landing to landing. `view`: how much larger, turned by degrees, and
    how much flatter than from above.
    """

    technique: str
    angle: str
    kind: Kind
    stroke: float
    seconds: float
    view: tuple[float, float, float] = (1.0, 0.0, 1.0)
    slips: bool = False

    @property
    def name(self) -> str:
        return f"{self.technique}-{self.angle.replace(' ', '-')}.mp4"


TAKES = (
    Shooting(
        technique="snow-slide",
        angle="from above",
        kind=Kind.GLIDE,
        stroke=4.2,
        seconds=64,
        slips=True,
    ),
    Shooting(
        technique="snow-slide",
        angle="from the side",
        kind=Kind.GLIDE,
        stroke=3.8,
        seconds=64,
        view=(1.15, -14.0, 0.72),
    ),
    Shooting(
        technique="snow-slide",
        angle="close",
        kind=Kind.GLIDE,
        stroke=4.0,
        seconds=56,
        view=(1.45, 6.0, 0.95),
    ),
    Shooting(
        technique="sleepy-cat",
        angle="from above",
        kind=Kind.ALTERNATE,
        stroke=1.0,
        seconds=44,
    ),
    Shooting(
        technique="sleepy-cat",
        angle="from the side",
        kind=Kind.ALTERNATE,
        stroke=0.95,
        seconds=44,
        view=(1.2, 12.0, 0.75),
    ),
    Shooting(
        technique="cloud-line",
        angle="from above",
        kind=Kind.GLIDE,
        stroke=4.1,
        seconds=72,
    ),
)


def main() -> int:
    """Make both sessions in the studio named on the command line; return 0 where all went well."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("studio", type=Path)
    parser.add_argument("--quick", action="store_true", help="small videos, made quickly")
    arguments = parser.parse_args()
    studio: Path = arguments.studio
    if not (studio / "studio.toml").exists() and rondel(["start", str(studio)]):
        return 1
    folder = studio / "routines"
    track = folder / BROUGHT / "music" / "evening-walk.flac"
    for name, brief in (
        (COMPOSED, BRIEF),
        (BROUGHT, BRIEF + 'track = "music/evening-walk.flac"\n' + WITH_TAKES),
    ):
        (folder / name).mkdir(parents=True, exist_ok=True)
        (folder / name / "brief.toml").write_text(brief, "utf-8")
    _lay_track(track)
    _lay_takes(studio / "takes")
    quick = ["--quick"] if arguments.quick else []
    for name in (COMPOSED, BROUGHT):
        print(f"\n{name}: planning, and cutting takes to the beat", flush=True)
        brief, routine = str(folder / name / "brief.toml"), str(folder / name / "routine.json")
        takes = [str(studio / "takes" / one.name) for one in TAKES]
        for words in (
            ["plan", brief, "--filmed", "--out", routine],
            ["fit", routine, *takes],
            ["make", routine, *quick],
        ):
            if rondel(words):
                return 1
    return 0


def _lay_track(path: Path) -> None:
    if path.exists():
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    track = make_track(TRACK_SEED, TRACK_SECONDS, TRACK_RATE)
    part = path.with_name(f".part-{path.name}")
    soundfile.write(part, track.sound, track.rate, format="FLAC")
    part.replace(path)


def _lay_takes(folder: Path) -> None:
    """Draw the takes that are not there yet, side by side, and say what each shows."""
    folder.mkdir(parents=True, exist_ok=True)
    missing = [one for one in TAKES if not (folder / one.name).exists()]
    if missing:
        says = f"drawing {len(missing)} takes of made-up hands; that takes some minutes …"
        print(says, flush=True)
        with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
            drawn = pool.map(_draw, missing, [folder] * len(missing))
            for number, _ in enumerate(drawn, 1):
                print(f"  {number} of {len(missing)}", flush=True)
    for one in TAKES:
        words = ["watch", str(folder / one.name), "--technique", one.technique]
        if rondel([*words, "--angle", one.angle]):
            sys.exit(1)


def _draw(one: Shooting, folder: Path) -> None:
    motion = _motion(one)
    scene = TakeScene(motion=motion, trouble=Trouble(noise=2.0, shake=1.0))
    part = folder / f".part-{one.name}"
    _write(part, ((second, _seen(picture, one.view)) for second, picture in frames(scene)))
    part.replace(folder / one.name)


def _motion(one: Shooting) -> Motion:
    """Return a motion of about the strokes that were wished, and with a slip or without."""
    for seed in range(20_000, 30_000):
        if abs(_usual(seed, one.kind) / one.stroke - 1) > 0.02:
            continue
        rate = 2.0 if one.slips else 0.0
        motion = make_motion(seed, one.seconds, (one.kind,), jitter=0.12, slips_a_minute=rate)
        if bool(motion.slips) == one.slips:
            return motion
    raise AssertionError("no made-up motion is like that")


@cache
def _usual(seed: int, kind: Kind) -> float:
    motion = make_motion(seed, 30.0, (kind,), jitter=0.01)
    steps = np.diff(motion.landings)
    return float(np.median(steps)) if len(steps) else 1e9


def _seen(picture: Picture, view: tuple[float, float, float]) -> Picture:
    """Return what a camera sees that stands elsewhere than above."""
    scale, degrees, flat = view
    turn = np.deg2rad(degrees)
    linear = np.array([[1.0, 0.0], [0.0, flat]]) @ np.array(
        [[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]
    )
    linear *= scale
    middle = np.array([WIDTH / 2, HEIGHT / 2])
    move = np.column_stack([linear, middle - linear @ middle])
    seen = cv2.warpAffine(
        picture, move, (WIDTH, HEIGHT), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT_101
    )
    return np.asarray(seen, dtype=np.uint8)


def _write(path: Path, pictures: Iterator[tuple[float, Picture]]) -> None:
    """Write grey pictures as warm film."""
    with av.open(str(path), "w", format="mp4") as file:
        stream = file.add_stream("libx264", rate=25, options={"crf": "20"})
        assert isinstance(stream, VideoStream)
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        colour = [np.full((HEIGHT // 4, WIDTH), value, np.uint8) for value in _WARM]
        for number, (_, picture) in enumerate(pictures):
            planes = np.vstack([picture, *colour])
            frame = av.VideoFrame.from_ndarray(planes, format="yuv420p")
            frame.pts = number
            file.mux(stream.encode(frame))
        file.mux(stream.encode(None))


if __name__ == "__main__":
    sys.exit(main())
