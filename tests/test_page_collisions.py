"""Names never meet one another or a mark, and nothing leaves the paper."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest

import page_samples as samples
from page_reading import collisions, font, read, strays
from rondel.adapters.craft_files import builtin_craft
from rondel.drawing.page import draw_page, draw_slip
from rondel.drawing.page_measure import A4, LETTER
from rondel.model.routine import Music, Passage, Routine
from rondel.model.time import Tempo
from rondel.model.words import NamesShown, Role, Side

MARGIN = 14.0  # points, about 5 mm: what a home printer cannot reach


def scattered(seed: int, minutes: int, names: NamesShown) -> Routine:
    """Return a routine that no planner would make: any technique after any other, short and long.

    It asks more of the names than a good routine does.
    """
    dice = random.Random(seed)
    craft = builtin_craft()
    passages: list[Passage] = []
    bar, bars = 0, minutes * 15
    while bar < bars:
        technique = dice.choice(craft.techniques)
        length = min(dice.choice((3, 4, 5, 6, 8, 10, 14)), bars - bar)
        passages.append(
            Passage(
                id=f"p{len(passages):03d}",
                technique=technique.id if dice.random() > 0.06 else None,
                role=dice.choice(list(Role)),
                side=dice.choice((Side.LEFT, Side.RIGHT)) if technique.lateral else Side.BOTH,
                position=dice.choice(technique.position),
                start_bar=bar,
                bars=length,
                pressure=dice.randint(0, 5),
                beats_per_stroke=Fraction(dice.choice((1, 2, 4, 8, "1/2"))),
                first_landing_beat=Fraction(0),
                kept=dice.random() < 0.1,
                stretch=dice.random() < 0.1,
            )
        )
        bar += length
    brief = replace(samples.BRIEF, minutes=Fraction(minutes), names=names)
    return Routine(
        title=f"Scattered leaves {seed}",
        seed=seed,
        beats_per_bar=4,
        tempo=(Tempo(bar=0, bpm=Fraction(60)),),
        bars=bars,
        passages=tuple(passages),
        brief=brief,
    )


@pytest.mark.parametrize("sample", [samples.lamplight, samples.long_evening, samples.layered])
@pytest.mark.parametrize("paper", [A4, LETTER], ids=["a4", "letter"])
def test_nothing_meets_on_a_good_routine(sample: Callable[[], Routine], paper: object) -> None:
    page = draw_page(sample(), samples.CRAFT, paper)  # type: ignore[arg-type]
    for svg in (page.svg, *page.sheets):
        drawn = read(svg)
        assert len(drawn.boxes) > 30
        assert collisions(drawn) == []
        assert strays(drawn, MARGIN) == []


@pytest.mark.parametrize("sample", [samples.lamplight, samples.long_evening, samples.layered])
def test_nothing_meets_on_the_slip_for_narrow_screens(sample: Callable[[], Routine]) -> None:
    slip = draw_slip(sample(), samples.CRAFT)
    drawn = read(slip.svg)
    assert len(drawn.boxes) > 30
    assert collisions(drawn) == []
    assert strays(drawn, MARGIN) == []


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_nothing_meets_on_a_slip_however_the_names_crowd(seed: int) -> None:
    slip = draw_slip(scattered(seed, 12, NamesShown.PLAIN), builtin_craft())
    drawn = read(slip.svg)
    assert collisions(drawn) == []
    assert strays(drawn, MARGIN) == []


@pytest.mark.parametrize("names", list(NamesShown))
@pytest.mark.parametrize(("seed", "minutes"), [(1, 5), (2, 12), (3, 16), (4, 33), (5, 61)])
def test_nothing_meets_however_the_names_crowd(seed: int, minutes: int, names: NamesShown) -> None:
    page = draw_page(scattered(seed, minutes, names), builtin_craft())
    for svg in page.sheets:
        drawn = read(svg)
        assert collisions(drawn) == []
        assert strays(drawn, MARGIN) == []


@pytest.mark.parametrize(
    "title",
    ["", "An evening for two who came home late and rather tired " * 3, "Donau" * 40, "Ab\x01c"],
    ids=["none", "long", "one word", "control"],
)
def test_any_title_stays_on_the_paper(title: str) -> None:
    routine = replace(samples.long_evening(), title=title)
    page = draw_page(routine, samples.CRAFT)
    for svg in (page.svg, *page.sheets):
        drawn = read(svg)
        assert collisions(drawn) == []
        assert strays(drawn, MARGIN) == []


def test_names_longer_than_a_line_are_broken_and_kept() -> None:
    name = "A very slow and patient gathering of everything that the day has left behind in them "
    technique = replace(samples.TECHNIQUES[4], plain=name * 2)
    craft = replace(samples.CRAFT, techniques=(*samples.TECHNIQUES[:4], technique))
    drawn = read(draw_page(samples.lamplight(), craft).svg)
    assert collisions(drawn) == []
    assert strays(drawn, MARGIN) == []
    assert (name * 2).strip() in " ".join(b.text for b in drawn.boxes)


def test_nothing_meets_where_a_track_gives_the_beats() -> None:
    base = samples.lamplight()
    swaying = tuple(i + 0.08 * math.sin(i / 9) for i in range(base.bars * 4 + 1))
    track = replace(base, music=Music(kind="track", path="evening.flac", beat_seconds=swaying))
    page = draw_page(track, samples.CRAFT)
    drawn = read(page.svg)
    assert collisions(drawn) == []
    assert strays(drawn, MARGIN) == []
    assert page.seconds == pytest.approx(swaying[-1])


def test_the_reader_sees_words_that_meet_words_and_marks() -> None:
    def words(x: float, y: float) -> str:
        return (
            f'<text x="{x}" y="{y}" font-size="10" font-style="italic" '
            f'textLength="{font(True, False).width("Homecoming", 10):.2f}">Homecoming</text>'
        )

    def page(inside: str) -> str:
        return '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 100">' + inside + "</svg>"

    line = '<path d="M20 {y}H90" fill="none" stroke="#000" stroke-width="2"/>'
    natural = words(20, 50)
    shifted = natural.replace('x="20"', 'x="60"')
    assert collisions(read(page(natural))) == []
    assert len(collisions(read(page(natural + shifted)))) == 1
    assert len(collisions(read(page(natural + line.format(y=47))))) == 1
    assert collisions(read(page(natural + line.format(y=60)))) == []
    assert len(strays(read(page(natural.replace('x="20"', 'x="170"'))), 0)) == 1
    with pytest.raises(AssertionError, match="squeezed"):
        read(page(natural.replace('textLength="', 'textLength="1')))
