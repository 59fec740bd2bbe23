"""Make clips of repetitive work whose truth is known from their mechanics.

    python benchmarks/clips_make.py FOLDER [--seed N] [--only NAME]

Needs an environment with `mujoco`, `scikit-image`, `av` and `opencv-python-headless`, and Debian's
`libosmesa6`; Rondel itself is not needed. Writes NAME.mp4 and NAME.json (the second at which each
cycle ends, counted in what the bodies did, not in what they were told to do) for every scene of
`clips_scenes.py`. Hands tire and hurry: cycles differ by an eighth in length and in width, some
are rests. The camera is held in a hand, light flickers, the sensor is noisy, frames are uneven and
some are lost; H.264 at a phone's thrift.
"""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

os.environ.setdefault("MUJOCO_GL", "osmesa")

import av
import cv2
import mujoco  # type: ignore[import-not-found]
import numpy as np
import skimage  # type: ignore[import-not-found]
from av.video.stream import VideoStream
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from clips_scenes import WorkScene, work_scenes

WIDTH, HEIGHT, FPS, SECONDS = 640, 360, 30, 30.0
STILL_SECONDS = 1.5  # before hands begin and after they are done
TICKS = 90_000
#: Photograph, tint (red, green, blue of 255) and how much of the photograph is left in it.
LOOKS = {
    "brick": ("brick.png", (150, 120, 105), 0.8),
    "grass": ("grass.png", (110, 135, 90), 0.8),
    "gravel": ("gravel.png", (150, 148, 140), 0.7),
    "moon": ("moon.png", (150, 150, 160), 0.8),
    "coffee": ("coffee.png", (150, 100, 70), 0.5),
    "wood": ("brick.png", (150, 110, 70), 0.35),
    "pale": ("grass.png", (200, 180, 140), 0.3),
    "steel": ("moon.png", (140, 145, 150), 0.3),
    "dough": ("gravel.png", (225, 210, 180), 0.15),
    "cloth": ("grass.png", (90, 120, 160), 0.45),
    "skin": ("gravel.png", (195, 150, 125), 0.16),
    "sleeve": ("grass.png", (80, 85, 110), 0.35),
}


def texture(photograph: str, tint: tuple[int, int, int], share: float) -> bytes:
    """Return a tinted photograph as PNG."""
    grey = cv2.imread(
        str(Path(skimage.__file__).parent / "data" / photograph), cv2.IMREAD_GRAYSCALE
    )
    assert grey is not None, photograph
    even = (grey.astype(np.float64) - grey.mean()) / grey.std() * 50 * share
    colour = np.clip(np.array(tint[::-1])[None, None] * (1 + even[..., None] / 128), 0, 255)
    done, data = cv2.imencode(".png", cv2.resize(colour.astype(np.uint8), (512, 512)))
    assert done
    return data.tobytes()


def model_of(scene: WorkScene) -> mujoco.MjModel:
    looks = "".join(
        f'<texture name="{n}" type="{"2d" if n == scene.floor else "cube"}" file="{n}.png"/>'
        f'<material name="{n}" texture="{n}" specular=".2"'
        f' texrepeat="{"3 3" if n == scene.floor else "1 1"}"/>'
        for n in LOOKS
    )
    skins = "".join(
        f'<default class="{n}"><geom material="{n}" mass=".06" friction=".5"/></default>'
        for n in ("skin", "sleeve")
    )
    text = f"""<mujoco><compiler angle="degree"/><option timestep="{scene.step}"
    integrator="{scene.integrator}"/>
    <visual><headlight ambient=".35 .35 .35" diffuse=".25 .25 .25"/>
    <quality shadowsize="1024"/></visual><default>{skins}</default><asset>{looks}</asset>
    <worldbody><light pos=".8 -.6 1.8" dir="-.4 .3 -1" diffuse=".6 .58 .55" castshadow="true"/>
    <geom type="plane" size="3 3 .1" material="{scene.floor}"/>{scene.parts}</worldbody>
    {scene.more}</mujoco>"""
    assets = {f"{n}.png": texture(*look) for n, look in LOOKS.items()}
    return mujoco.MjModel.from_xml_string(text, assets)


