"""The drawn body and hands against measured people, and their colours against the paper."""

from __future__ import annotations

import re

import numpy as np
import pytest

from rondel.drawing.figure import SPRITE_BOX, Look, SkinTone, hand_shape
from rondel.drawing.figures import bodies
from rondel.drawing.figures.curves import Array, pieces_of, sampled
from rondel.drawing.figures.hands import PALM_OUTLINE
from rondel.drawing.figures.looks import (
    INK,
    LINEN_LINE,
    MAT,
    PAINTS,
    PAPER,
    PEAK,
    QUIET,
    BodyShape,
    breadth_at,
)
from rondel.drawing.figures.views import HAND_CM
from rondel.model.words import Contact

# ANSUR II 2012 (Gordon et al. 2014), men and women, millimetres; here the mean of both in cm.
BIACROMIAL = (41.57 + 36.54) / 2
WAIST_BACK_LENGTH = (47.76 + 42.54) / 2
HAND_LENGTH = (19.33 + 18.11) / 2
HAND_BREADTH = (8.83 + 7.82) / 2
FOREARM_HAND = (48.02 + 43.99) / 2
FOOT_LENGTH = (27.12 + 24.63) / 2
CALF_GIRTH = (39.23 + 37.33) / 2


def crossings(outline: Array, height_cm: float) -> list[float]:
    """Where a level line at `height_cm` meets the outline, from left to right."""
    ends = np.roll(outline, -1, axis=0)
    found = []
    for (x0, y0), (x1, y1) in zip(outline, ends, strict=True):
        if (y0 > height_cm) != (y1 > height_cm):
            found.append(x0 + (height_cm - y0) / (y1 - y0) * (x1 - x0))
    return sorted(found)


BODY = sampled(pieces_of(bodies.BACK_BODY))


def test_the_shoulders_are_as_broad_as_people_are() -> None:
    """The acromion stands where the slope of the shoulder turns down, some 4 cm below C7 (M)."""
    xs = crossings(BODY, 4.2)
    assert xs[-1] - xs[0] == pytest.approx(BIACROMIAL, rel=0.05)


def test_the_waist_is_as_far_below_the_neck_as_people_are_long() -> None:
    heights = np.arange(25.0, 60.0, 0.25)
    breadths = [min(x for x in crossings(BODY, h) if x > 0) for h in heights]
    assert heights[int(np.argmin(breadths))] == pytest.approx(WAIST_BACK_LENGTH, rel=0.08)


def test_the_forearm_with_its_hand_has_a_persons_length() -> None:
    """From the elbow's level, where the arm is narrowest above the forearm, to the finger's tip."""
    arm = BODY[(BODY[:, 0] > 18) & (BODY[:, 1] < 85)]
    tip = arm[np.argmax(arm[:, 1])]
    elbow = np.asarray([np.mean(crossings(BODY, 36.8)[-2:]), 36.8])
    assert np.linalg.norm(tip - elbow) == pytest.approx(FOREARM_HAND, rel=0.05)


def test_the_calf_is_as_thick_as_people_are() -> None:
    """A round calf: girth / π is its breadth."""
    outer, inner = crossings(BODY, 112.0)[-1], crossings(BODY, 112.0)[-2]
    assert outer - inner == pytest.approx(CALF_GIRTH / np.pi, rel=0.08)


def test_the_sole_is_as_long_as_people_have_it() -> None:
    toe = min(y - long for _, y, _, long in bodies.TOES)
    heel = max(y for _, y in bodies.SOLE)
    assert heel - toe == pytest.approx(FOOT_LENGTH, rel=0.03)


def test_the_hand_is_as_long_and_as_broad_as_people_have_it() -> None:
    assert pytest.approx(HAND_LENGTH, rel=0.01) == HAND_CM
    across = [x for x, _ in PALM_OUTLINE[0]]
    assert max(across) - min(across) == pytest.approx(HAND_BREADTH, rel=0.06)


def points_of(svg: str) -> list[tuple[float, float]]:
    points: list[tuple[float, float]] = []
    for data in re.findall(r' d="([^"]+)"', svg):
        numbers = [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", data)]
        points.extend(zip(numbers[::2], numbers[1::2], strict=True))
    return points


@pytest.mark.parametrize("contact", list(Contact))
def test_each_hand_lies_within_its_box_and_about_its_contact(contact: Contact) -> None:
    points = points_of(hand_shape(contact, look=Look()))
    left, top, right, bottom = SPRITE_BOX
    assert all(left < x < right and top < y < bottom for x, y in points)
    assert min(x for x, _ in points) < 0 < max(x for x, _ in points)
    assert min(y for _, y in points) < 0 < max(y for _, y in points)


def test_the_eight_contacts_are_drawn_differently() -> None:
    assert len({hand_shape(contact, look=Look()) for contact in Contact}) == len(Contact) == 8


def channel(colour: str, at: int) -> int:
    return int(colour[at : at + 2], 16)


def luminance(colour: str) -> float:
    """Relative luminance, as WCAG 2.2 defines it."""
    channels = [channel(colour, i) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_formula_gives_the_published_values() -> None:
    """WCAG: black on white 21; #767676 on white 4.54."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("tone", list(SkinTone))
def test_contours_stand_out_from_paper_and_panel(tone: SkinTone) -> None:
    """WCAG 2.2, 1.4.11: at least 3:1 for graphics."""
    for ground in (PAPER, MAT):
        assert contrast(PAINTS[tone].line, ground) >= 3


@pytest.mark.parametrize("colour", [LINEN_LINE, QUIET, INK, PEAK])
def test_sheet_sleeve_and_path_stand_out_from_paper_and_panel(colour: str) -> None:
    for ground in (PAPER, MAT):
        assert contrast(colour, ground) >= 3


@pytest.mark.parametrize("tone", list(SkinTone))
def test_the_givers_hands_stand_out_from_the_receivers_skin(tone: SkinTone) -> None:
    look = Look(skin=tone)
    skin, giver = look.paint.skin, look.giver_paint
    assert max(contrast(giver.line, skin), contrast(giver.skin, skin)) >= 3


@pytest.mark.parametrize("tone", list(SkinTone))
def test_the_tinted_region_differs_from_the_skin_around_it(tone: SkinTone) -> None:
    """Seen beside the skin; the tint also has the hands and the path in it, so 1.2 is enough."""
    paint = PAINTS[tone]
    share = paint.tint_opacity
    mixed = "#" + "".join(
        f"{round(channel(paint.skin, i) * (1 - share) + channel(paint.tint, i) * share):02x}"
        for i in (1, 3, 5)
    )
    assert contrast(mixed, paint.skin) >= 1.2


def test_there_are_at_least_five_tones_and_three_builds() -> None:
    assert len(SkinTone) >= 5
    assert len(BodyShape) >= 3
    heights = np.asarray([0.0, 45.0, 62.0])
    waists = {float(breadth_at(shape, heights)[1]) for shape in BodyShape}
    assert len(waists) == len(BodyShape)
