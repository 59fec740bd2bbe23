"""One look at a finished routine: its time, its techniques, its blocks and pairs, worked out once.

Every finding reads a `View` and nothing else. A view can always be built: a clock that cannot be
read is replaced by a plain one and named in `troubles`; unknown techniques are None. Passages
are put in order of their bars (the rule `length` says where they were not).
How the words are read: docs/decisions/0001-how-the-rules-are-read.md.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

from rondel.checker.blocks import Block, blocks_of, partners_of
from rondel.model.brief import Brief
from rondel.model.finding import Finding, Severity
from rondel.model.repertoire import Craft, Region, Technique
from rondel.model.routine import Music, Passage, Routine
from rondel.model.spans import heard_beats
from rondel.model.time import Tempo, as_minutes
from rondel.model.track import Course
from rondel.model.words import Family, Intention, Layer, Role, Side
from rondel.rules.rise import OPEN_COUNTS, STILL_COUNTS
from rondel.rules.rule import Rule

#: A comparison of seconds allows this much for rounding.
ROUNDING_SECONDS = 0.01

#: Names of regions that say where, not what, as in "beside the spine".
_PLACE_WORDS = ("beside", "between", "under", "over", "behind", "above", "below")

_PLAIN_TEMPO = (Tempo(bar=0, bpm=Fraction(60)),)


@dataclass(frozen=True, kw_only=True)
class View:
    """A routine that can be measured, with the brief it is held against (or None)."""

    routine: Routine
    craft: Craft
    brief: Brief | None
    listed: tuple[Passage, ...]  # the passages in the order the file lists them
    troubles: tuple[str, ...] = ()

    # --- time -------------------------------------------------------------------------------

    @cached_property
    def total_seconds(self) -> float:
        return self.routine.clock.total_seconds

    @cached_property
    def bar_seconds(self) -> float:
        """The mean length of a bar: what "about" and "within a bar" allow."""
        return self.routine.clock.bar_seconds()

    @cached_property
    def minutes(self) -> float:
        """The asked minutes; without a brief the minutes that the routine lasts."""
        return float(self.brief.minutes) if self.brief else self.total_seconds / 60

    @cached_property
    def scale(self) -> float:
        """The times scale s = min(1, minutes / 6)."""
        return min(1.0, self.minutes / 6)

    @cached_property
    def _bar_at(self) -> dict[int, float]:
        return {}

    def at(self, bar: int) -> float:
        """Return the second at which `bar` begins."""
        if bar not in self._bar_at:
            self._bar_at[bar] = self.routine.clock.seconds_at_bar(bar)
        return self._bar_at[bar]

    def start(self, passage: Passage) -> float:
        return self.at(passage.start_bar)

    def end(self, passage: Passage) -> float:
        return self.at(passage.end_bar)

    def seconds(self, *passages: Passage) -> float:
        """Return how long `passages` last, one after the other."""
        return sum(self.end(p) - self.start(p) for p in passages)

    def bar_of(self, seconds: float) -> int:
        """Return the bar under way at `seconds`, within the routine."""
        bar = int(self.routine.clock.beat_at(max(seconds, 0.0)) / self.routine.beats_per_bar)
        return min(max(bar, 0), self.routine.bars - 1)

    @cached_property
    def heard(self) -> tuple[int, int]:
        """The beats of composed music that can be heard: from the first, up to before the last."""
        return heard_beats(self.routine)

    @cached_property
    def is_with_track(self) -> bool:
        return self.routine.music.kind == "track"

    @property
    def course(self) -> Course | None:
        """What a brought track is in every bar; None where nothing is told of it."""
        course = self.routine.music.course
        return course if course is not None and course.bars == self.routine.bars else None

    @property
    def intention(self) -> Intention:
        return self.brief.intention if self.brief else self.routine.intention

    # --- passages ---------------------------------------------------------------------------

    @property
    def passages(self) -> tuple[Passage, ...]:
        """Every passage, in order of bars."""
        return self.routine.passages

    @cached_property
    def line(self) -> tuple[Passage, ...]:
        """The passages in order, without the upper layer of a peak."""
        return tuple(p for p in self.passages if p.layer is not Layer.OVER)

    @cached_property
    def steps(self) -> tuple[tuple[Passage, Passage], ...]:
        """Every passage of the line with the one after it."""
        return tuple(pairwise(self.line))

    @cached_property
    def returns(self) -> tuple[tuple[Passage, ...], ...]:
        """Every return of the refrain: the longest runs of passages with role `refrain`."""
        return self.routine.refrains

    def technique(self, passage: Passage) -> Technique | None:
        """Return what is done; None in an open passage or where the technique is not known."""
        if passage.technique is None or not self.craft.has_technique(passage.technique):
            return None
        return self.craft.technique(passage.technique)

    def region(self, passage: Passage) -> str | None:
        technique = self.technique(passage)
        return technique.region if technique else None

    def family(self, passage: Passage) -> Family | None:
        technique = self.technique(passage)
        return technique.family if technique else None

    def region_of(self, technique: Technique) -> Region | None:
        """Return the region as the body file knows it, or None."""
        known = self.craft.has_region(technique.region)
        return self.craft.region(technique.region) if known else None

    def touched(self, technique: Technique) -> tuple[str, ...]:
        """Return the region a technique works, and those that its strokes pass over."""
        region = self.region_of(technique)
        return (technique.region, *(region.covers if region else ()))

    def with_parts(self, regions: tuple[str, ...]) -> frozenset[str]:
        """Return `regions` and all the parts that they cover."""
        known = [self.craft.region(r) for r in regions if self.craft.has_region(r)]
        return frozenset(regions).union(*(region.covers for region in known))

    def known(self) -> Iterator[tuple[Passage, Technique]]:
        """Yield every passage, of both layers, whose technique is known."""
        for passage in self.passages:
            technique = self.technique(passage)
            if technique is not None:
                yield passage, technique

    def is_still(self, passage: Passage) -> bool:
        """True for a hold or an embrace at pressure 0."""
        family = self.family(passage)
        return family is not None and family.is_held and passage.pressure == 0

    def counted(self, passage: Passage) -> int:
        """Return the counted pressure: a still hold counts 1, an open passage 2."""
        if passage.is_open:
            return OPEN_COUNTS
        return STILL_COUNTS if self.is_still(passage) else passage.pressure

    def is_turning(self, passage: Passage) -> bool:
        """True where the hands only help the receiver turn over."""
        technique = self.technique(passage)
        helps = technique is not None and technique.helps_turn
        return helps and passage.pressure == 0 and passage.role is Role.REST

    # --- blocks and pairs -------------------------------------------------------------------

    @cached_property
    def blocks(self) -> tuple[Block, ...]:
        """The line cut into blocks: a passage, or a deep run with the rest that follows it."""
        return blocks_of(self.line, self.region, self.counted, self.seconds)

    @cached_property
    def partners(self) -> tuple[int | None, ...]:
        """For every block the place of the block that it makes a pair with, or None."""
        return partners_of(self.blocks)

    @cached_property
    def rounds(self) -> tuple[tuple[Block, ...], ...]:
        """The blocks in order, the two of a pair together."""
        found: list[tuple[Block, ...]] = []
        for i, block in enumerate(self.blocks):
            partner = self.partners[i]
            if partner is None:
                found.append((block,))
            elif partner > i:
                found.append((block, self.blocks[partner]))
        return tuple(found)

    @cached_property
    def runs(self) -> tuple[Block, ...]:
        """The blocks that are deep."""
        return tuple(b for b in self.blocks if b.is_deep)

    # --- words ------------------------------------------------------------------------------

    def name(self, passage: Passage) -> str:
        """Return the plain name of what is done."""
        if passage.is_open:
            return "the open passage"
        technique = self.technique(passage)
        return technique.plain if technique else f'"{passage.technique}"'

    def place(self, passage: Passage) -> str:
        """Return name, side and time, as in "Slow plough at 9:30 (left)"."""
        at = f"{self.name(passage)} at {as_minutes(self.start(passage))}"
        return f"{at} ({passage.side})" if passage.side.is_one_sided else at

    def region_name(self, region: str, side: Side = Side.BOTH) -> str:
        """Return "the" region in words, with its side where there is one."""
        known = self.craft.has_region(region)
        words = self.craft.region(region).name if known else region.replace("_", " ")
        words = words[:1].lower() + words[1:]
        first = words.partition(" ")[0]
        if first in _PLACE_WORDS:
            words = f"the place {words}"
        elif first != "the":
            words = f"the {words}"
        return f"{words} ({side})" if side.is_one_sided else words

    def number(self, rule: Rule, name: str) -> float:
        """Return the number `name` of `rule`, as the teacher has changed it or as it stands."""
        return rule.number_in(self.craft.settings, name)

    def finding(
        self, rule: Rule, at_bar: int, message: str, severity: Severity | None = None
    ) -> Finding:
        """Return `message`, begun with a capital, as a finding of `rule`; of its own severity,
        unless another is given."""
        return Finding(
            rule=rule.id,
            severity=severity or rule.severity,
            at_bar=at_bar,
            message=message[:1].upper() + message[1:],
            source=rule.source,
        )


def look(routine: Routine, craft: Craft, brief: Brief | None) -> View:
    """Return the view of `routine`; what cannot be measured is mended first and named."""
    sound, troubles = _mended(routine)
    in_order = tuple(sorted(routine.passages, key=lambda p: p.start_bar))
    return View(
        routine=replace(sound, passages=in_order),
        craft=craft,
        brief=brief if brief is not None else routine.brief,
        listed=routine.passages,
        troubles=troubles,
    )


def _mended(routine: Routine) -> tuple[Routine, tuple[str, ...]]:
    """Return a routine whose clock can be read, and what was wrong with it, in sentences."""
    troubles = []
    if routine.beats_per_bar < 1:
        troubles.append("A bar needs at least one beat; it is read here as four.")
        routine = replace(routine, beats_per_bar=4)
    if routine.bars < 1:
        troubles.append("The routine says that it has no bars; it is read here to its last one.")
        last = max((p.end_bar for p in routine.passages), default=1)
        routine = replace(routine, bars=last)
    try:
        ends = routine.clock.total_seconds
        why = "" if ends > 0 else "the seconds of the beats must rise"
    except ValueError as error:
        why = str(error)
    if why:
        troubles.append(f"The tempo cannot be read ({why}); it is read here as 60 beats a minute.")
        routine = replace(routine, tempo=_PLAIN_TEMPO, music=Music())
    return routine, tuple(troubles)
