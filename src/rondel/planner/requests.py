"""An edit, turned into what the planner understands: a changed brief and a routine to stay near.

Most edits become something that the teacher insists on, so that they stand in later plans too until
she frees them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from fractions import Fraction

from rondel.model.brief import Brief, Keep
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.words import Role
from rondel.planner import edit_limits as limits
from rondel.planner.edits import Lengthen, Shorten
from rondel.planner.frame import Frame, frame_of
from rondel.planner.groups import Group, groups_of
from rondel.planner.layouts import Layout, Row, Slot, slot_of
from rondel.planner.moved import Aspect
from rondel.planner.nearness import home_in
from rondel.planner.refrains import Home
from rondel.planner.targets import Target

#: A change of length where the teacher names none (our choice).
USUAL_SECONDS = 15


@dataclass(frozen=True, kw_only=True)
class Request:
    """What to plan.

    `target` is the routine with the edit and nothing else changed; `layouts` are ways to lay it out
    in which only neighbours have to give way. `is_met` tells whether a plan does what was asked
    beyond its brief. `new_bar` is where the passage asked for should begin, and `technique` what it
    should be (None: open bars). Where nothing has to be planned, `settled` is the routine.
    """

    brief: Brief
    target: Routine
    home: Home
    old_bar: int
    new_bar: int
    technique: str | None
    aspects: frozenset[Aspect]
    layouts: tuple[Layout, ...] = ()
    is_met: Callable[[Routine], bool] = lambda _: True
    settled: Routine | None = None


@dataclass(frozen=True, slots=True)
class Refused:
    """An edit that cannot be, and why."""

    reasons: tuple[str, ...]


def no(*reasons: str) -> Refused:
    """Return a refusal with its sentences."""
    return Refused(reasons)


@dataclass(frozen=True, kw_only=True)
class Picked:
    """The passage that an edit speaks of, with all that it takes to change it.

    `passage` is the one on the first side of its pair; `keep` the place in the brief's keeps of
    what is insisted on there, or None; `is_rest` tells that she pointed at the rest of deep work.
    """

    routine: Routine
    brief: Brief
    craft: Craft
    frame: Frame
    groups: tuple[Group, ...]
    group: Group
    passage: Passage
    keep: int | None
    is_rest: bool

    @property
    def technique(self) -> Technique:
        assert self.passage.technique is not None
        return self.craft.technique(self.passage.technique)

    @property
    def name(self) -> str:
        return self.technique.plain

    @property
    def place(self) -> int:
        """The place of the group among all groups."""
        return next(i for i, g in enumerate(self.groups) if g is self.group)

    @property
    def is_first(self) -> bool:
        return self.group.start_bar == 0

    @property
    def is_last(self) -> bool:
        return self.group.end_bar >= self.routine.bars

    def seconds_at(self, bar: int) -> Fraction:
        return self.frame.seconds_at(bar)

    def minutes_of(self, bars: int, nudge: Fraction = Fraction(0)) -> Fraction:
        return (bars + nudge) * self.frame.bar_seconds / 60

    def brief_with(self, keep: Keep | None) -> Brief:
        """Return the brief with `keep` in the place of what was insisted on here, or without."""
        kept = list(self.brief.keep)
        if self.keep is not None:
            kept[self.keep : self.keep + 1] = [] if keep is None else [keep]
        elif keep is not None:
            kept.append(keep)
        return replace(self.brief, keep=tuple(kept))

    def insisted(self) -> Keep:
        """Return what is insisted on here already, or the bare technique."""
        if self.keep is not None:
            return self.brief.keep[self.keep]
        return Keep(technique=self.technique.id)

    def request(
        self,
        brief: Brief,
        start: int,
        rows: Iterable[Row],
        *aspects: Aspect,
        order: Iterable[int] = (),
    ) -> Request:
        """Return the request for a row (the first of `rows`; the others would do too) from bar
        `start` on, and nothing where the group was. `order` are places that it may take instead
        of its own."""
        rows = tuple(rows)
        target = Target(self.routine)
        target.vacate(self.group.start_bar, self.group.end_bar)
        target.lay(start, rows[0])
        slots = [slot_of(g, self.frame) for g in self.groups]
        layouts = [
            _reordered(slots, self.place, place, Slot(row=row), start)
            for row in rows
            for place in (self.place, *order)
        ]
        exchanged = [
            _exchanged(slots, self.place, place, Slot(row=row), start)
            for row in rows
            for place in order
        ]
        return Request(
            brief=brief,
            target=target.routine(),
            home=home_in(self.routine),
            old_bar=self.group.start_bar,
            new_bar=start,
            technique=rows[0][0][0].technique if rows[0] else None,
            aspects=frozenset(aspects),
            layouts=(*layouts, *exchanged),
        )


def _reordered(slots: list[Slot], place: int, to: int, slot: Slot, start: int) -> Layout:
    """Return the slots with `slot` taken from `place` and put in at `to`."""
    rest = [*slots[:place], *slots[place + 1 :]]
    return Layout(slots=(*rest[:to], slot, *rest[to:]), anchor=to, start=start)


def _exchanged(slots: list[Slot], place: int, to: int, slot: Slot, start: int) -> Layout:
    """Return the slots with `slot` and the one at `to` in each other's place."""
    row = list(slots)
    row[place], row[to] = row[to], slot
    return Layout(slots=tuple(row), anchor=to, start=start)


