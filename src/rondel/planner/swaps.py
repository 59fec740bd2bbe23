"""One technique brought into a finished routine, with as little else changed as can be.

A swap puts the technique into the bars of a group and leaves every other bar as it is. Where no
such routine is lawful, it may be planned again, near the old one, with the technique insisted on.
`planner/grow.py` and `planner/levels.py` choose among swaps.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from rondel.model.brief import Brief, Keep
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Proof, Routine
from rondel.model.words import Layer, Role, Side
from rondel.planner.alternatives import LONGEST_HOLD_SECONDS, IsLawful
from rondel.planner.attempts import QUICK, Effort
from rondel.planner.constraints import close, level, limits, opening, range, sides, strokes
from rondel.planner.frame import Frame, frame_of
from rondel.planner.groups import Group, groups_of
from rondel.planner.nearness import bars_of
from rondel.planner.plan import plan
from rondel.planner.score import score
from rondel.rules.open import MIN_SECONDS

#: What one more bar that changed elsewhere weighs against the score (our choice).
CHANGED = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """A whole routine with `technique` in the place of `group`, and what that costs."""

    technique: Technique
    group: Group
    routine: Routine
    cost: float


# --- only the place itself -----------------------------------------------------------------------


def places_for(technique: Technique, routine: Routine, craft: Craft) -> tuple[Group, ...]:
    """Return the groups of `routine` in whose place the technique might stand, in order.

    Two neighbours count as one more place, for what needs more time than either has. Never the
    refrain, the arrival, a turning over, or what the teacher insists on.
    """
    brief = _brief_of(routine)
    pressures = range.pressures(technique, limits.cap(technique, brief, craft))
    if not pressures:
        return ()
    frame, lightest = frame_of(brief), pressures[0]

    def may_be(group: Group) -> bool:
        first = group.first
        if group.is_refrain or group.is_turning or first.role is Role.ARRIVE:
            return False
        if any(p.kept or p.layer is not Layer.ONLY for p in group.passages):
            return False
        if first.position not in technique.position:
            return False
        if first.start_bar < opening.first_free_bar(frame):
            return opening.allows(technique.family, lightest)
        if first.role is Role.CLOSE:
            return not technique.lateral and close.may_end(technique.family, lightest)
        return True

    groups = groups_of(routine, craft)
    joined = (_joined(a, b) for a, b in pairwise(groups) if may_be(a) and may_be(b))
    return (*(g for g in groups if may_be(g)), *(g for g in joined if g is not None))


def _joined(one: Group, two: Group) -> Group | None:
    """Return two neighbours as one place; None for deep work, open bars and the close."""
    if any(g.is_deep or g.is_open or g.first.role is not Role.WORK for g in (one, two)):
        return None
    whole = (*one.passages, *two.passages)
    return Group(passages=whole, a_side=len(whole))


def swaps_at(
    technique: Technique, group: Group, routine: Routine, craft: Craft
) -> Iterator[Placement]:
    """Give the routine, which carries its brief, with `technique` in the bars of `group`.

    At every pressure that it may have. What fills bars left open makes them fewer in the brief.
    """
    brief = _brief_of(routine)
    frame = frame_of(brief)
    for pressure in range.pressures(technique, limits.cap(technique, brief, craft)):
        for row in _rows(technique, group, pressure, frame, craft):
            changed = brief
            if group.is_open:
                bars = sum(p.bars for p in row if p.technique is not None)
                changed = replace(brief, open_minutes=_still_open(bars, frame))
            whole = replace(routine, brief=changed, passages=_with_row(routine, group, row))
            cost = score(whole, craft).total
            yield Placement(technique=technique, group=group, routine=whole, cost=cost)


def lawful(swaps: Iterable[Placement], is_lawful: IsLawful) -> Placement | None:
    """Return the cheapest lawful swap, the first of equals; only as many are tried as need be."""
    return next((s for s in sorted(swaps, key=lambda s: s.cost) if is_lawful(s.routine)), None)


def _rows(
    technique: Technique, group: Group, pressure: int, frame: Frame, craft: Craft
) -> Iterator[tuple[Passage, ...]]:
    """Give the passages that fill the group's bars with the technique, rests where it is deep."""
    if group.is_deep:
        yield from _deep_rows(technique, group, pressure, frame)
        return
    for bars in _lengths(technique, group, frame):
        places = sides.sides(technique, craft)
        row: list[Passage] = []
        at = group.start_bar
        for side in places:
            passage = _passage(technique, group.first, side, pressure, at, bars, frame)
            if passage is None:
                break
            row.append(passage)
            at += bars
        if len(row) == len(places):
            left = group.end_bar - at
            yield (*row, *([replace(group.first, start_bar=at, bars=left)] if left else []))


