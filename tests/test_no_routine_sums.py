"""Briefs that no routine can meet: sums and times, with numbers worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.model.brief import Brief, Keep
from rondel.model.words import Intention, Position
from rondel.planner.reasons import reasons_of
from rondel.planner.timeline import Line, Stop, fits

CRAFT = builtin_craft()
LAMP = Brief(title="Lamplight", minutes=Fraction(10), intention=Intention.SETTLE, level=2)


def sentences(brief: Brief) -> str:
    return " ".join(reason.says for reason in reasons_of(brief, CRAFT))


# ---- sums, with numbers worked out by hand -----------------------------------------------------


def test_sums_of_what_is_insisted_on_are_told_with_their_numbers() -> None:
    # 60 beats a minute: bars of 4 s; 10 minutes are 150 bars. The longest gap is 1.8 × 600 / 4 s
    # = 270 s. Three pairs of 2 min: no fewer than 2 × 29 bars each, 6 × 29 = 174 bars.
    pairs = [t for t in CRAFT.techniques if t.lateral and t.level == 1 and not t.family.is_held]
    keep = tuple(Keep(technique=t.id, minutes=Fraction(2)) for t in pairs[:3])
    brief = replace(LAMP, refrains=3, keep=keep)
    assert "Three returns of at least 32 seconds" in sentences(brief)
    assert "but the brief gives 10:00" in sentences(brief)


def test_what_lasts_longer_than_the_refrain_may_wait_is_told() -> None:
    # g = 600 s / 6 = 100 s; at most 180 s, which are 45 bars. 4 minutes are at least 59 bars.
    brief = replace(LAMP, refrains=5, keep=(Keep(technique="milk-path", minutes=Fraction(4)),))
    assert "no more than 3:00 may pass without the refrain" in sentences(brief)


def test_turning_over_twice_is_too_often_in_ten_minutes() -> None:
    # Rule `positions`: at most one change of position in 20 minutes.
    prone = next(t for t in CRAFT.techniques if t.position == (Position.PRONE,) and t.level == 1)
    supine = next(t for t in CRAFT.techniques if t.region == "chest" and t.level == 1)
    times = ((prone, 150), (supine, 270), (prone, 420))
    brief = replace(
        LAMP,
        keep=tuple(Keep(technique=t.id, at_seconds=Fraction(at)) for t, at in times),
        positions=(Position.PRONE, Position.SUPINE),
    )
    assert "turn over more than once" in sentences(brief)
    assert "turn over more than once" not in sentences(replace(brief, minutes=Fraction(40)))


# ---- the line of times -------------------------------------------------------------------------

#: 60 bars; two returns of 6, between them 8 to 36 bars (1.8 × 60 / 3); arrival 4, close 6.
LINE = Line(
    bars=60,
    returns=2,
    home=(6, 6),
    gap=(8, 36),
    arrival=4,
    closing=6,
    turning=3,
    open=0,
    passage=4,
)


def stop(at: int, least: int = 8, position: Position = Position.PRONE, region: int = 0) -> Stop:
    return Stop(
        window=(at, at),
        least=least,
        positions=frozenset({position}),
        region=region,
        reached=frozenset({region}),
        is_bridge=False,
        may_arrive=False,
        may_end=False,
    )


@pytest.mark.parametrize(
    ("stops", "is_room"),
    [
        ((), True),
        ((stop(4),), True),
        ((stop(3),), False),  # 4 bars to arrive come first
        ((stop(46),), True),  # 46 + 8 + 6 to close = 60
        ((stop(47),), False),
        ((stop(20), stop(28)), True),  # one ends where the other starts
        ((stop(20), stop(27)), False),
        ((stop(20), stop(28, region=1)), False),  # hands cannot jump
        ((stop(20), stop(32, region=1)), True),  # a passage of 4 leads there
        ((stop(20), stop(36, position=Position.SUPINE)), False),  # 28 + 6 + 3 = 37
        ((stop(20), stop(37, position=Position.SUPINE)), True),
        ((stop(4, least=50),), False),  # no return may be 54 bars away
    ],
)
def test_times_fit_into_the_line_or_do_not(stops: tuple[Stop, ...], is_room: bool) -> None:
    assert fits(stops, LINE) is is_room
