"""What is no longer as it was between two routines, in plain sentences."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby

from rondel.model.names import ON_SIDE_SAYS, lying_says, names_shown, passage_name
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.time import as_minutes
from rondel.model.words import Role
from rondel.planner.groups import Group, groups_of
from rondel.planner.naming import listed

NOTHING_ELSE = "Nothing else moved."
NOTHING = "Nothing moved."


#: Where more than so many things changed by so few bars at most, they are told in one sentence.
_MOST_TOLD, _LITTLE_BARS = 3, 3


class Aspect(StrEnum):
    """What of a group may change."""

    START = "start"
    LENGTH = "length"
    SIDE = "side"
    PRESSURE = "pressure"
    ROW = "row"  # the refrain's techniques, pressures and lengths


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the teacher asked for, which she need not be told: groups by their first bar.

    `new_bar` is where the group that began at `old_bar` begins now; None where it was to go.
    """

    old_bar: int
    new_bar: int | None
    aspects: frozenset[Aspect]


def what_moved(
    old: Routine, new: Routine, craft: Craft, asked: Asked | None = None
) -> tuple[str, ...]:
    """Return a few sentences on what differs between `old` and `new`, besides what was `asked`.

    A left and right pair, deep work with its rests and a return of the refrain each count as one.
    Times are compared in bars, at the tempo of `new`.
    """
    told = _Teller(old, new, craft, asked).sentences()
    return tuple(told) or ((NOTHING_ELSE if asked else NOTHING),)