def _lengths(technique: Technique, group: Group, frame: Frame) -> tuple[int, ...]:
    """Return how many bars a side may be worked: all of them, or of open bars a part."""
    count = 2 if technique.lateral else 1
    low, high = frame.ordinary
    if technique.family.is_held:
        high = max(low, min(high, frame.at_most(LONGEST_HOLD_SECONDS)))
    whole = group.bars // count if group.bars % count == 0 else 0
    if low <= whole <= high:
        return (whole,)
    least_open = frame.at_least(MIN_SECONDS * frame.scale)
    usual = min(high, max(low, frame.at_most(LONGEST_HOLD_SECONDS)))
    is_room = group.is_open and group.bars - usual * count >= least_open
    return (usual,) if is_room else ()


def _deep_rows(
    technique: Technique, group: Group, pressure: int, frame: Frame
) -> Iterator[tuple[Passage, ...]]:
    """Give the group with the technique for its deep work, its rests left as they are."""
    deep = [p for p in group.passages if p.is_deep]
    if pressure != deep[0].pressure or len({p.technique for p in deep}) > 1:
        return
    if technique.lateral is not group.first.side.is_one_sided:
        return
    row = [
        _passage(technique, p, p.side, pressure, p.start_bar, p.bars, frame) if p.is_deep else p
        for p in group.passages
    ]
    whole = tuple(p for p in row if p is not None)
    if len(whole) == len(row):
        yield whole


def _passage(
    technique: Technique,
    like: Passage,
    side: Side,
    pressure: int,
    start: int,
    bars: int,
    frame: Frame,
) -> Passage | None:
    """Return a passage of the technique in the place of `like`; None where no stroke fits."""
    beats = strokes.best(technique, frame, bars, pressure)
    if beats is None:
        return None
    return replace(
        like,
        technique=technique.id,
        role=Role.WORK if like.is_open else like.role,
        side=side,
        start_bar=start,
        bars=bars,
        pressure=pressure,
        beats_per_stroke=beats,
        first_landing_beat=strokes.first_landing(technique, beats),
        stretch=not level.allows(technique, frame.brief),
        why=(),
    )


def _with_row(routine: Routine, group: Group, row: tuple[Passage, ...]) -> tuple[Passage, ...]:
    """Return the passages with `row` in the group's place, all named afresh in order."""
    before = [p for p in routine.passages if p.end_bar <= group.start_bar]
    after = [p for p in routine.passages if p.start_bar >= group.end_bar]
    whole = (*before, *row, *after)
    return tuple(replace(p, id=f"p{n:02d}") for n, p in enumerate(whole, start=1))


def _still_open(bars: int, frame: Frame) -> Fraction:
    """Return the open minutes, less `bars`; what is too short to use counts as nothing."""
    left = frame.brief.open_minutes - bars * frame.bar_seconds / 60
    rounded = Fraction(round(100 * left), 100)
    return rounded if rounded * 60 >= MIN_SECONDS * frame.scale else Fraction(0)


# --- planned again -------------------------------------------------------------------------------


