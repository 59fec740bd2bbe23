"""What a couple sees and hears a passage, a side and a position called: the same everywhere."""

from __future__ import annotations

from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.words import Language, NamesShown, Position, Side

OPEN_NAME = "Yours to fill"

#: What a chapter is called, where nothing stands around it that is of another language.
HOME_IN = {Language.ENGLISH: "Home", Language.GERMAN: "Daheim"}
OPEN_IN = {Language.ENGLISH: OPEN_NAME, Language.GERMAN: "Ganz für euch"}

#: Sides in words; left and right are the receiver's.
SIDE_SAYS = {
    Side.LEFT: "their left",
    Side.RIGHT: "their right",
    Side.BOTH: "both sides",
    Side.CENTRE: "in the middle",
}
#: The same within a sentence, as in "a glide on their left".
ON_SIDE_SAYS = {
    Side.LEFT: "on their left",
    Side.RIGHT: "on their right",
    Side.BOTH: "on both sides",
    Side.CENTRE: "in the middle",
}

#: How the receiver lies or sits.
POSITION_SAYS = {
    Position.PRONE: "face down",
    Position.SUPINE: "face up",
    Position.SEATED: "sitting",
    Position.SIDE: "on their side",
}


def lying_says(position: Position) -> str:
    """Return the position as words of its own: "lying face down", "sitting"."""
    says = POSITION_SAYS[position]
    return says if position is Position.SEATED else f"lying {says}"


def names_shown(routine: Routine) -> NamesShown:
    """Return which names the brief asks for; plain ones where there is no brief."""
    return routine.brief.names if routine.brief else NamesShown.PLAIN


def language_of(routine: Routine) -> Language:
    """Return the language of the cues; English where the brief names none, or there is none."""
    return (routine.brief.language if routine.brief else None) or Language.ENGLISH


def names_language(routine: Routine) -> Language:
    """Return the language of the names that are shown; anatomical ones are English."""
    if names_shown(routine) is NamesShown.ANATOMICAL:
        return Language.ENGLISH
    return language_of(routine)


def name_language(routine: Routine, passage: Passage) -> Language:
    """Return the language of a passage's name; what is called open is called so in English."""
    return names_language(routine) if passage.technique else Language.ENGLISH


def technique_names(technique: Technique, names: NamesShown) -> tuple[str, str]:
    """Return the name of `technique`, and the one that stands beside it (or the empty text)."""
    if names is NamesShown.ANATOMICAL:
        return technique.anatomical[:1].upper() + technique.anatomical[1:], ""
    return technique.plain, technique.anatomical if names is NamesShown.BOTH else ""


def technique_called(word: str, craft: Craft) -> Technique | None:
    """Return the technique with this id, or called so in plain or anatomical words; None where
    there is none, or more than one. Capitals, hyphens and spaces make no difference."""
    if craft.has_technique(word):
        return craft.technique(word)
    for called in ((lambda t: (t.id, t.plain)), (lambda t: (t.anatomical,))):
        named = [t for t in craft.techniques if _alike(word) in map(_alike, called(t))]
        if named:
            return named[0] if len(named) == 1 else None
    return None


def _alike(name: str) -> str:
    """Return `name` without what people write now so, now otherwise."""
    return " ".join(name.replace("-", " ").casefold().split())


def passage_name(passage: Passage, craft: Craft, names: NamesShown) -> str:
    """Return the name of `passage` in one piece; its id in words where nobody knows it."""
    if passage.technique is None:
        return OPEN_NAME
    if not craft.has_technique(passage.technique):
        return passage.technique.replace("-", " ").capitalize()
    name, beside = technique_names(craft.technique(passage.technique), names)
    return f"{name} ({beside})" if beside else name