class _Teller:
    """Matches the groups of two routines, and tells about what is left over or differs."""

    def __init__(self, old: Routine, new: Routine, craft: Craft, asked: Asked | None) -> None:
        self.old, self.new, self.craft, self.asked = old, new, craft, asked
        self.old_groups, self.new_groups = groups_of(old, craft), groups_of(new, craft)
        self.bar = float(new.clock.bar_seconds())
        self.half_bar = self.bar / 2
        self.pairs, self.gone, self.added = self._matched()

    def sentences(self) -> list[str]:
        """Return everything there is to tell, what is gone and new first."""
        resting = [g for g in self.gone if _as_rest(g, self.new)]
        rested = [g for g in self.added if _as_rest(g, self.old)]
        gone = [self._name_at(self.old, g) for g in self.gone if g not in resting]
        added = [self._name_at(self.new, g) for g in self.added if g not in rested]
        return [
            *self._freed(),
            *self._whole(),
            *([_capital(f"{listed(gone)} {_is_or_are(gone)} gone.")] if gone else []),
            *([_capital(f"{listed(added)} {_is_or_are(added)} new.")] if added else []),
            *(_capital(f"{self._name_at(self.new, g)} is no longer a rest.") for g in rested),
            *(_capital(f"{self._name_at(self.old, g)} is now a rest.") for g in resting),
            *self._peak(),
            *self._refrain(),
            *self._starts(),
            *self._lengths(),
            *(s for pair in self.pairs for s in self._details(*pair)),
            *self._positions(),
        ]

    def _matched(self) -> tuple[list[tuple[Group, Group]], list[Group], list[Group]]:
        """Return pairs of old and new groups alike, in the new order, and what has no partner."""
        old, new = list(self.old_groups), list(self.new_groups)
        pairs: list[tuple[Group, Group]] = []
        if self.asked is not None:
            one = next((g for g in old if g.start_bar == self.asked.old_bar), None)
            other = next((g for g in new if g.start_bar == self.asked.new_bar), None)
            if one is not None and other is not None:
                pairs.append((one, other))
                old.remove(one)
                new.remove(other)
            elif one is not None and self.asked.new_bar is None:
                old.remove(one)
        ours = _in_order(old, new)
        near = sorted(
            (abs(self._later(a, b)), i, j)
            for i, a in enumerate(old)
            for j, b in enumerate(new)
            if _key(a) == _key(b)
        )
        for _, i, j in near:
            if i not in ours and j not in ours.values():
                ours[i] = j
        pairs += [(old[i], new[j]) for i, j in ours.items()]
        pairs.sort(key=lambda pair: pair[1].start_bar)
        theirs = set(ours.values())
        gone = [g for i, g in enumerate(old) if i not in ours and not g.is_refrain]
        added = [g for j, g in enumerate(new) if j not in theirs and not g.is_refrain]
        return pairs, gone, added

    def _freed(self) -> list[str]:
        """Tell what was insisted on in the old routine, and is not in the brief of the new one. Of
        an edit she knows that."""
        if self.asked is not None or self.old.brief is None or self.new.brief is None:
            return []
        left = [keep.technique for keep in self.new.brief.keep]
        freed = []
        for keep in self.old.brief.keep:
            if keep.technique in left:
                left.remove(keep.technique)
            elif self.craft.has_technique(keep.technique):
                name = self.craft.technique(keep.technique).plain
                at = keep.at_seconds
                freed.append(name if at is None else f"{name} at {as_minutes(float(at))}")
        if not freed:
            return []
        if len(freed) == 1:
            return [
                f"{freed[0]} is no longer insisted on, since the brief does not ask for it; "
                "insist on it there to keep it."
            ]
        return [
            f"{listed(freed)} are no longer insisted on, since the brief does not ask for them; "
            "insist on them there to keep them."
        ]

    def _whole(self) -> list[str]:
        """Tell of length and tempo of the routine."""
        told = []
        was, now = self.old.clock.total_seconds, self.new.clock.total_seconds
        if abs(was - now) > self.half_bar:
            told.append(f"The routine lasts {as_minutes(now)} instead of {as_minutes(was)}.")
        before, after = (60 * r.beats_per_bar / r.clock.bar_seconds() for r in (self.old, self.new))
        if round(before) != round(after):
            says = f"It goes at {after:.0f} beats a minute instead of {before:.0f}"
            told.append(f"{says}, and every time follows that.")
        return told

    def _peak(self) -> list[str]:
        """Tell where other hands make the peak."""
        was, now = (
            [g for g in groups if g.first.role is Role.PEAK]
            for groups in (self.old_groups, self.new_groups)
        )
        if [g.techniques for g in was] == [g.techniques for g in now] or not now:
            return []
        names = listed(dict.fromkeys(self._name(self.new, g) for g in now))
        return [f"The peak is now {names}."]

    def _refrain(self) -> list[str]:
        """Tell of another number of returns, and of another row."""
        told = []
        was, now = len(self.old.refrains), len(self.new.refrains)
        if was != now:
            word = {1: "once", 2: "twice"}
            says = f"{word.get(now, f'{now} times')} instead of {word.get(was, str(was))}"
            told.append(f"The refrain returns {says}.")
        is_asked = self.asked is not None and Aspect.ROW in self.asked.aspects
        if was and now and not is_asked and _row(self.old) != _row(self.new):
            names = names_shown(self.new)
            parts = [
                f"{passage_name(p, self.craft, names)} for {self.new.seconds_of(p):.0f} seconds"
                for p in self.new.refrains[0]
            ]
            told.append(f"Each return of the refrain is now {listed(parts)}.")
        return told

    def _starts(self) -> list[str]:
        """Tell what starts at another time; neighbours that moved alike are told together."""
        same = [pair for pair in self.pairs if _key(pair[0]) == _key(pair[1])]
        shifts = [(self._shift(*pair), pair[1]) for pair in same]
        runs = [(shift, [g for _, g in run]) for shift, run in groupby(shifts, key=lambda s: s[0])]
        small = [abs(shift) for shift, _ in runs if 0 < abs(shift) <= _LITTLE_BARS * self.bar]
        told = []
        if len(small) > _MOST_TOLD:
            runs = [(shift, groups) for shift, groups in runs if abs(shift) not in small]
            told.append(f"Much starts earlier or later by up to {_seconds(max(small))}.")
        for shift, groups in runs:
            if not shift:
                continue
            far = f"{as_minutes(abs(shift))} minutes" if abs(shift) >= 120 else None
            says = f"{far or _seconds(abs(shift))} {'later' if shift > 0 else 'earlier'}"
            first, last = self._name(self.new, groups[0]), self._name(self.new, groups[-1])
            if len(groups) == 1:
                told.append(f"{first} starts {says}, at {self._at(self.new, groups[0])}.")
            elif len(groups) == 2:
                told.append(f"{first} and then {last} start {says}.")
            else:
                span = f"{self._at(self.new, groups[0])} to {self._at(self.new, groups[-1])}"
                told.append(f"All from {first} to {last} ({span}) starts {says}.")
        return [_capital(s) for s in (*self._in_place(), *told)]

    def _in_place(self) -> Iterator[str]:
        """Tell where what was asked for instead of something else starts earlier or later."""
        for was, now in self.pairs:
            shift = self._shift(was, now) if _key(was) != _key(now) else 0
            if shift:
                far = f"{_seconds(abs(shift))} {'later' if shift > 0 else 'earlier'}"
                yield (
                    f"{self._name(self.new, now)} starts at {self._at(self.new, now)}, {far} than "
                    "what stood there."
                )

    def _later(self, was: Group, now: Group) -> float:
        """Return by how many seconds `now` starts later, counted in bars of the new routine."""
        return (now.start_bar - was.start_bar) * self.bar

    def _shift(self, was: Group, now: Group) -> int:
        """Return by how many whole seconds a group starts later; 0 where that is not to be told."""
        return 0 if self._is_asked(now, Aspect.START) else round(self._later(was, now))

    def _lengths(self) -> list[str]:
        """Tell what lasts longer or less long; where much does so by little, in one sentence."""
        told: list[tuple[int, str, str]] = []
        for was, now in self.pairs:
            by = now.work_bars - was.work_bars
            is_same = not now.is_refrain and _key(was) == _key(now)
            if by and is_same and not self._is_asked(now, Aspect.LENGTH):
                name, side = self._name(self.new, now), " on each side" if now.is_pair else ""
                after, before = now.work_bars * self.bar, was.work_bars * self.bar
                says = f"{name} lasts {_seconds(after)}{side} instead of {before:.0f}."
                told.append((abs(by), name, says))
        small = [(by, name) for by, name, _ in told if by <= _LITTLE_BARS]
        if len(small) <= _MOST_TOLD:
            return [_capital(says) for _, _, says in told]
        names = listed(dict.fromkeys(name for _, name in small))
        most = max(by for by, _ in small)
        return [
            *(_capital(says) for by, _, says in told if by > _LITTLE_BARS),
            _capital(f"{names} last up to {_seconds(most * self.bar)} longer or less long."),
        ]

    def _details(self, was: Group, now: Group) -> list[str]:
        """Tell of another rest, side or pressure of one group."""
        if now.is_refrain or _key(was) != _key(now):
            return []
        name, told = self._name(self.new, now), []
        if was.rest_bars and not now.rest_bars:
            told.append(f"{name} no longer needs its rest.")
        elif was.rest_bars != now.rest_bars:
            after, before = now.rest_bars * self.bar, was.rest_bars * self.bar
            less = f" instead of {before:.0f}" if before else ""
            told.append(f"The rest after {name} lasts {_seconds(after)}{less}.")
        rested, rests = (_resting(g) for g in (was, now))
        if rested and rests and [p.technique for p in rested] != [p.technique for p in rests]:
            names = dict.fromkeys(map(self._called, rests))
            told.append(f"The rest after {name} is now {listed(names)}.")
        if was.first.side is not now.first.side and not self._is_asked(now, Aspect.SIDE):
            told.append(f"{name} begins {ON_SIDE_SAYS[now.first.side]}.")
        before_, after_ = ([str(p.pressure) for p in g.work] for g in (was, now))
        if before_ != after_ and not now.is_open and not self._is_asked(now, Aspect.PRESSURE):
            told.append(
                f"{name} is done at pressure {listed(after_)} instead of {listed(before_)}."
            )
        return [_capital(s) for s in told]

    def _positions(self) -> list[str]:
        """Tell what is now done in another position."""
        changed: dict[str, list[str]] = {}
        for was, now in self.pairs:
            if was.first.position is not now.first.position and not now.is_open:
                lying = lying_says(now.first.position)
                changed.setdefault(lying, []).append(self._name(self.new, now))
        return [
            _capital(
                f"{listed(dict.fromkeys(names))} is now done {lying}."
                if len(names) == 1
                else f"{listed(dict.fromkeys(names))} are now done {lying}."
            )
            for lying, names in changed.items()
        ]

    def _is_asked(self, now: Group, aspect: Aspect) -> bool:
        asked = self.asked
        return asked is not None and now.start_bar == asked.new_bar and aspect in asked.aspects

    def _name(self, routine: Routine, group: Group) -> str:
        if group.is_refrain:
            return "the refrain"
        if group.is_open:
            return "the time left free"
        names = names_shown(routine)
        return " with ".join(passage_name(p, self.craft, names) for p in group.work)

    def _called(self, passage: Passage) -> str:
        return passage_name(passage, self.craft, names_shown(self.new))

    def _name_at(self, routine: Routine, group: Group) -> str:
        return f"{self._name(routine, group)} at {self._at(routine, group)}"

    def _at(self, routine: Routine, group: Group) -> str:
        return as_minutes(routine.start_seconds(group.first))


