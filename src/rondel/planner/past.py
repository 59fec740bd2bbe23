"""What a routine has been through before a passage: what was warmed, touched, worked deep."""

from __future__ import annotations

from dataclasses import dataclass, field

from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.words import Role, Side
from rondel.planner.constraints import small_areas, warm
from rondel.planner.score import is_turning


@dataclass(slots=True)
class Past:
    """Meets the passages of a routine one after the other, and remembers."""

    routine: Routine
    craft: Craft
    touched: set[str] = field(default_factory=set)  # regions worked by themselves
    wide: set[str] = field(default_factory=set)  # regions that long strokes have passed
    deep_run: int = 0  # bars of the last deep run
    is_after_peak: bool = False  # the peak row ended just now
    _was_deep: bool = False
    _warmed: dict[tuple[str, Side], int] = field(default_factory=dict)

    def meet(self, passage: Passage) -> None:
        """Remember `passage`, which comes next."""
        if passage.is_deep:
            self.deep_run = passage.bars + (self.deep_run if self._was_deep else 0)
        self._was_deep = passage.is_deep
        was_peak = self.is_after_peak and passage.role is Role.REST
        self.is_after_peak = passage.role is Role.PEAK or was_peak
        if passage.technique is None:
            return
        technique = self.craft.technique(passage.technique)
        if not is_turning(self.routine, passage):
            self.touched.add(technique.region)
        if small_areas.is_wide(technique, small_areas.long_cm(self.craft)):
            self.wide |= {technique.region, *self.craft.region(technique.region).covers}
        if warm.warms(passage.pressure):
            key = (technique.region, passage.side)
            self._warmed[key] = self._warmed.get(key, 0) + passage.bars

    def warm_bars(self, passage: Passage) -> int:
        """Return the bars of warming that place and side of `passage` have had (rule `warm`)."""
        assert passage.technique is not None
        region = self.craft.technique(passage.technique).region

        def had(side: Side) -> int:
            return self._warmed.get((region, side), 0)

        both = had(Side.BOTH) + had(Side.CENTRE)
        if passage.side.is_one_sided:
            return both + had(passage.side)
        return both + min(had(Side.LEFT), had(Side.RIGHT))