def planned_near(brief: Brief, craft: Craft, near: Routine, effort: Effort = QUICK) -> Outcome:
    """Return a plan near `near`, or the reasons why none was found, without what to loosen."""
    return plan(brief, craft, near=near, effort=effort, loosen=False)


def replanned(
    technique: Technique, group: Group, routine: Routine, craft: Craft, effort: Effort
) -> Placement | None:
    """Return a plan near `routine` in which `technique` starts where `group` does, or None."""
    brief = _brief_of(routine)
    frame, count = frame_of(brief), 2 if technique.lateral else 1
    bars = min(max(group.bars // count, frame.ordinary[0]), frame.ordinary[1])
    wish = Keep(
        technique=technique.id,
        at_seconds=frame.seconds_at(group.start_bar),
        minutes=bars * frame.bar_seconds / 60,
    )
    changed = replace(brief, keep=(*_where_they_stand(routine, craft, frame), wish))
    if group.is_open:
        changed = replace(changed, open_minutes=_still_open(bars * count, frame))
    planned = planned_near(changed, craft, routine, effort).routine
    if planned is None:
        return None
    loose = replace(changed, keep=brief.keep)
    cost = score(planned, craft).total + CHANGED * changed_outside(routine, planned, group)
    passages = (
        replace(p, kept=False) if p.technique == technique.id else p for p in planned.passages
    )
    whole = replace(planned, brief=loose, passages=tuple(passages))
    return Placement(technique=technique, group=group, routine=whole, cost=cost)


def _where_they_stand(routine: Routine, craft: Craft, frame: Frame) -> Iterator[Keep]:
    """Yield what is insisted on, each where it stands: most of the routine is to stay, and a search
    that could put every one of them anywhere would take minutes."""
    starts: dict[str | None, list[int]] = {}
    for group in groups_of(routine, craft):
        for technique in () if group.is_refrain else dict.fromkeys(group.techniques):
            first = next((p for p in group.passages if p.technique == technique), group.first)
            starts.setdefault(technique, []).append(first.start_bar)
    keeps = _brief_of(routine).keep
    for keep in keeps:  # what has its time is not to be held for what has none
        at, there = keep.at_seconds, starts.get(keep.technique)
        if at is not None and there:
            there.remove(min(there, key=lambda bar: abs(frame.seconds_at(bar) - at)))
    for keep in keeps:
        there = starts.get(keep.technique)
        if keep.at_seconds is None and there:
            yield replace(keep, at_seconds=frame.seconds_at(there.pop(0)))
        else:
            yield keep


# --- what is told of it --------------------------------------------------------------------------


def changed_outside(old: Routine, new: Routine, group: Group) -> int:
    """Return how many bars outside `group` are not as they were."""
    pairs = enumerate(zip(bars_of(old), bars_of(new), strict=False))
    outside = sum(a != b for i, (a, b) in pairs if not group.start_bar <= i < group.end_bar)
    return outside + abs(old.bars - new.bars)


def noted(routine: Routine, notes: Mapping[str, str]) -> Routine:
    """Return `routine` in which the sentence of a technique in `notes` comes first of its reasons.

    It stands at the first passage of the technique, in place of being insisted on.
    """
    passages, left = [], dict(notes)
    for passage in routine.passages:
        says = left.pop(passage.technique, None) if passage.technique else None
        why = tuple(w for w in passage.why if not w.startswith("You insist on it"))
        passages.append(passage if says is None else replace(passage, why=(says, *why)))
    return replace(routine, passages=tuple(passages))


def carried(routine: Routine, brief: Brief, craft: Craft) -> Routine:
    """Return `routine` as one for `brief`, with its cost worked out for that."""
    whole = replace(routine, brief=brief, title=brief.title, seed=brief.seed)
    return replace(whole, proof=Proof(objective=round(score(whole, craft).total, 6)))


def _brief_of(routine: Routine) -> Brief:
    if routine.brief is None:
        raise ValueError("only in a routine that carries its brief can something be swapped")
    return routine.brief
