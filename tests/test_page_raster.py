"""Drawings become pixels with the bundled fonts only."""

import numpy as np
import pytest

from rondel.adapters.raster import ResvgRasteriser, font_files
from rondel.app.ports.raster import Rasteriser
from rondel.model.errors import InternalError

SQUARE = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10" width="10" height="10">'
    '<rect width="10" height="10" fill="#a63d2f"/></svg>'
)


def test_pixels_are_rgba_in_the_colour_that_was_asked_for() -> None:
    rasteriser: Rasteriser = ResvgRasteriser()
    picture = rasteriser.rasterise(SQUARE, 30, 30)
    assert picture.shape == (30, 30, 4)
    assert picture.dtype == np.uint8
    assert picture[15, 15].tolist() == [0xA6, 0x3D, 0x2F, 0xFF]


def test_a_drawing_keeps_its_proportions_in_the_middle_of_the_box() -> None:
    picture = ResvgRasteriser().rasterise(SQUARE, 60, 20)
    assert picture.shape == (20, 60, 4)
    filled = np.flatnonzero(picture[10, :, 3] > 127)
    assert (filled[0], filled[-1]) == (20, 39)


def test_words_are_set_in_the_bundled_serif() -> None:
    assert len(font_files()) == 4
    words = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 40">'
        '<text x="0" y="30" font-size="30" font-family="Source Serif Pro">Homecoming</text></svg>'
    )
    drawn = ResvgRasteriser().rasterise(words, 200, 40)
    assert np.count_nonzero(drawn[:, :, 3]) > 800


def test_the_same_drawing_gives_the_same_pixels() -> None:
    one, two = (ResvgRasteriser().png(SQUARE, 17, 17) for _ in range(2))
    assert one == two


def test_what_is_not_a_drawing_is_our_own_mistake() -> None:
    with pytest.raises(InternalError):
        ResvgRasteriser().rasterise("<p>no</p>", 10, 10)
    with pytest.raises(InternalError):
        ResvgRasteriser().rasterise("<svg", 10, 10)
