"""What the Hands leaf shows: cards, an open technique, and the figure of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from rondel.desk.asking import Ask, as_data, number
from rondel.desk.technique_form import LANDING_SAYS, TRACE_SAYS, family_says
from rondel.drawing.figure import describe
from rondel.drawing.moving_figure import moving_figure
from rondel.drawing.page_cards import LEVEL_SAYS
from rondel.model.names import POSITION_SAYS
from rondel.model.repertoire import Craft, Technique
from rondel.model.words import CONTACT_NAME, PRESSURE_SAYS, Position, Side

#: Seconds in which a held figure breathes once, where its passage is not known.
HELD_SECONDS = 12.0
#: Where in a stroke it lands while nothing is heard: half way, as in the drawing on the cards.
LANDS = 0.5


def side_of(technique: Technique) -> Side:
    """Return the side on which a technique is drawn."""
    return Side.LEFT if technique.lateral else Side.BOTH


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """A technique among the others."""

    id: str
    name: str
    anatomical: str
    under: str
    pressure: str
    level: str
    is_here: bool  # in the routine that is open


def card(ask: Ask, technique: Technique, craft: Craft, here: frozenset[str]) -> Card:
    """Return the card of `technique`; `here` are the techniques of the open routine."""
    return Card(
        id=technique.id,
        name=technique.plain,
        anatomical=technique.anatomical,
        under=under(ask, technique, craft),
        pressure=pressure_says(ask, technique),
        level=ask.say(LEVEL_SAYS[technique.level]),
        is_here=technique.id in here,
    )


def under(ask: Ask, technique: Technique, craft: Craft) -> str:
    """Return place and part of the hand."""
    return " · ".join(
        (ask.say(craft.region(technique.region).name), ask.say(CONTACT_NAME[technique.contact]))
    )


def pressure_says(ask: Ask, technique: Technique) -> str:
    """Return the pressures a technique is taught at, in words."""
    low, high = technique.pressure
    if low == high:
        return ask.say("pressure {n}: {words}", n=low, words=ask.say(PRESSURE_SAYS[low]))
    return ask.say(
        "pressure {low} to {high}: {from_words}, up to {to_words}",
        low=low,
        high=high,
        from_words=ask.say(PRESSURE_SAYS[low]),
        to_words=ask.say(PRESSURE_SAYS[high]),
    )


def found(
    techniques: Sequence[Technique], craft: Craft, ask: Ask, *, region: str, words: str
) -> list[Technique]:
    """Return the techniques on `region` (empty: all) that all of `words` are met in, by name."""
    asked = words.casefold().split()
    rows = []
    for t in techniques:
        if region and t.region != region:
            continue
        told = (
            t.plain,
            t.anatomical,
            under(ask, t, craft),
            family_says(ask, t.family),
            t.how,
            t.say,
        )
        text = " ".join(told).casefold()
        if all(word in text for word in asked):
            rows.append(t)
    return sorted(rows, key=lambda t: t.plain.casefold())


@dataclass(frozen=True, slots=True, kw_only=True)
class Moving:
    """The figure of a technique, what its hands do, and the same in a sentence."""

    figure: Markup
    tracks: Markup
    stroke: float  # seconds
    lands: float
    told: str


def moving(technique: Technique, position: Position) -> Moving:
    """Return the figure that moves at the middle of the pace at which it is taught."""
    drawn = moving_figure(technique, side_of(technique), position, LANDS)
    quick, slow = map(float, technique.cycle_seconds)
    stroke = HELD_SECONDS if technique.family.is_held else (quick * slow) ** 0.5
    return Moving(
        figure=Markup(drawn.svg),
        tracks=as_data(drawn.tracks),
        stroke=round(stroke, 2),
        lands=LANDS,
        told=describe(technique, side_of(technique), position),
    )


def facts(ask: Ask, t: Technique) -> list[tuple[str, str]]:
    """Return all that is known of a technique, as (what, words)."""
    say = ask.say
    quick, slow = (number(s) for s in t.cycle_seconds)
    side = say("one side, then the other") if t.lateral else say("both sides together")
    rows = [
        (say("pressure"), pressure_says(ask, t).partition(" ")[2]),
        (say("stroke"), f"{family_says(ask, t.family)}, {say(TRACE_SAYS[t.trace])}"),
        (say("side"), side),
        (say("they lie"), ", ".join(say(POSITION_SAYS[p]) for p in t.position)),
        (say("level"), say("{n}: {words}", n=t.level, words=say(LEVEL_SAYS[t.level]))),
    ]
    if not t.family.is_held:
        way = say("{cm} cm, ", cm=number(t.path_cm)) if t.path_cm else ""
        pace = say("{quick} to {slow} seconds", quick=quick, slow=slow)
        rows.insert(2, (say("one stroke"), way + pace))
        rows.insert(3, (say("meets the beat"), say(LANDING_SAYS[t.landing])))
    rows += [
        (say("waking"), say("{n}, from -1 (stills) to 1 (wakes)", n=number(t.energy))),
        (say("closeness"), say("{n}, from 0 to 1", n=number(t.closeness))),
        (say("refrain"), say("may come home as one") if t.refrain else say("no")),
    ]
    if t.helps_turn:
        rows.append((say("turning"), say("helps the one who receives to turn over")))
    if t.from_far_end:
        rows.append((say("way"), say("goes out where others come home")))
    rows += [
        (say("in German"), " · ".join(filter(None, (told.plain, told.say)))) for told in t.told
    ]
    return rows
