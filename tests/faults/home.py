"""Faults of the refrain, of the way and of turning over: `refrain_same`, `refrain_spacing`,
`reach`, `positions`, `contact_kept`."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import floor

from faults.pieces import Kinds, Sound, changed, laid, moved_bars, swapped, with_brief
from rondel.model.repertoire import Technique
from rondel.model.routine import Passage, Routine
from rondel.model.words import Family, Position, Role, Side
from rondel.rules import positions, refrain_same, refrain_spacing

KINDS = Kinds()


def _one_return(sound: Sound) -> tuple[Passage, ...] | None:
    """Return one return of a refrain that comes at least twice."""
    rows = sound.routine.refrains
    return sound.pick(rows) if len(rows) > 1 else None


@KINDS.of("refrain_same", "one return has another pressure")
def other_pressure(sound: Sound) -> Routine | None:
    row = _one_return(sound)
    passage = sound.pick(row or ())
    if passage is None:
        return None
    options = [p for p in range(refrain_same.MAX_PRESSURE + 1) if p != passage.pressure]
    return changed(sound.routine, [passage], pressure=sound.pick(options))


@KINDS.of("refrain_same", "one return has another technique")
def other_technique(sound: Sound) -> Routine | None:
    row = _one_return(sound)
    passage = sound.pick(row or ())
    technique = sound.pick(
        sound.techniques(lambda t: t.refrain and t.id != (passage and passage.technique))
    )
    return (
        changed(sound.routine, [passage], technique=technique.id) if passage and technique else None
    )


@KINDS.of("refrain_same", "one return is on another side")
def other_side(sound: Sound) -> Routine | None:
    row = _one_return(sound)
    passage = sound.pick(row or ())
    if passage is None:
        return None
    side = sound.pick(s for s in Side if s is not passage.side)
    return changed(sound.routine, [passage], side=side)


@KINDS.of("refrain_same", "one return is a bar longer or shorter")
def other_length(sound: Sound) -> Routine | None:
    row = _one_return(sound)
    if row is None or row[-1] is sound.line[-1]:
        return None
    last, after = row[-1], sound.line[sound.line.index(row[-1]) + 1]
    if last.bars > 1 and sound.dice.random() < 0.5:
        return moved_bars(sound, last, after, 1)
    return moved_bars(sound, after, last, 1) if after.bars > 1 else None


@KINDS.of("refrain_same", "no return has a hold")
def without_hold(sound: Sound) -> Routine | None:
    home = [p for row in sound.routine.refrains for p in row]
    held = [p for p in home if sound.technique(p).family.is_held]
    technique = sound.pick(sound.techniques(lambda t: t.refrain and not t.family.is_held))
    return changed(sound.routine, held, technique=technique.id) if technique else None


@KINDS.of("refrain_same", "the refrain presses in every return")
def firm_home(sound: Sound) -> Routine | None:
    row = sound.routine.refrains[0]
    place = sound.dice.randrange(len(row))
    same = [r[place] for r in sound.routine.refrains]
    firm = sound.dice.randint(refrain_same.MAX_PRESSURE + 1, 5)
    return changed(sound.routine, same, pressure=firm)


@KINDS.of("refrain_same", "a return marked as shortened in a routine that is long enough")
def shortened(sound: Sound) -> Routine | None:
    row = sound.pick(sound.routine.refrains)
    if row is None or sound.brief.minutes < 6:
        return None
    return changed(sound.routine, row, short=True)


@KINDS.of("refrain_same", "no refrain at all")
def homeless(sound: Sound) -> Routine | None:
    home = [p for row in sound.routine.refrains for p in row]
    return changed(sound.routine, home, role=Role.WORK)


@KINDS.of("refrain_spacing", "one return is missing")
def missing_return(sound: Sound) -> Routine | None:
    row = sound.pick(sound.routine.refrains)
    if sound.brief.refrains is None or row is None:
        return None
    return changed(sound.routine, row, role=Role.WORK)


@KINDS.of("refrain_spacing", "more returns are asked for than there are")
def too_few_returns(sound: Sound) -> Routine | None:
    more = len(sound.routine.refrains) + sound.dice.randint(1, 2)
    return with_brief(sound.routine, refrains=more)


def _even(sound: Sound) -> float:
    """Return g in seconds: the time by the number of returns and one."""
    returns = sound.brief.refrains or len(sound.routine.refrains)
    return float(sound.brief.minutes) * 60 / (returns + 1)


@KINDS.of("refrain_spacing", "two returns come too near to each other")
def too_near(sound: Sound) -> Routine | None:
    rows = sound.routine.refrains
    least = min(
        refrain_spacing.MIN_GAP_SECONDS * sound.scale, refrain_spacing.MIN_GAP_SHARE * _even(sound)
    )
    if len(rows) < 2 or sound.bar_seconds >= least - 0.1:
        return None
    i = sound.dice.randrange(len(rows) - 1)
    first, second = sound.line.index(rows[i][-1]), sound.line.index(rows[i + 1][0])
    between = sound.line[first + 1 : second]
    if between[0].bars < 2:
        return None
    bar = replace(between[0], id="bar", bars=1)
    left = replace(between[0], bars=between[0].bars - 1)
    past = second + len(rows[i + 1])
    order = [*sound.line[: first + 1], bar, *rows[i + 1], left, *between[1:], *sound.line[past:]]
    return laid(sound.routine, order)


@KINDS.of("refrain_spacing", "the refrain is long in coming")
def too_far(sound: Sound) -> Routine | None:
    longest = refrain_spacing.MAX_GAP_SHARE * _even(sound)
    options = []
    for row in sound.routine.refrains:
        others = [p for p in sound.line if p not in row]
        for at in range(1, len(others)):
            if Role.REFRAIN in (others[at - 1].role, others[at].role):
                continue
            order = [*others[:at], *row, *others[at:]]
            if _widest_gap(sound, order) > longest + 0.1:
                options.append(order)
    order_found = sound.pick(options)
    return laid(sound.routine, order_found) if order_found else None


def _widest_gap(sound: Sound, order: list[Passage]) -> float:
    """Return the longest time without the refrain, in seconds."""
    widest = bars = 0
    for p in order:
        bars = 0 if p.role is Role.REFRAIN else bars + p.bars
        widest = max(widest, bars)
    return widest * sound.bar_seconds


def _is_way(sound: Sound, passage: Passage) -> bool:
    """True where hands may come from anywhere and go anywhere."""
    if passage.is_open or passage.role is Role.REFRAIN:
        return True
    family = sound.technique(passage).family
    return family is Family.EMBRACE or (family.is_held and passage.pressure == 0)


@KINDS.of("reach", "hands jump to a region far away")
def jump(sound: Sound) -> Routine | None:
    options = [
        (a, b)
        for a, b in pairwise(sound.line)
        if not _is_way(sound, a) and not b.is_open and b.role is not Role.REFRAIN
    ]
    choice = sound.pick(options)
    if choice is None:
        return None
    before, after = choice
    left = sound.technique(before).region

    def is_far(t: Technique) -> bool:
        return not t.family.is_held and not sound.craft.are_neighbours(left, t.region)

    technique = sound.pick(sound.techniques(is_far))
    return swapped(sound, [after], technique) if technique else None


@KINDS.of("contact_kept", "both hands leave the body")
def let_go(sound: Sound) -> Routine | None:
    options = [
        (a, b)
        for a, b in pairwise(sound.line)
        if not a.is_open
        and not b.is_open
        and a.position is b.position
        and not sound.technique(a).helps_turn
    ]
    choice = sound.pick(options)
    if choice is None:
        return None
    before, after = choice
    here = sound.touched(sound.technique(before))

    def is_away(t: Technique) -> bool:
        return not any(
            sound.craft.are_neighbours(one, other) for one in here for other in sound.touched(t)
        )

    technique = sound.pick(sound.techniques(is_away))
    return swapped(sound, [after], technique) if technique else None


def _turned_at(sound: Sound, place: int) -> Routine:
    """Return the routine with everything from passage `place` on in another position."""
    before = sound.line[place - 1].position
    position = sound.pick(p for p in Position if p is not before)
    return changed(sound.routine, sound.line[place:], position=position)


def _is_still(sound: Sound, passage: Passage) -> bool:
    is_held = not passage.is_open and sound.technique(passage).family.is_held
    return passage.is_open or (is_held and passage.pressure == 0)


@KINDS.of("positions", "a change of position in the midst of work")
def turned_in_work(sound: Sound) -> Routine | None:
    def is_busy(p: Passage) -> bool:
        return p.role is not Role.REFRAIN and not p.is_open and p.role is not Role.REST

    place = sound.pick(
        i
        for i in range(1, len(sound.line))
        if is_busy(sound.line[i - 1]) and is_busy(sound.line[i])
    )
    return None if place is None else _turned_at(sound, place)


@KINDS.of("positions", "a change of position without time for it")
def hurried_turn(sound: Sound) -> Routine | None:
    place = sound.pick(
        i
        for i in range(1, len(sound.line))
        if not _is_still(sound, sound.line[i - 1]) and not _is_still(sound, sound.line[i])
    )
    return None if place is None else _turned_at(sound, place)


@KINDS.of("positions", "too many changes of position")
def too_many_turns(sound: Sound) -> Routine | None:
    over = max(0.0, float(sound.brief.minutes) - positions.FIRST_MINUTES)
    allowed = 1 + floor(over / positions.EACH_MINUTES)
    if len(sound.routine.refrains) <= allowed:
        return None
    one, other = sound.dice.sample(list(Position), 2)
    routine, is_other = sound.routine, False
    for before, passage in zip((None, *sound.line), sound.line, strict=False):
        came_home = before is not None and before.role is not Role.REFRAIN
        is_other ^= passage.role is Role.REFRAIN and came_home
        routine = changed(routine, [passage], position=other if is_other else one)
    return routine


@KINDS.of("positions", "a position that the brief does not offer")
def not_offered(sound: Sound) -> Routine | None:
    passage = sound.pick(sound.line)
    position = sound.pick(p for p in Position if p not in sound.brief.positions)
    if not sound.brief.positions or passage is None or position is None:
        return None
    return changed(sound.routine, [passage], position=position)
