"""Made-up takes: textured hands on a textured back, drawn from a motion with exact truth.

`frames(scene)` yields seconds and grey pictures of 640 × 360, about 150 a second. Light, skin and
camera behave as badly as `Trouble` says. Nothing is anybody's body.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from take_motion import HandAt, Motion

Grey = NDArray[np.uint8]
Plane = NDArray[np.float32]

WIDTH, HEIGHT = 640, 360
MARGIN = 40  # around the frame, for a camera that shakes
ARM = 300  # pixels of forearm behind a hand


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """What is not as it should be. Pixels are those of the frame; levels are of 255."""

    noise: float = 3.0
    shake: float = 1.5
    flicker: float = 0.02
    highlights: int = 0
    stretch: float = 0.0
    crossings_a_minute: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeScene:
    """A motion, how it is filmed, and when each frame is taken."""

    motion: Motion
    trouble: Trouble
    fps: float = 25.0
    is_variable: bool = False

    @property
    def times(self) -> NDArray[np.float64]:
        """Return the seconds of the frames."""
        count = int(self.motion.seconds * self.fps)
        if not self.is_variable:
            return np.arange(count) / self.fps
        dice = np.random.default_rng(self.motion.seed + 77)
        steps = dice.uniform(0.8, 1.2, count) + (dice.random(count) < 0.03)
        times = (np.cumsum(steps) - steps[0]) / self.fps
        return np.asarray(times[times < self.motion.seconds])


def frames(scene: TakeScene) -> Iterator[tuple[float, Grey]]:
    """Yield (second, grey picture)."""
    dice = np.random.default_rng(scene.motion.seed + 1000)
    stage = _Stage(scene, dice)
    for second in scene.times:
        yield float(second), stage.picture(float(second))


def _texture(
    dice: np.random.Generator, height: int, width: int, parts: dict[float, float]
) -> Plane:
    """Return a sum of blurred noises: standard deviation in levels by blur in pixels."""
    plane = np.zeros((height, width), dtype=np.float32)
    for blur, level in parts.items():
        noise = dice.standard_normal((height, width)).astype(np.float32)
        soft = cv2.GaussianBlur(noise, (0, 0), blur)
        plane += soft * (level / float(soft.std()))
    return plane


def _slow(dice: np.random.Generator, seconds: float, every: float) -> tuple[Plane, float]:
    """Return knots of a slow random wander, one each `every` seconds."""
    return dice.standard_normal(int(seconds / every) + 4).astype(np.float32), every


def _at(wander: tuple[Plane, float], second: float) -> float:
    knots, every = wander
    place = second / every
    first = int(place)
    share = place - first
    smooth = share * share * (3 - 2 * share)
    return float(knots[first] * (1 - smooth) + knots[first + 1] * smooth)


class _Stage:
    """What is drawn once, and how a frame is put together."""

    def __init__(self, scene: TakeScene, dice: np.random.Generator) -> None:
        self.scene, self.dice = scene, dice
        seconds = scene.motion.seconds
        self.back = _back(dice)
        self.hands = [_hand(dice), _hand(dice)]
        self.wander = [_slow(dice, seconds, 0.35) for _ in range(3)]
        self.drift = [_slow(dice, seconds, 2.5) for _ in range(2 * 6)]
        self.light = float(dice.uniform(9.3, 11.7))
        count = dice.poisson(scene.trouble.crossings_a_minute * seconds / 60)
        self.crossings = sorted(float(t) for t in dice.uniform(2, max(3.0, seconds - 2), count))
        rows, columns = np.mgrid[0 : self.back.shape[0], 0 : self.back.shape[1]]
        self.rows, self.columns = rows.astype(np.float32), columns.astype(np.float32)
        self.noise = dice.standard_normal((8, HEIGHT, WIDTH)).astype(np.float32)
        self.before: tuple[float, tuple[HandAt, HandAt]] | None = None

    def picture(self, second: float) -> Grey:
        trouble = self.scene.trouble
        hands = self.scene.motion.hands(second)
        plane = self._stretched(second, hands) if trouble.stretch else self.back
        plane = plane.copy()
        for hand, sprite in zip(hands, self.hands, strict=True):
            _dimple(plane, hand)
            _lay(plane, sprite, hand)
        self._cross(plane, second)
        self._shine(plane, second, hands)
        plane = self._filmed(plane, second)
        plane *= 1 + trouble.flicker * np.sin(2 * np.pi * self.light * second)
        pick = int(self.dice.integers(8))
        roll = int(self.dice.integers(HEIGHT))
        plane += trouble.noise * np.roll(self.noise[pick], roll, axis=0)
        return np.clip(plane, 0, 255).astype(np.uint8)

    def _stretched(self, second: float, hands: tuple[HandAt, HandAt]) -> Plane:
        """Drag the skin around each hand along its way."""
        before = self.scene.motion.hands(max(0.0, second - 0.12))
        across, down = self.columns.copy(), self.rows.copy()
        for now, was in zip(hands, before, strict=True):
            pull = np.array([now.x - was.x, now.y - was.y])
            size = float(np.hypot(*pull))
            pull = pull * (self.scene.trouble.stretch * np.tanh(size / 6) / max(size, 1e-6))
            x, y = now.x + MARGIN, now.y + MARGIN
            near = np.exp(-((self.columns - x) ** 2 + (self.rows - y) ** 2) / (2 * 55.0**2))
            across -= float(pull[0]) * near
            down -= float(pull[1]) * near
        return np.asarray(
            cv2.remap(self.back, across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT),
            dtype=np.float32,
        )

    def _cross(self, plane: Plane, second: float) -> None:
        """Let a sleeved arm pass through the picture."""
        for began in self.crossings:
            share = (second - began) / 1.2
            if 0 <= share <= 1:
                x = int((share * 1.6 - 0.3) * WIDTH) + MARGIN
                cv2.line(plane, (x, -20), (x - 120, HEIGHT + 100), 60.0, 70, cv2.LINE_AA)

    def _shine(self, plane: Plane, second: float, hands: tuple[HandAt, HandAt]) -> None:
        """Lay moving highlights of oil on skin and hands."""
        for n in range(self.scene.trouble.highlights):
            x = WIDTH / 2 + MARGIN + 110 * _at(self.drift[2 * n], second)
            y = HEIGHT / 2 + MARGIN + 70 * _at(self.drift[2 * n + 1], second)
            if n % 2:
                hand = hands[n % 4 // 2]
                x, y = 0.5 * x + 0.5 * (hand.x + MARGIN), 0.5 * y + 0.5 * (hand.y + MARGIN)
            _add_glow(plane, x, y, 16.0, 90.0)

    def _filmed(self, plane: Plane, second: float) -> Plane:
        """Look at the stage with a camera in a hand."""
        shake = self.scene.trouble.shake
        x, y, turn = (_at(w, second) for w in self.wander)
        angle = 0.0015 * shake * turn
        move = np.array(
            [
                [1.0, -angle, -MARGIN + shake * x + angle * HEIGHT / 2],
                [angle, 1.0, -MARGIN + shake * y - angle * WIDTH / 2],
            ],
            dtype=np.float32,
        )
        return np.asarray(
            cv2.warpAffine(plane, move, (WIDTH, HEIGHT), flags=cv2.INTER_LINEAR), dtype=np.float32
        )


def _back(dice: np.random.Generator) -> Plane:
    """Draw a back on a sheet: skin is smooth, the sheet is not."""
    height, width = HEIGHT + 2 * MARGIN, WIDTH + 2 * MARGIN
    skin = 140 + _texture(dice, height, width, {1.2: 3.0, 4.0: 4.0, 30.0: 9.0})
    sheet = 95 + _texture(dice, height, width, {1.0: 5.0, 6.0: 8.0, 40.0: 10.0})
    mask = np.zeros((height, width), dtype=np.float32)
    cv2.ellipse(mask, (width // 2, height // 2), (330, 185), 0, 0, 360, 1.0, -1, cv2.LINE_AA)
    mask = np.asarray(cv2.GaussianBlur(mask, (0, 0), 3), dtype=np.float32)
    spine = np.exp(-((np.arange(height) - height / 2) ** 2) / (2 * 9.0**2))[:, None]
    skin = skin - 12 * spine.astype(np.float32)
    for _ in range(9):
        x, y = int(dice.integers(150, width - 150)), int(dice.integers(90, height - 90))
        cv2.circle(skin, (x, y), int(dice.integers(1, 4)), 95.0, -1, cv2.LINE_AA)
    return np.asarray(mask * skin + (1 - mask) * sheet, dtype=np.float32)


def _hand(dice: np.random.Generator) -> tuple[Plane, Plane]:
    """Draw a hand with its forearm, pointing up: levels and cover, (height, width)."""
    width, height = 130, 110 + ARM
    cover = np.zeros((height, width), dtype=np.float32)
    cv2.ellipse(cover, (65, 78), (27, 33), 0, 0, 360, 1.0, -1, cv2.LINE_AA)
    for x, top, lean in ((43, 22, -5), (57, 12, -1), (71, 14, 2), (85, 26, 6)):
        cv2.line(cover, (x, 70), (x + lean, top), 1.0, 12, cv2.LINE_AA)
    cv2.line(cover, (88, 84), (108, 62), 1.0, 13, cv2.LINE_AA)
    cv2.line(cover, (65, 96), (65, height - 1), 1.0, 40, cv2.LINE_AA)
    cover = np.asarray(cv2.GaussianBlur(cover, (0, 0), 1.0), dtype=np.float32)
    edge = cv2.GaussianBlur(cover, (0, 0), 5.0)
    level = 152 + _texture(dice, height, width, {1.2: 3.5, 4.0: 5.0, 18.0: 7.0})
    level = level - 45 * (1 - edge)
    for x in (50, 64, 78):
        cv2.line(level, (x, 66), (x, 34), 118.0, 2, cv2.LINE_AA)
    return np.asarray(level, dtype=np.float32), np.asarray(cover, dtype=np.float32)


def _lay(plane: Plane, sprite: tuple[Plane, Plane], hand: HandAt) -> None:
    """Lay a hand on the stage."""
    level, cover = sprite
    cosine, sine = hand.size * np.cos(hand.turn), hand.size * np.sin(hand.turn)
    x, y = hand.x + MARGIN, hand.y + MARGIN
    move = np.array(
        [
            [cosine, -sine, x - cosine * 65 + sine * 78],
            [sine, cosine, y - sine * 65 - cosine * 78],
        ],
        dtype=np.float32,
    )
    size = (plane.shape[1], plane.shape[0])
    on = cv2.warpAffine(cover, move, size, flags=cv2.INTER_LINEAR)
    drawn = cv2.warpAffine(level, move, size, flags=cv2.INTER_LINEAR)
    shade = cv2.warpAffine(cover, move + np.array([[0, 0, 5], [0, 0, 6]], np.float32), size)
    plane *= 1 - 0.12 * shade
    plane *= 1 - on
    plane += on * drawn


def _dimple(plane: Plane, hand: HandAt) -> None:
    """Darken the skin around a hand that presses."""
    if hand.depth > 0.02:
        _add_glow(plane, hand.x + MARGIN, hand.y + MARGIN, 52.0, -18.0 * hand.depth)


def _add_glow(plane: Plane, x: float, y: float, size: float, level: float) -> None:
    reach = int(3 * size)
    top, left = max(0, int(y) - reach), max(0, int(x) - reach)
    bottom, right = min(plane.shape[0], int(y) + reach), min(plane.shape[1], int(x) + reach)
    if top >= bottom or left >= right:
        return
    down = np.exp(-((np.arange(top, bottom) - y) ** 2) / (2 * size**2))
    across = np.exp(-((np.arange(left, right) - x) ** 2) / (2 * size**2))
    plane[top:bottom, left:right] += (level * np.outer(down, across)).astype(np.float32)
