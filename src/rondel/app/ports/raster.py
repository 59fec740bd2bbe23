"""What the app asks of whatever turns drawings into pixels."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray


class Rasteriser(Protocol):
    """Turns an SVG into pixels, with the bundled fonts only, the same everywhere."""

    def rasterise(self, svg: str, width: int, height: int) -> NDArray[np.uint8]:
        """Return the drawing as RGBA, straight alpha, of shape (height, width, 4).

        The drawing keeps its proportions and is fitted into the box, in its middle; what it does
        not cover is transparent. Raises InternalError where `svg` is not a drawing.
        """
        ...
