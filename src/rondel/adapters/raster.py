"""Drawings to pixels, through resvg."""

from __future__ import annotations

from importlib.resources import files
from typing import cast

import cv2
import numpy as np
import resvg_py
from numpy.typing import NDArray

from rondel.model.errors import InternalError

FONTS = files("rondel") / "data" / "fonts"


def font_files() -> list[str]:
    """Return the paths of the bundled fonts, in order of name."""
    return sorted(str(f) for f in FONTS.iterdir() if f.name.endswith(".ttf"))


class ResvgRasteriser:
    """The port `Rasteriser`; system fonts are never looked at, so pixels are alike everywhere."""

    def __init__(self) -> None:
        self._fonts = font_files()

    def png(self, svg: str, width: int, height: int) -> bytes:
        """Return the drawing as the bytes of a PNG of `width` × `height`."""
        if width < 1 or height < 1:
            raise ValueError("a picture is at least one pixel wide and high")
        fitted = _fitted(svg, width, height)
        try:
            return bytes(
                resvg_py.svg_to_bytes(
                    svg_string=fitted,
                    width=width,
                    height=height,
                    skip_system_fonts=True,
                    font_files=self._fonts,
                    serif_family="Source Serif Pro",
                )
            )
        except ValueError as error:
            raise InternalError(f"a drawing could not be turned into pixels ({error})") from error

    def rasterise(self, svg: str, width: int, height: int) -> NDArray[np.uint8]:
        """Return the drawing as RGBA, straight alpha, of shape (height, width, 4)."""
        encoded = np.frombuffer(self.png(svg, width, height), np.uint8)
        bgra = cv2.imdecode(encoded, cv2.IMREAD_UNCHANGED)
        if bgra is None:
            raise InternalError("a drawing came back as a picture that cannot be read")
        return cast("NDArray[np.uint8]", cv2.cvtColor(bgra, cv2.COLOR_BGRA2RGBA))


def _fitted(svg: str, width: int, height: int) -> str:
    """Return `svg` with its root's width and height set to the box, so that viewBox fits it in."""
    start = svg.find("<svg")
    end = svg.find(">", start)
    if start < 0 or end < 0:
        raise InternalError("a drawing has no <svg> element")
    root = svg[start:end]
    for name in ("width", "height"):
        at = root.find(f" {name}=")
        if at >= 0:
            quote = root[at + len(name) + 2]
            close = root.index(quote, at + len(name) + 3)
            root = root[:at] + root[close + 1 :]
    return f'{svg[:start]}{root} width="{width}" height="{height}"{svg[end:]}'
