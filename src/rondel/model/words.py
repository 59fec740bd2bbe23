"""The fixed words of the craft, as in the words list: ids are lower case with underscores."""

from enum import StrEnum


class Intention(StrEnum):
    """What the session is for."""

    SETTLE = "settle"
    WAKE = "wake"
    SLEEP = "sleep"
    CLOSENESS = "closeness"


class Role(StrEnum):
    """What a passage is there for."""

    ARRIVE = "arrive"
    REFRAIN = "refrain"
    WORK = "work"
    PEAK = "peak"
    REST = "rest"
    OPEN = "open"
    CLOSE = "close"


class Side(StrEnum):
    """Left and right are the receiver's."""

    LEFT = "left"
    RIGHT = "right"
    BOTH = "both"
    CENTRE = "centre"

    @property
    def is_one_sided(self) -> bool:
        return self in (Side.LEFT, Side.RIGHT)

    @property
    def other(self) -> "Side":
        """The mirrored side; both and centre mirror to themselves."""
        return {Side.LEFT: Side.RIGHT, Side.RIGHT: Side.LEFT}.get(self, self)


class Position(StrEnum):
    """How the receiver lies or sits."""

    PRONE = "prone"
    SUPINE = "supine"
    SEATED = "seated"
    SIDE = "side"


class Family(StrEnum):
    """Stroke families; the trade's Latin or French word stands in `TRADE_NAME`."""

    GLIDING = "gliding"
    KNEADING = "kneading"
    FRICTION = "friction"
    PERCUSSION = "percussion"
    VIBRATION = "vibration"
    PRESSING = "pressing"
    HOLDING = "holding"
    EMBRACE = "embrace"

    @property
    def is_held(self) -> bool:
        """True where one stroke lasts as long as the passage."""
        return self in (Family.HOLDING, Family.EMBRACE)


TRADE_NAME = {
    Family.GLIDING: "effleurage",
    Family.KNEADING: "petrissage",
    Family.FRICTION: "friction",
    Family.PERCUSSION: "tapotement",
    Family.VIBRATION: "vibration",
    Family.PRESSING: "compression",
    Family.HOLDING: "holding",
    Family.EMBRACE: "embrace",
}


class Contact(StrEnum):
    """The part of the giver's hand or arm that touches."""

    PALM = "palm"
    FLAT_FINGERS = "flat_fingers"
    FINGERTIPS = "fingertips"
    HEEL = "heel"
    KNUCKLES = "knuckles"
    FIST = "fist"
    FOREARM = "forearm"
    THUMB = "thumb"


CONTACT_NAME = {
    Contact.PALM: "palm",
    Contact.FLAT_FINGERS: "flat fingers",
    Contact.FINGERTIPS: "fingertips",
    Contact.HEEL: "heel of the hand",
    Contact.KNUCKLES: "knuckles",
    Contact.FIST: "fist",
    Contact.FOREARM: "forearm",
    Contact.THUMB: "thumb",
}


class Landing(StrEnum):
    """The instant of a stroke that must meet the beat."""

    TURN = "turn"
    CONTACT = "contact"
    DEEPEST = "deepest"


class Trace(StrEnum):
    """The shape of a stroke on the body, seen from above the region."""

    ALONG = "along"  # up along the region and home again, with its long axis
    ACROSS = "across"  # from the middle outwards and back, one hand or both
    OUTWARD = "outward"  # both hands mirrored: up the middle, out and home round the edges
    CIRCLE = "circle"  # a round on the spot or wandering rounds
    ALTERNATE = "alternate"  # hand after hand
    SPOT = "spot"  # pressed, trembled, held or drummed in place
    WRAP = "wrap"  # both arms or hands round the body


class Layer(StrEnum):
    """Most passages stand alone; at a peak two may share bars."""

    ONLY = "only"
    UNDER = "under"
    OVER = "over"


class Language(StrEnum):
    """The language of the cues, by its short code (ISO 639-1)."""

    ENGLISH = "en"
    GERMAN = "de"


class MusicLayer(StrEnum):
    """Layers of composed music that may be left out: none of them carries the beat or the motif."""

    DRONE = "drone"
    PAD = "pad"
    BASS = "bass"
    STRINGS = "strings"
    PIANO = "piano"
    DRUM = "drum"
    SWELL = "swell"


class NamesShown(StrEnum):
    """Which names the couple sees."""

    PLAIN = "plain"
    ANATOMICAL = "anatomical"
    BOTH = "both"


#: Pressure 1 to 5 in lay words (paraphrase of Walton's scale; see facts in docs/sources.md).
PRESSURE_SAYS = {
    0: "still and weightless",
    1: "as light as over sunburn",
    2: "as if rubbing lotion in",
    3: "firm enough to meet the muscle",
    4: "leaning in",
    5: "deep, with body weight",
}

#: Pressures from which work counts as deep, and needs warming before and rest after.
DEEP = 4