def _key(group: Group) -> object:
    """Return what must be the same for two groups to be the same thing."""
    if group.is_refrain:
        return Role.REFRAIN
    return group.techniques


def _in_order(old: list[Group], new: list[Group]) -> dict[int, int]:
    """Return which of `new` is which of `old`, where there are as many of a kind: the first return
    is the first, also where it now stands nearer to where the second did."""
    kinds: dict[object, tuple[list[int], list[int]]] = {}
    for which, groups in enumerate((old, new)):
        for place, group in enumerate(groups):
            kinds.setdefault(_key(group), ([], []))[which].append(place)
    alike = (pair for pair in kinds.values() if len(pair[0]) == len(pair[1]))
    return {i: j for was, now in alike for i, j in zip(was, now, strict=True)}


def _as_rest(group: Group, other: Routine) -> bool:
    """True where `other` does the same hands in the same bars, within one, as the rest of deep
    work."""
    first = group.first
    return len(group.work) == 1 and any(
        p.role is Role.REST
        and (p.technique, p.side) == (first.technique, first.side)
        and abs(p.start_bar - first.start_bar) <= 1
        and abs(p.bars - first.bars) <= 1
        for p in other.line
    )


def _resting(group: Group) -> list[Passage]:
    """Return what answers deep work, on the first side."""
    once = () if group.is_turning else group.passages[: group.a_side]
    return [p for p in once if p.role is Role.REST]


def _row(routine: Routine) -> list[tuple[str | None, int, int]]:
    return [(p.technique, p.pressure, p.bars) for p in routine.refrains[0]]


def _seconds(seconds: float) -> str:
    whole = round(seconds)
    return "1 second" if whole == 1 else f"{whole} seconds"


def _is_or_are(names: Iterable[str]) -> str:
    return "is" if len(list(dict.fromkeys(names))) == 1 else "are"


def _capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]
