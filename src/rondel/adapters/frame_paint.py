"""Frames of a reel, painted: stills once each, then only the small boxes in which something moves.

Planes are 8-bit Y'CbCr 4:2:0 in limited range with the matrix of Recommendation ITU-R BT.709
(coefficients 0.2126, 0.7152, 0.0722), stacked in one array of shape (height × 3/2, width): luma
rows first, then the blue and the red difference, each a quarter of the size.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol, cast

import cv2
import numpy as np
from cv2.typing import MatLike
from numpy.typing import NDArray

from rondel.adapters.planes import joined, split
from rondel.app.ports.raster import Rasteriser
from rondel.drawing.frames.reel import Box, Moment, Piece, Placed, Reel, Still

Pixels = NDArray[np.uint8]
Boxed = tuple[int, int, int, int]  # left, top, right, bottom; all even

#: R'G'B' 0..255 to Y', Cb, Cr 0..255 (ITU-R BT.709-6, items 3.2 to 3.5, 8 bits).
_MATRIX = np.array(
    [
        [0.2126 * 219 / 255, 0.7152 * 219 / 255, 0.0722 * 219 / 255],
        [-0.2126 / 1.8556 * 224 / 255, -0.7152 / 1.8556 * 224 / 255, 0.9278 / 1.8556 * 224 / 255],
        [0.7874 / 1.5748 * 224 / 255, -0.7152 / 1.5748 * 224 / 255, -0.0722 / 1.5748 * 224 / 255],
    ],
    dtype=np.float32,
)
_OFFSET = np.array([16.0, 128.0, 128.0], dtype=np.float32)


def colour_planes(rgb: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return Y', Cb, Cr of shape (height, width, 3), not yet rounded."""
    return cast("NDArray[np.float32]", cv2.transform(rgb.astype(np.float32), _MATRIX) + _OFFSET)


def planes_of_rgb(picture: Pixels) -> Pixels:
    """Return planes of shape (height x 3/2, width) of an RGB picture of even height and width."""
    height, width = picture.shape[:2]
    with_offset = np.hstack([_MATRIX, _OFFSET[:, None]])
    planes = np.asarray(cv2.transform(picture, with_offset), np.uint8)
    halves = width // 2, height // 2
    small = np.asarray(cv2.resize(planes, halves, interpolation=cv2.INTER_AREA), np.uint8)
    return joined((planes[..., 0], small[..., 1], small[..., 2]))


@dataclass(frozen=True, slots=True)
class Sprite:
    """A piece as (Y', Cb, Cr, alpha), premultiplied and cut to what can be seen of it.

    `across` and `down` lead from the middle of the piece to the middle of the sprite.
    """

    pixels: Pixels
    across: float
    down: float


class Art:
    """Drawings turned to pixels, kept while they are likely to come again: reels share many."""

    def __init__(self, rasteriser: Rasteriser) -> None:
        self._raster = rasteriser
        self.picture = lru_cache(maxsize=24)(self._picture)
        self.sprite = lru_cache(maxsize=192)(self._sprite)

    def _picture(self, svg: str, width: int, height: int) -> Pixels:
        """Return a drawing as RGBA, straight alpha."""
        return self._raster.rasterise(svg, width, height)

    def _sprite(self, piece: Piece, scale: float) -> Sprite | None:
        """Return a piece ready to be laid over, with an empty edge; None where nothing shows."""
        rgba = self._raster.rasterise(
            piece.svg, round(piece.width * scale), round(piece.height * scale)
        )
        rows, columns = np.flatnonzero(rgba[..., 3].any(1)), np.flatnonzero(rgba[..., 3].any(0))
        if not len(rows):
            return None
        top, bottom, left, right = rows[0], rows[-1] + 1, columns[0], columns[-1] + 1
        seen = rgba[top:bottom, left:right]
        alpha = seen[..., 3:].astype(np.float32) / 255
        premultiplied = np.dstack([colour_planes(seen[..., :3]) * alpha, alpha * 255])
        padded = np.pad(premultiplied, ((1, 1), (1, 1), (0, 0)))
        return Sprite(
            np.clip(padded + 0.5, 0, 255).astype(np.uint8),
            float(left + right - rgba.shape[1]) / 2,
            float(top + bottom - rgba.shape[0]) / 2,
        )


class FilmSource(Protocol):
    """Gives the film of a reel as planes, frame by frame."""

    def planes(self, number: int) -> Pixels: ...