class Worker:
    """Where hands want to be: cycles of uneven length and width, with a rest now and then."""

    def __init__(self, scene: WorkScene, dice: np.random.Generator) -> None:
        self.forth = scene.forth
        second, turns = STILL_SECONDS, 0.0
        knots, widths = [(0.0, 0.0), (second, 0.0)], [1.0]
        while second < SECONDS - STILL_SECONDS - 1.3 * scene.period:
            second += scene.period * float(np.exp(0.12 * dice.standard_normal()))
            turns += 1
            knots.append((second, turns))
            widths.append(float(np.clip(1 + 0.12 * dice.standard_normal(), 0.75, 1.25)))
            if dice.random() < 1.5 * scene.period / SECONDS:
                second += float(dice.uniform(1.0, 2.2))
                knots.append((second, turns))
        knots.append((SECONDS + 1, turns))
        self.times = np.array([k[0] for k in knots])
        self.turns = np.array([k[1] for k in knots])
        self.widths = np.array([*widths, 1.0])

    def at(self, second: float) -> tuple[float, float]:
        """Return the place forth and back, -1 to 1, and the one a quarter of a cycle behind."""
        turn = float(np.interp(second, self.times, self.turns))
        number = min(int(turn), len(self.widths) - 2)
        share = turn - number
        part = 0.5 * share / self.forth
        if share > self.forth:
            part = 0.5 + 0.5 * (share - self.forth) / (1 - self.forth)
        soft = 0.5 - 0.5 * np.cos(np.pi * share)
        width = self.widths[number] * (1 - soft) + self.widths[number + 1] * soft
        return -width * float(np.cos(2 * np.pi * part)), -width * float(np.sin(2 * np.pi * part))


def frame_times(dice: np.random.Generator) -> NDArray[np.float64]:
    """Return when frames are taken: uneven, and three of a hundred are lost."""
    steps = dice.uniform(0.85, 1.15, int(SECONDS * FPS)) + (dice.random(int(SECONDS * FPS)) < 0.03)
    times = np.cumsum(steps) / FPS
    return np.asarray(times[times < SECONDS] - times[0])


def filmed(
    scene: WorkScene, seed: int, trace: list[tuple[float, float]]
) -> Iterator[tuple[float, NDArray[np.uint8]]]:
    """Yield (second, picture in colour); where the counted joint is goes to `trace`."""
    dice = np.random.default_rng([seed, sum(scene.name.encode())])
    model = model_of(scene)
    data, worker = mujoco.MjData(model), Worker(scene, dice)
    place = model.joint(scene.joint).qposadr[0]
    renderer = mujoco.Renderer(model, HEIGHT, WIDTH)
    camera = mujoco.MjvCamera()
    knots = np.arange(0, SECONDS + 2, 0.4)
    sway = CubicSpline(knots, dice.standard_normal((len(knots), 4)))
    distance, azimuth, elevation, high = scene.camera
    for second in frame_times(dice):
        while data.time < second:
            for name, target in scene.drive(*worker.at(data.time)).items():
                data.actuator(name).ctrl[0] = target
            mujoco.mj_step(model, data)
        trace.append((float(second), float(data.qpos[place])))
        a, b, c, d = sway(second)
        camera.lookat[:] = (0.002 * a, 0.002 * b, high)
        camera.distance = distance * (1 + 0.002 * d)
        camera.azimuth, camera.elevation = azimuth + 180 + 0.15 * c, elevation + 0.15 * a
        renderer.update_scene(data, camera)
        picture = renderer.render().astype(np.float32)
        picture *= 1 + 0.02 * np.sin(2 * np.pi * 9.7 * second) + 0.05 * np.sin(0.5 * second)
        picture += dice.normal(0, 4, picture.shape[:2])[..., None]
        picture += dice.normal(0, 2, picture.shape)
        yield float(second), np.clip(picture, 0, 255).astype(np.uint8)
    renderer.close()


def cycles_of(trace: list[tuple[float, float]]) -> list[float]:
    """Return the second at which each cycle comes back: low, high, and low again.

    High and low are apart by more than half of the usual width, so that trembling is no cycle.
    """
    seconds, place = np.array(trace).T
    low, high = np.percentile(place, [4, 96])
    middle, half = (low + high) / 2, (high - low) / 4
    was_high, found = False, []
    for second, at in zip(seconds, place, strict=True):
        if at > middle + half:
            was_high = True
        elif at < middle - half and was_high:
            was_high = False
            found.append(float(second))
    return found


def write(folder: Path, scene: WorkScene, seed: int) -> int:
    trace: list[tuple[float, float]] = []
    with av.open(str(folder / f"{scene.name}.mp4"), "w") as file:
        stream = file.add_stream("libx264", rate=FPS, options={"crf": "26", "preset": "veryfast"})
        assert isinstance(stream, VideoStream)
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        stream.time_base = stream.codec_context.time_base = Fraction(1, TICKS)
        for second, picture in filmed(scene, seed, trace):
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts, frame.time_base = round(second * TICKS), Fraction(1, TICKS)
            file.mux(stream.encode(frame))
        file.mux(stream.encode(None))
    cycles = cycles_of(trace)
    truth = {"says": scene.says, "seed": seed, "cycles": cycles, "trace": trace}
    (folder / f"{scene.name}.json").write_text(json.dumps(truth), "utf-8")
    return len(cycles)


def main() -> None:
    parser = argparse.ArgumentParser(description="Make clips of repetitive work.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    for scene in work_scenes():
        if asked.only in (None, scene.name):
            print(f"{scene.name}: {write(asked.folder, scene, asked.seed)} cycles", flush=True)


if __name__ == "__main__":
    main()
