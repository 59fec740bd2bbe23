"""What blocks cost at the bars of a brought track, and where they may not stand at all.

Every rule of a track is a sum over passages and bars, so one table holds them for the search, the
network and its bound alike; `of_routine` adds the same up for a finished routine.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.settings import Settings
from rondel.model.track import Laid
from rondel.model.words import Role
from rondel.planner.blocks import Block, Kind
from rondel.planner.constraints import audible, home, phrase, summit, turns
from rondel.planner.frame import Frame
from rondel.planner.material import Material
from rondel.rules.book import BY_ID

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def track_costs_of(frame: Frame, craft: Craft) -> TrackCosts | None:
    """Return the costs of the track that `frame` is laid out to; None where music is composed."""
    return None if frame.laid is None else TrackCosts(frame.laid, craft.settings)


class TrackCosts:
    """The costs of a track under a teacher's settings."""

    def __init__(self, laid: Laid, settings: Settings) -> None:
        self.laid, self.course = laid, laid.course

        def share(rule: str) -> float:
            own = BY_ID[rule].weight
            return settings.weight(rule, own) / own

        self.phrase = phrase.COST * share("phrase")
        self.home = home.COST * share("home")
        self.turns = turns.COST * share("turns")

    # ---- the search ------------------------------------------------------------------------------

    def table(self, blocks: list[Block], bars: Ints, material: Material) -> Floats:
        """Return the cost of every block (a row each) begun at each of `bars`; inf where a rule
        that must be kept forbids it."""
        course, last = self.course, self.course.bars
        on_phrase = _flags(last, course.phrases)
        quiet = np.concatenate([[0], np.cumsum(~np.array(course.heard))])
        near_home = np.array([home.is_home(bar, course.homes) for bar in range(last + 1)])
        known: dict[tuple[object, ...], Floats] = {}
        found = np.zeros((len(blocks), len(bars)))
        for i, block in enumerate(blocks):
            begins = _begins(block)
            roles = tuple(part.role for part in block.parts)
            key = (block.kind, roles, _changes(block), *_asking(block, material))
            if key not in known:
                row = np.zeros(len(bars))
                for at in begins:
                    row += self.phrase * ~on_phrase[np.minimum(bars + at, last)]
                row += self._turn_row(block, bars)
                if block.kind is Kind.HOME:
                    row += self.home * ~near_home[bars]
                if block.kind is Kind.PEAK:
                    row += self._peak_row(block, bars)
                for at, past in _asking(block, material):
                    until, since = (np.minimum(bars + off, last) for off in (past, at))
                    row[quiet[until] > quiet[since]] = np.inf
                known[key] = row
            found[i] = known[key]
        return found

    def _turn_row(self, block: Block, bars: Ints) -> Floats:
        """Return what changes of the track cost that fall into the midst of the block's parts."""
        changes = _changes(block)
        missed = np.zeros(block.bars + 1)
        for offset in range(1, block.bars):
            missed[offset] = turns.missed(offset, changes)
        row = np.zeros(len(bars))
        for turn in self.course.turns:
            offsets = turn - bars
            within = (offsets > 0) & (offsets < block.bars)
            row[within] += self.turns * missed[offsets[within]]
        return row

    def _peak_row(self, block: Block, bars: Ints) -> Floats:
        course = self.course
        row = np.zeros(len(bars))
        for (at, past), part in zip(pairwise(_changes(block)), block.parts, strict=True):
            if part.role is Role.PEAK:
                inside = [summit.inside(b + at, b + past, course) for b in bars.tolist()]
                row += summit.COST * (part.bars - np.array(inside))
        if course.stands_out:
            able = [summit.is_met(b, b + block.bars, self.laid) for b in bars.tolist()]
            row[~np.array(able, dtype=bool)] = np.inf
        return row

    # ---- a finished routine ----------------------------------------------------------------------

    def of_routine(self, routine: Routine, craft: Craft) -> float:
        """Return what the wishes of the track cost in `routine`."""
        course, line = self.course, routine.line
        phrases = set(course.phrases)
        total = self.phrase * sum(
            p.start_bar not in phrases for i, p in enumerate(line) if counts(line, i)
        )
        total += self.home * sum(
            not home.is_home(row[0].start_bar, course.homes) for row in routine.refrains
        )
        changes = [*(p.start_bar for p in line), routine.bars]
        total += self.turns * sum(
            turns.missed(turn, changes) for turn in course.turns if turn < course.bars
        )
        return total + summit.COST * sum(
            p.bars - summit.inside(p.start_bar, p.end_bar, course)
            for p in line
            if p.role is Role.PEAK
        )


def counts(line: Sequence[Passage], place: int) -> bool:
    """True where passage `place` of `line` should begin on a phrase: not within the refrain, and
    not a rest, which begins when the deep work before it is over."""
    passage = line[place]
    is_within = place > 0 and line[place - 1].role is Role.REFRAIN
    return passage.role is not Role.REST and not (is_within and passage.role is Role.REFRAIN)


def peak_row(routine: Routine) -> tuple[Passage, ...]:
    """Return the peak from its first passage to its last, with the rests between and after."""
    line = routine.line
    places = [i for i, p in enumerate(line) if p.role is Role.PEAK]
    past = places[-1] + 1
    while past < len(line) and line[past].role is Role.REST:
        past += 1
    return line[places[0] : past]


def _begins(block: Block) -> list[int]:
    """Return where in the block passages begin that should begin on a phrase."""
    found, at = [], 0
    for i, part in enumerate(block.parts):
        is_within = block.kind is Kind.HOME and i > 0
        if part.role is not Role.REST and not is_within:
            found.append(at)
        at += part.bars
    return found


def _changes(block: Block) -> tuple[int, ...]:
    """Return the bars of the block on which something changes, its start and end among them."""
    found = [0]
    for part in block.parts:
        found.append(found[-1] + part.bars)
    return tuple(found)


def _asking(block: Block, material: Material) -> tuple[tuple[int, int], ...]:
    """Return the parts of the block, as bars from its start, that ask for a beat."""

    def technique(number: int) -> Technique | None:
        return material.techniques[number] if number >= 0 else None

    ends = pairwise(_changes(block))
    return tuple(
        span
        for span, part in zip(ends, block.parts, strict=True)
        if audible.asks_beat(technique(part.technique))
    )


def _flags(last: int, bars: Sequence[int]) -> NDArray[np.bool_]:
    found = np.zeros(last + 1, dtype=bool)
    found[[bar for bar in bars if bar <= last]] = True
    return found
