"""The picture of what was heard, read back as XML: all stands where it should, and is legible."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rondel.adapters.raster import ResvgRasteriser
from rondel.drawing import ink
from rondel.drawing.heard_picture import WIDTH, draw_heard
from rondel.drawing.heard_words import heard_sentences, tempo_says
from rondel.model.track import Heard, Section, Span

SVG = "{http://www.w3.org/2000/svg}"
SHAPE = (0.2, 0.4, 1.0, 0.5)


def spans(*pairs: tuple[float, float]) -> tuple[Span, ...]:
    return tuple(Span(start=start, end=end) for start, end in pairs)


def evening(*, seconds: float = 240.0, bpm: float = 60.0) -> Heard:
    """Return a track in four quarters: quiet, soft, strongest, soft; a beat in the last three."""
    beats = tuple(float(b) for b in np.arange(0.5, seconds, 60 / bpm))
    quarter = seconds / 4
    energies = (0.0, 0.3, 1.0, 0.2)
    return Heard(
        seconds=seconds,
        bpm=bpm,
        is_constant=True,
        beats_per_bar=4,
        beats=beats,
        downbeats=beats[::4],
        beatless=spans((0.0, quarter)),
        unsure=spans((quarter, quarter + 10)),
        sections=tuple(
            Section(
                span=Span(start=k * quarter, end=(k + 1) * quarter),
                energy=energy,
                has_beat=k > 0,
            )
            for k, energy in enumerate(energies)
        ),
        returns=spans((quarter, quarter + 16), (3 * quarter, 3 * quarter + 16)),
        rises=spans((max(0.0, 2 * quarter - 8), 2 * quarter)),
        loudness=-18.0,
        true_peak=-1.5,
        confidence=0.9,
        shape=SHAPE,
    )


def group(svg: str, name: str) -> ElementTree.Element | None:
    root = ElementTree.fromstring(svg)
    return next((g for g in root.iter(f"{SVG}g") if g.get("class") == name), None)


def dots(svg: str) -> list[tuple[float, float]]:
    beats = group(svg, "beats")
    assert beats is not None
    paths = "".join(path.get("d", "") for path in beats.iter(f"{SVG}path"))
    return [(float(x), float(y)) for x, y in re.findall(r"M([\d.]+) ([\d.]+)h0", paths)]


def test_every_beat_that_can_be_heard_has_a_dot_where_it_falls() -> None:
    heard = evening()
    svg = draw_heard(heard, "evening")
    rings = group(svg, "beats")
    assert rings is not None
    # 60 beats a minute over 4 minutes: the first minute is quiet, 10 beats are not sure.
    assert len(dots(svg)) == 240 - 60 - 10
    assert len(list(rings.iter(f"{SVG}circle"))) == 10
    rows = sorted({y for _, y in dots(svg)})
    assert len(rows) == 3  # a line a minute
    left, right = 66.0, WIDTH - 32.0
    second_line = sorted(x for x, y in dots(svg) if y == rows[1])
    expected = [left + (right - left) * (k + 0.5) / 60 for k in range(60)]
    assert second_line == pytest.approx(expected, abs=0.01)


def test_the_band_is_as_high_as_the_sound_is_strong() -> None:
    svg = draw_heard(evening(), "evening")
    sound = group(svg, "sound")
    assert sound is not None
    bands = [p.get("d", "") for p in sound.iter(f"{SVG}path") if p.get("fill") == ink.BAND]
    assert len(bands) == 4
    heights = []
    for d in bands:
        ys = [float(y) for _, y in re.findall(r"([\d.]+) ([\d.]+)", d)]
        heights.append(max(ys) - min(ys))
    # The parts of the shape are centred at 30, 90, 150 and 210 seconds: the third line is highest.
    assert max(heights) == heights[2] == pytest.approx(21.0, abs=0.3)
    assert heights[0] < heights[1]


def test_home_swell_and_strongest_are_marked() -> None:
    svg = draw_heard(evening(), "evening")
    tints = group(svg, "motif")
    assert tints is not None
    # Returns at 60 and 180 seconds begin a line each; sixteen seconds are 16/60 of its width.
    rects = list(tints.iter(f"{SVG}rect"))
    assert [float(r.get("x", "0")) for r in rects] == [66.0, 66.0]
    width = (WIDTH - 32 - 66) * 16 / 60
    assert [float(r.get("width", "0")) for r in rects] == pytest.approx([width, width], abs=0.01)
    assert group(svg, "rises") is not None
    assert svg.count(">strongest<") == 1
    assert svg.count(f'stroke="{ink.PEAK}"') == 1


def test_all_of_it_is_told_to_those_who_do_not_see_it() -> None:
    heard = evening()
    svg = draw_heard(heard, 'evening <live> & "late"')
    root = ElementTree.fromstring(svg)
    desc = root.find(f"{SVG}desc")
    title = root.find(f"{SVG}title")
    assert title is not None
    assert title.text == 'evening <live> & "late"'
    assert desc is not None
    assert desc.text == " ".join(heard_sentences(heard))
    for words in (
        "60 beats a minute, steady, in bars of four",
        "A beat can be heard from 1:10 to 4:00.",
        "not sure from 1:00 to 1:10",
        "2:00 the strongest",
        "It swells into 2:00.",
        "The motif is heard at 1:00 and 3:00.",
        "-18.0 LUFS",
    ):
        assert words in (desc.text or "")


def test_a_tempo_that_wanders_is_told_with_its_range() -> None:
    beats, second = [], 0.0
    for beat in range(120):
        beats.append(second)
        second += 60 / (60 + beat / 10)
    heard = Heard(
        seconds=second,
        bpm=66.0,
        is_constant=False,
        beats_per_bar=3,
        beats=tuple(beats),
        downbeats=tuple(beats[::3]),
    )
    # Over eight beats the first tempo is 60.4 and the last 71.4 on average.
    assert tempo_says(heard) == "about 66 beats a minute, from 60 to 71, in bars of three"
    none = Heard(seconds=9.0, bpm=0.0, is_constant=False, beats_per_bar=4, beats=(), downbeats=())
    assert tempo_says(none) == "no beat was heard"


@settings(max_examples=12, deadline=None)
@given(st.floats(5, 10_800), st.floats(30, 200), st.booleans())
def test_nothing_leaves_the_paper_however_long_the_track(
    seconds: float, bpm: float, is_empty: bool
) -> None:
    heard = evening(seconds=seconds, bpm=bpm)
    if is_empty:
        heard = Heard(
            seconds=seconds, bpm=0.0, is_constant=False, beats_per_bar=4, beats=(), downbeats=()
        )
    svg = draw_heard(heard, "a rather long name for a track of an evening by the water " * 3)
    root = ElementTree.fromstring(svg)
    _, _, width, height = (float(n) for n in root.get("viewBox", "").split())
    for text in root.iter(f"{SVG}text"):
        x, y = float(text.get("x", "0")), float(text.get("y", "0"))
        assert 0 <= x <= x + float(text.get("textLength", "0")) <= width
        assert 0 < y < height
    for path in root.iter(f"{SVG}path"):
        points = re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path.get("d", ""))
        assert all(0 <= float(x) <= width and 0 <= float(y) <= height for x, y in points)
    assert len(svg) < 3_000_000


def _contrast(one: str, other: str) -> float:
    """WCAG 2.2 contrast ratio (definition of relative luminance, w3.org/TR/WCAG22)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_band_is_told_from_paper_and_tint() -> None:
    assert _contrast(ink.BAND, ink.PAPER) >= 3
    assert _contrast(ink.BAND, ink.TINT) >= 3


def test_it_is_drawn_the_same_each_time_and_turns_into_pixels() -> None:
    svg = draw_heard(evening(), "evening")
    assert svg == draw_heard(evening(), "evening")
    pixels = ResvgRasteriser().rasterise(svg, 400, 300)
    assert pixels[:, :, 3].max() == 255
    assert np.unique(pixels.reshape(-1, 4), axis=0).shape[0] > 20


def test_nobody_is_told_how_sure_beats_are_that_cannot_be_heard() -> None:
    """A teacher may say that there is no beat anywhere, in a track whose beats are plain."""
    heard = replace(evening(), confidence=1.0)
    assert "Rondel is sure of the beats." in heard_sentences(heard)
    whole = spans((0.0, heard.seconds))
    for silent in (replace(heard, beatless=whole), replace(heard, beatless=(), unsure=whole)):
        assert not any("sure of the beats" in says for says in heard_sentences(silent))