class FramePainter:
    """Paints one reel at `scale` of the size it was laid out for; over `film`, if any."""

    def __init__(
        self, reel: Reel, art: Art, *, scale: float = 1.0, film: FilmSource | None = None
    ) -> None:
        self._reel, self._art, self._scale, self._film = reel, art, scale, film
        self._width = round(reel.width * scale)
        self._height = round(reel.height * scale)
        self._stills: dict[int, Pixels] = {}

    def frames(self) -> Iterator[Pixels]:
        """Give the planes of every frame. The array is the same each time: use it before the next.

        Only what the frame before had covered is put back, so the cost is that of what moves.
        """
        canvas = np.empty((self._height * 3 // 2, self._width), np.uint8)
        shown: tuple[int, int, float] | None = None
        base = canvas
        dirty: list[Boxed] = []
        if self._film is not None:
            yield from self._over_film(canvas, self._film)
            return
        for moment in self._reel.moments:
            key = (moment.still, moment.fading_in, moment.mix)
            if key != shown:
                base = self._base(moment)
                np.copyto(canvas, base)
                shown = key
            else:
                for box in dirty:
                    self._restore(canvas, base, box)
            covered = (self._blend(canvas, placed) for placed in moment.placed)
            dirty = [box for box in covered if box is not None]
            yield canvas

    def _over_film(self, canvas: Pixels, film: FilmSource) -> Iterator[Pixels]:
        for number, moment in enumerate(self._reel.moments):
            np.copyto(canvas, film.planes(number))
            for placed in moment.placed:
                self._blend(canvas, placed)
            yield canvas

    def _base(self, moment: Moment) -> Pixels:
        one = self._still(moment.still)
        if moment.mix <= 0:
            return one
        other = self._still(moment.fading_in)
        mixed = cv2.addWeighted(one, 1 - moment.mix, other, moment.mix, 0)
        return cast("Pixels", mixed)

    def _still(self, index: int) -> Pixels:
        if index not in self._stills:
            if len(self._stills) >= 6:  # a reel meets its stills in order: the oldest is done with
                self._stills.pop(next(iter(self._stills)))
            self._stills[index] = self._paint_still(self._reel.stills[index])
        return self._stills[index]

    def _paint_still(self, still: Still) -> Pixels:
        picture = np.empty((self._height, self._width, 3), np.uint8)
        for box, colour in still.grounds:
            self._part(picture, box)[:] = tuple(bytes.fromhex(colour[1:]))
        for inlay in still.laid_over:
            under = self._part(picture, inlay.box)
            over = self._art.picture(inlay.svg, under.shape[1], under.shape[0])
            alpha = cv2.cvtColor(over[..., 3], cv2.COLOR_GRAY2RGB)
            drawn = cv2.multiply(cv2.cvtColor(over, cv2.COLOR_RGBA2RGB), alpha, scale=1 / 255)
            _over(under, drawn, alpha)
        return planes_of_rgb(picture)

    def _part(self, picture: Pixels, box: Box) -> Pixels:
        """Return the part of `picture` that is `box`, as a view."""
        x, y, width, height = (round(v * self._scale) for v in box)
        return picture[y : y + height, x : x + width]

    def _planes_of(self, canvas: Pixels) -> tuple[Pixels, Pixels, Pixels]:
        return split(canvas, (self._width, self._height))

    def _restore(self, canvas: Pixels, base: Pixels, box: Boxed) -> None:
        left, top, right, bottom = box
        halves = slice(top // 2, bottom // 2), slice(left // 2, right // 2)
        wholes = slice(top, bottom), slice(left, right)
        for to, source, part in zip(
            self._planes_of(canvas), self._planes_of(base), (wholes, halves, halves), strict=True
        ):
            to[part] = source[part]

    def _blend(self, canvas: Pixels, placed: Placed) -> Boxed | None:
        """Lay one piece over the canvas and return the box it covers; None where it shows nothing.

        Colour differences are averaged over 2 × 2 pixels, so the box keeps to even pixels.
        """
        if placed.opacity <= 0:
            return None
        sprite = self._art.sprite(self._reel.pieces[placed.piece], self._scale)
        if sprite is None:
            return None
        matrix, box = self._fitted(sprite, placed)
        left, top, right, bottom = box
        if left >= right or top >= bottom:
            return None
        patch = cv2.warpAffine(
            sprite.pixels, matrix, (right - left, bottom - top), flags=cv2.INTER_LINEAR
        )
        if placed.opacity < 1:
            patch = cv2.convertScaleAbs(patch, alpha=placed.opacity)
        small = cv2.resize(
            patch, ((right - left) // 2, (bottom - top) // 2), interpolation=cv2.INTER_AREA
        )
        y, _, _, alpha = cv2.split(patch)
        _, blue, red, thin = cv2.split(small)
        plane_y, plane_blue, plane_red = self._planes_of(canvas)
        halves = slice(top // 2, bottom // 2), slice(left // 2, right // 2)
        _over(plane_y[top:bottom, left:right], y, alpha)
        _over(plane_blue[halves], blue, thin)
        _over(plane_red[halves], red, thin)
        return box

    def _fitted(self, sprite: Sprite, placed: Placed) -> tuple[NDArray[np.float64], Boxed]:
        """Return the map from the sprite to its box, and the box, even and inside the frame."""
        height, width = sprite.pixels.shape[:2]
        turn = np.deg2rad(placed.degrees)
        cos, sin = np.cos(turn), np.sin(turn)
        a, b = cos * placed.scale_x, -sin * placed.scale_y
        c, d = sin * placed.scale_x, cos * placed.scale_y
        reach_x = (abs(a) * width + abs(b) * height) / 2
        reach_y = (abs(c) * width + abs(d) * height) / 2
        x = placed.x * self._scale + a * sprite.across + b * sprite.down
        y = placed.y * self._scale + c * sprite.across + d * sprite.down
        left = max(int(np.floor(x - reach_x)) & ~1, 0)
        top = max(int(np.floor(y - reach_y)) & ~1, 0)
        right = min((int(np.ceil(x + reach_x)) + 1) & ~1, self._width)
        bottom = min((int(np.ceil(y + reach_y)) + 1) & ~1, self._height)
        middle_x, middle_y = (width - 1) / 2, (height - 1) / 2
        shift_x = x - 0.5 - left - a * middle_x - b * middle_y
        shift_y = y - 0.5 - top - c * middle_x - d * middle_y
        return np.array([[a, b, shift_x], [c, d, shift_y]]), (left, top, right, bottom)


def _over(under: Pixels, premultiplied: MatLike, alpha: MatLike) -> None:
    """Lay a premultiplied plane over `under`, in place."""
    kept = cv2.multiply(under, cv2.bitwise_not(alpha), scale=1 / 255)
    under[:] = cv2.add(kept, premultiplied)
