"""Which voices a piece is played with: chosen from its seed among those that suit its intention.

What suits is common practice, no source: brighter voices to wake, darker ones to sleep.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from rondel.model.words import Intention
from rondel.music.chance import Chance
from rondel.music.instruments import sustained
from rondel.music.instruments.chimes import BARS, HARP, WOOD
from rondel.music.instruments.struck import Glass
from rondel.music.instruments.sustained import Colour, Sustained
from rondel.music.instruments.tone import Instrument
from rondel.music.score import LayerName


def _coloured(instrument: Sustained, colour: Colour) -> Sustained:
    return replace(instrument, colour=colour)


PADS: Mapping[str, Instrument] = {
    "warm": sustained.PAD,
    "dark": _coloured(
        sustained.PAD, Colour(slope=1.35, ceiling_hertz=850, cents=18, odd=0.9, steady=0.78)
    ),
    "hollow": _coloured(
        sustained.PAD, Colour(slope=1.3, ceiling_hertz=1600, cents=18, odd=2.2, steady=0.75)
    ),
    "airy": _coloured(
        sustained.PAD, Colour(slope=0.95, ceiling_hertz=2300, cents=28, odd=0.7, steady=0.66)
    ),
}

STRINGS: Mapping[str, Instrument] = {
    "bowed": sustained.STRINGS,
    "soft": _coloured(sustained.STRINGS, Colour(slope=1.2, ceiling_hertz=1500, cents=22)),
    "open": _coloured(sustained.STRINGS, Colour(slope=0.85, ceiling_hertz=3000, cents=30)),
}

MOTIFS: Mapping[str, Instrument] = {"glass": Glass(), "harp": HARP, "wood": WOOD, "bars": BARS}

VOICES: Mapping[LayerName, Mapping[str, Instrument]] = {
    LayerName.PAD: PADS,
    LayerName.STRINGS: STRINGS,
    LayerName.MOTIF: MOTIFS,
}

SUITS: Mapping[Intention, Mapping[LayerName, tuple[str, ...]]] = {
    Intention.SETTLE: {
        LayerName.PAD: ("warm", "hollow", "airy"),
        LayerName.STRINGS: ("bowed", "soft"),
        LayerName.MOTIF: ("glass", "harp", "bars", "wood"),
    },
    Intention.WAKE: {
        LayerName.PAD: ("airy", "hollow"),
        LayerName.STRINGS: ("open", "bowed"),
        LayerName.MOTIF: ("harp", "wood", "glass"),
    },
    Intention.SLEEP: {
        LayerName.PAD: ("dark", "warm"),
        LayerName.STRINGS: ("soft",),
        LayerName.MOTIF: ("bars", "glass", "wood"),
    },
    Intention.CLOSENESS: {
        LayerName.PAD: ("warm", "hollow", "dark"),
        LayerName.STRINGS: ("bowed", "soft", "open"),
        LayerName.MOTIF: ("harp", "glass", "bars"),
    },
}


def choose_timbres(intention: Intention, chance: Chance) -> tuple[tuple[LayerName, str], ...]:
    """Return the name of the voice of every layer that has more than one."""
    return tuple(
        (layer, chance.pick(names, "timbre", layer)) for layer, names in SUITS[intention].items()
    )
