"""One sentence that says what a figure shows, for those who hear it rather than see it."""

from __future__ import annotations

from rondel.drawing.figures.motion import scene_of
from rondel.model.names import ON_SIDE_SAYS
from rondel.model.repertoire import Technique
from rondel.model.words import Contact, Family, Position, Side, Trace

_MANY = {
    Contact.PALM: ("one palm", "two palms"),
    Contact.FLAT_FINGERS: ("the flat fingers of one hand", "the flat fingers of both hands"),
    Contact.FINGERTIPS: ("the fingertips of one hand", "the fingertips of both hands"),
    Contact.HEEL: ("the heel of one hand", "the heels of both hands"),
    Contact.KNUCKLES: ("the knuckles of one hand", "the knuckles of both hands"),
    Contact.FIST: ("one soft fist", "two soft fists"),
    Contact.FOREARM: ("one forearm", "two forearms"),
    Contact.THUMB: ("one thumb", "two thumbs"),
}
_IS_ONE = {Contact.PALM, Contact.HEEL, Contact.FIST, Contact.FOREARM, Contact.THUMB}
_DOES = {
    Family.GLIDING: "glide",
    Family.KNEADING: "knead",
    Family.FRICTION: "rub",
    Family.PERCUSSION: "drum lightly",
    Family.VIBRATION: "tremble",
    Family.PRESSING: "press",
    Family.HOLDING: "rest still",
    Family.EMBRACE: "rest around",
}
_HOW = {
    Trace.ALONG: " along and back",
    Trace.ACROSS: " outwards and back",
    Trace.OUTWARD: " up, out and home round the edge",
    Trace.CIRCLE: " in rounds",
    Trace.ALTERNATE: ", hand after hand,",
    Trace.SPOT: "",
    Trace.WRAP: "",
}
_PLACE = {
    "neck": "the back of the neck",
    "shoulders": "the top of the shoulders",
    "between_blades": "the muscle between the shoulder blades",
    "blades": "the shoulder blades",
    "beside_spine": "the long muscles beside the spine",
    "lower_back": "the lower back, beside the spine",
    "sacrum": "the flat bone at the base of the back",
    "hips": "the hips",
    "upper_arms": "the upper arm",
    "forearms": "the forearm",
    "hands": "the hand",
    "thighs": "the thigh",
    "calves": "the calf",
    "feet": "the foot",
    "chest": "the upper chest",
    "belly": "the belly",
    "back": "the back, beside the spine",
    "scalp": "the scalp",
    "face": "the face",
}
_SIDES = {**ON_SIDE_SAYS, Side.CENTRE: "in the middle and evenly to both sides"}


def describe(technique: Technique, side: Side, position: Position) -> str:
    """Return one sentence: what is seen, which hands do what, where, and on which side."""
    scene = scene_of(technique, side, position)
    count = len(scene.stroke.hands)
    hands = _MANY[technique.contact][count - 1]
    does = _DOES[technique.family]
    if count == 1 and technique.contact in _IS_ONE:
        first, _, rest = does.partition(" ")
        ending = "es" if first.endswith("ss") else "s"
        does = f"{first}{ending}{' ' + rest if rest else ''}"
    how = "" if technique.family.is_held else _HOW[technique.trace]
    place = _PLACE.get(technique.region, technique.region.replace("_", " "))
    seen = scene.view.says
    on = "" if technique.family is Family.EMBRACE else " on"
    return f"{seen[0].upper()}{seen[1:]}; {hands} {does}{how}{on} {place}, {_SIDES[side]}."
