"""The table of letter widths says what the fonts say, and sentences are broken by it."""

from __future__ import annotations

import pytest

from page_fonts import read_font
from rondel.drawing import lettering_widths
from rondel.drawing.lettering import (
    ASCENT,
    DESCENT,
    UNKNOWN_ADVANCE,
    Face,
    broken_into_lines,
    evenly_broken,
    width_of,
)

FACES = {
    Face.REGULAR: ("Regular", lettering_widths.REGULAR),
    Face.ITALIC: ("It", lettering_widths.ITALIC),
    Face.SEMIBOLD: ("Semibold", lettering_widths.SEMIBOLD),
    Face.SEMIBOLD_ITALIC: ("SemiboldIt", lettering_widths.SEMIBOLD_ITALIC),
}
SENTENCE = "Warm hands first, then ask what is welcome today and what is not."


@pytest.mark.parametrize("face", list(Face))
def test_every_width_is_that_of_the_font_file(face: Face) -> None:
    name, table = FACES[face]
    font = read_font(name)
    letters = "".join(table.values())
    assert len(letters) == len(set(letters)) > 200
    assert set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 .,;:·’") <= set(
        letters
    )
    for letter in letters:
        assert width_of(letter, face, 1000) == pytest.approx(1000 * font.advances[letter])


@pytest.mark.parametrize("face", list(Face))
def test_plain_letters_stay_within_ascent_and_descent(face: Face) -> None:
    font = read_font(FACES[face][0])
    low, high = font.extent("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ(),;", 1.0)
    assert -DESCENT <= low < -0.2
    assert 0.7 < high <= ASCENT


def test_a_letter_nobody_knows_is_taken_as_wide() -> None:
    assert width_of("漢", Face.REGULAR, 10) == UNKNOWN_ADVANCE / 100


def test_lines_keep_every_word_and_the_room() -> None:
    lines = broken_into_lines(SENTENCE, Face.REGULAR, 10, 120)
    assert " ".join(lines) == SENTENCE
    assert all(width_of(line, Face.REGULAR, 10) <= 120 for line in lines)
    assert len(lines) > 1


def test_a_word_wider_than_the_room_is_cut_into_pieces() -> None:
    lines = broken_into_lines("a thoracolumbar b", Face.REGULAR, 10, 30)
    assert "".join(lines).replace(" ", "") == "athoracolumbarb"
    assert all(width_of(line, Face.REGULAR, 10) <= 30 for line in lines)


def test_even_lines_are_no_more_and_more_alike() -> None:
    plain = broken_into_lines(SENTENCE, Face.REGULAR, 10, 200)
    even = evenly_broken(SENTENCE, Face.REGULAR, 10, 200)
    assert " ".join(even) == SENTENCE
    assert len(even) == len(plain)

    def spread(lines: tuple[str, ...]) -> float:
        widths = [width_of(line, Face.REGULAR, 10) for line in lines]
        return max(widths) - min(widths)

    assert spread(even) <= spread(plain)