def pick(routine: Routine, craft: Craft, id: str) -> Picked | Refused:
    """Return what the passage called `id` stands for, or why it cannot be changed."""
    brief = routine.brief
    if brief is None:
        return no(
            "This routine came without its brief, so it cannot be planned again. Plan it from "
            "a brief first; `rondel plan BRIEF --near ROUTINE` stays near to it."
        )
    groups = groups_of(routine, craft)
    found = [(g, p) for g in groups for p in g.passages if p.id == id]
    if not found:
        return no(limits.unknown_passage(id, [p.id for p in routine.passages]))
    group, pointed = found[0]
    unknown = [p.technique for p in group.passages if p.technique is not None]
    for technique in unknown:
        if not craft.has_technique(technique):
            return no(limits.unknown_technique(technique, craft))
    is_rest = pointed.role is Role.REST and not group.is_turning
    alike = [p for p in group.work if p.technique == pointed.technique and not is_rest]
    passage = alike[0] if alike else group.work[0]
    if group.is_refrain:
        passage = pointed
    return Picked(
        routine=routine,
        brief=brief,
        craft=craft,
        frame=frame_of(brief),
        groups=groups,
        group=group,
        passage=passage,
        keep=_keep_of(brief, routine, groups, group, passage),
        is_rest=is_rest,
    )


def _keep_of(
    brief: Brief, routine: Routine, groups: tuple[Group, ...], group: Group, passage: Passage
) -> int | None:
    """Return which keep of `brief` speaks of `group`: of all that do the technique, the group that
    is marked as kept, or else the one nearest to the time insisted on, or else the first."""
    for number, keep in enumerate(brief.keep):
        if keep.technique != passage.technique:
            continue
        able = [
            g
            for g in groups
            if not g.is_refrain and any(p.technique == keep.technique for p in g.work)
        ]
        at = float(keep.at_seconds) if keep.at_seconds is not None else None
        able.sort(
            key=lambda g: (
                abs(routine.start_seconds(g.first) - at) if at is not None else 0.0,
                not any(p.kept for p in g.work),
                g.start_bar,
            )
        )
        if able and able[0] is group:
            return number
    return None


def without_keep(picked: Picked, place: int) -> Routine:
    """Return the routine whose brief has not the keep at `place`, with what that speaks of marked
    as kept no more; it stays so where something else insists on it as well."""
    brief, routine = picked.brief, picked.routine
    id = brief.keep[place].technique
    kept = (*brief.keep[:place], *brief.keep[place + 1 :])
    marked = {
        n: next((p for p in g.passages if p.kept and p.technique == id), None)
        for n, g in enumerate(picked.groups)
        if not g.is_refrain
    }
    meant = {
        p.id
        for n, first in marked.items()
        if first and _keep_of(brief, routine, picked.groups, picked.groups[n], first) == place
        for p in picked.groups[n].passages
        if p.technique == id
    }
    if sum(p is not None for p in marked.values()) <= sum(k.technique == id for k in kept):
        meant = set()
    passages = tuple(replace(p, kept=False) if p.id in meant else p for p in routine.passages)
    return replace(routine, passages=passages, brief=replace(brief, keep=kept))


def bars_for(edit: Lengthen | Shorten, frame: Frame, most: int) -> int:
    """Return by how many bars on each side to change, at least one.

    Where no seconds are named, that is about a quarter of a minute, but not more than `most`.
    """
    if edit.seconds is not None:
        return max(1, round(edit.seconds / frame.bar_seconds))
    usual = max(1, round(USUAL_SECONDS * frame.scale / frame.bar_seconds))
    return min(usual, max(1, most))


def gives_at_end(picked: Picked) -> bool:
    """True where what follows can give or take bars, or what comes before cannot either."""
    if picked.is_first or picked.is_last:
        return picked.is_first
    after, before = picked.groups[picked.place + 1], picked.groups[picked.place - 1]
    return _is_soft(after) or not _is_soft(before)


def _is_soft(group: Group) -> bool:
    """True for work that nobody insists on."""
    return group.first.role is Role.WORK and not any(p.kept for p in group.passages)


def swap_reason(id: str, now: str | None, craft: Craft) -> str | None:
    """Return why a technique cannot take the place of another, whatever the place."""
    if not craft.has_technique(id):
        return limits.unknown_technique(id, craft)
    technique = craft.technique(id)
    if technique.helps_turn:
        return f"{technique.plain} only helps the receiver to turn over; choose another."
    if id == now:
        return f"{technique.plain} is what is done here; name another technique."
    return None
