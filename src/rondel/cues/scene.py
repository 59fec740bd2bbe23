"""What there is to say about one change of passage, before any words are chosen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rondel.cues.language import Words
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.words import Layer, NamesShown, Role, Side

#: How many passages back the first side of a pair may lie (its deep run, its rest and one more).
PAIR_REACH = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """The passage that is entered, what was before it, and what the couple knows by now.

    `returns` counts the returns of the refrain up to and with this one; 0 outside the refrain.
    """

    entering: Passage
    leaving: Passage | None
    technique: Technique | None
    on_top: Technique | None
    returns: int
    is_new: bool  # the technique was not met before
    is_other_side: bool
    is_same_again: bool  # technique and side go on
    is_new_region: bool
    is_last: bool

    @property
    def is_home(self) -> bool:
        """True at the first passage of a return."""
        before = self.leaving.role if self.leaving else None
        return self.entering.role is Role.REFRAIN and before is not Role.REFRAIN

    @property
    def is_within_refrain(self) -> bool:
        return self.entering.role is Role.REFRAIN and not self.is_home

    @property
    def turns_over(self) -> bool:
        """True where the receiver changes position at this change."""
        return self.leaving is not None and self.leaving.position is not self.entering.position

    @property
    def goes_deep(self) -> bool:
        """True where deep work begins on a place, for the first of its sides."""
        was_deep_here = self.leaving is not None and self.leaving.is_deep and not self.is_new_region
        return self.entering.is_deep and not self.is_other_side and not was_deep_here

    @property
    def is_still(self) -> bool:
        return (
            self.technique is not None
            and self.technique.family.is_held
            and self.entering.pressure == 0
        )

    @property
    def firmness_step(self) -> int:
        """By how much the counted pressure rises (above 0) or falls (below 0)."""
        if self.leaving is None or self.technique is None or self.leaving.is_open:
            return 0
        return max(self.entering.pressure, 1) - max(self.leaving.pressure, 1)


def spoken_name(technique: Technique, shown: NamesShown) -> str:
    """Return the name that the voice uses: both names would be too long to follow.

    An anatomical name goes without what follows its last comma ("both sides", "compressed"),
    unless that goes on with the row of muscles.
    """
    if shown is not NamesShown.ANATOMICAL:
        return technique.plain
    muscles, comma, rest = technique.anatomical.rpartition(", ")
    return technique.anatomical if not comma or " and " in rest else muscles


def scenes(routine: Routine, craft: Craft) -> Iterator[Scene]:
    """Give a scene for every passage of the line, in order."""
    line = routine.line
    over: dict[int, str] = {
        p.start_bar: p.technique
        for p in routine.passages
        if p.layer is Layer.OVER and p.technique is not None
    }
    met: set[str] = set()
    returns = 0
    for i, entering in enumerate(line):
        leaving = line[i - 1] if i else None
        if entering.role is Role.REFRAIN and (leaving is None or leaving.role is not Role.REFRAIN):
            returns += 1
        technique = craft.technique(entering.technique) if entering.technique else None
        top = over.get(entering.start_bar)
        yield Scene(
            entering=entering,
            leaving=leaving,
            technique=technique,
            on_top=craft.technique(top) if top else None,
            returns=returns if entering.role is Role.REFRAIN else 0,
            is_new=technique is not None and technique.id not in met,
            is_other_side=_mirrors(entering, line[max(0, i - PAIR_REACH) : i]),
            is_same_again=leaving is not None
            and leaving.technique == entering.technique
            and leaving.side is entering.side,
            is_new_region=technique is not None and not _same_region(leaving, technique, craft),
            is_last=i == len(line) - 1,
        )
        if technique is not None:
            met.add(technique.id)


def _same_region(leaving: Passage | None, technique: Technique, craft: Craft) -> bool:
    if leaving is None or leaving.technique is None:
        return False
    return craft.technique(leaving.technique).region == technique.region


def _mirrors(entering: Passage, before: tuple[Passage, ...]) -> bool:
    """True where the same was just done on the other side, with no refrain in between."""
    if not entering.side.is_one_sided or entering.technique is None:
        return False
    for earlier in reversed(before):
        if earlier.role in (Role.REFRAIN, Role.OPEN):
            return False
        if earlier.side is entering.side and earlier.technique == entering.technique:
            return False
        if earlier.side is entering.side.other and earlier.technique == entering.technique:
            return True
    return False


def said_side(scene: Scene, sides: Words) -> str:
    """Return the side as `sides` says it after a name; nothing where it goes unsaid."""
    side = scene.entering.side
    if side.is_one_sided:
        return sides[side.value]
    came_from_one = scene.leaving is not None and scene.leaving.side.is_one_sided
    may_say = scene.technique is not None and not scene.technique.family.is_held
    if side is Side.BOTH and came_from_one and may_say:
        return sides[side.value]
    return ""
