"""Faults of pressure: `range`, `opening`, `close`, `warm`, `rise`, `rest`, `peak`, `limits`."""

from __future__ import annotations

import math
from itertools import groupby

from faults.pieces import Kinds, Sound, changed, laid, moved_bars, swallowing, swapped
from rondel.model.routine import Passage, Routine
from rondel.model.words import DEEP, Family, Position, Role
from rondel.rules import close, limits, opening, peak, rest, rise

KINDS = Kinds()

QUIET = (Family.GLIDING, Family.HOLDING, Family.EMBRACE)
FIRM = 3


@KINDS.of("range", "a pressure that the technique is not taught at")
def out_of_range(sound: Sound) -> Routine | None:
    passage = sound.pick(sound.worked())
    assert passage is not None
    low, high = sound.technique(passage).pressure
    pressure = sound.pick(p for p in range(6) if not low <= p <= high)
    return None if pressure is None else changed(sound.routine, [passage], pressure=pressure)


@KINDS.of("range", "a position that the technique is not taught in")
def out_of_position(sound: Sound) -> Routine | None:
    choice = sound.pick(
        (p, position)
        for p in sound.worked()
        for position in Position
        if position not in sound.technique(p).position
    )
    return changed(sound.routine, [choice[0]], position=choice[1]) if choice else None


@KINDS.of("range", "a technique that nobody knows")
def unknown(sound: Sound) -> Routine | None:
    passage = sound.pick(sound.worked())
    assert passage is not None
    return changed(sound.routine, [passage], technique="upside-down-kettle")


def _in_opening(sound: Sound) -> list[Passage]:
    ends = opening.SECONDS * sound.scale
    return [p for p in sound.line if sound.start(p) < ends - 0.1]


@KINDS.of("opening", "a firm beginning")
def firm_opening(sound: Sound) -> Routine | None:
    passage = sound.pick(p for p in _in_opening(sound) if not p.is_open)
    assert passage is not None
    firm = sound.dice.randint(opening.MAX_PRESSURE + 1, 5)
    return changed(sound.routine, [passage], pressure=firm)


@KINDS.of("opening", "a lively beginning")
def lively_opening(sound: Sound) -> Routine | None:
    passage = sound.pick(_in_opening(sound))
    technique = sound.pick(sound.techniques(lambda t: t.family not in QUIET and not t.lateral))
    assert passage is not None
    return swapped(sound, [passage], technique) if technique else None


@KINDS.of("opening", "time left free at the beginning")
def open_opening(sound: Sound) -> Routine | None:
    passage = sound.pick(_in_opening(sound))
    assert passage is not None
    return changed(sound.routine, [passage], technique=None, role=Role.OPEN)


@KINDS.of("close", "a firm end")
def firm_close(sound: Sound) -> Routine | None:
    begins = sound.total - close.SECONDS * sound.scale
    passage = sound.pick(p for p in sound.worked() if sound.end(p) > begins + 0.1)
    assert passage is not None
    firm = sound.dice.randint(close.MAX_PRESSURE + 1, 5)
    return changed(sound.routine, [passage], pressure=firm)


@KINDS.of("close", "no farewell at the end")
def lively_close(sound: Sound) -> Routine | None:
    technique = sound.pick(sound.techniques(lambda t: t.family not in QUIET and not t.lateral))
    return swapped(sound, sound.line[-1:], technique) if technique else None


@KINDS.of("warm", "nothing has warmed the region that is worked deep")
def cold(sound: Sound) -> Routine | None:
    deep = next((p for p in sound.line if p.is_deep), None)
    if deep is None:
        return None
    region = sound.technique(deep).region
    before = [
        p
        for p in sound.worked()
        if p.start_bar < deep.start_bar and sound.technique(p).region == region
    ]
    if not before:
        return None
    other = sound.pick(sound.techniques(lambda t: t.region != region and not t.lateral))
    is_still = sound.dice.random() < 0.5
    if is_still or other is None:
        return changed(sound.routine, before, pressure=0)
    return swapped(sound, before, other)


@KINDS.of("warm", "the deep work goes to a region not touched before")
def elsewhere_deep(sound: Sound) -> Routine | None:
    deep = [p for p in sound.peak_row() if p.is_deep]
    if not deep:
        return None
    met = {sound.technique(p).region for p in sound.worked() if p.start_bar < deep[0].start_bar}
    technique = sound.pick(
        sound.techniques(
            lambda t: t.region not in met and t.pressure[1] >= DEEP and not t.family.is_held
        )
    )
    return swapped(sound, deep, technique) if technique else None


@KINDS.of("rise", "pressure jumps")
def jump(sound: Sound) -> Routine | None:
    options = []
    for before, after in zip(sound.line, sound.line[1:], strict=False):
        counts = sound.counted(before)
        if before.role is Role.REFRAIN and after.role is not Role.REFRAIN:
            row = next(r for r in sound.routine.refrains if before in r)
            counts = max(sound.counted(p) for p in row)
        high = counts + rise.MAX_STEP + 1
        if not after.is_open and high <= 5 and high != after.pressure:
            options.append((after, high))
    choice = sound.pick(options)
    return changed(sound.routine, [choice[0]], pressure=choice[1]) if choice else None


def _runs(sound: Sound) -> list[tuple[tuple[Passage, ...], tuple[Passage, ...]]]:
    """Return every run of deep passages on one region and side, with all that follows it."""

    def where(p: Passage) -> object:
        return (sound.technique(p).region, p.side) if p.is_deep else None

    found, at = [], 0
    for place, run in groupby(sound.line, key=where):
        passages = tuple(run)
        at += len(passages)
        if place is not None:
            found.append((passages, sound.line[at:]))
    return found


@KINDS.of("rest", "the rest after deep work is elsewhere")
def no_rest(sound: Sound) -> Routine | None:
    options = [run for run in _runs(sound) if run[1] and run[1][0].role is Role.REST]
    choice = sound.pick(options)
    if choice is None:
        return None
    run, after = choice
    region = sound.technique(run[0]).region
    other = sound.pick(sound.techniques(lambda t: t.region != region and not t.lateral))
    return swapped(sound, after[:1], other) if other else None


@KINDS.of("rest", "the rest after deep work is short")
def short_rest(sound: Sound) -> Routine | None:
    """All but a bar of the rest goes to the deep work; where home follows, it is too little."""
    options = []
    for run, after in _runs(sound):
        if not after or after[0].role is not Role.REST or after[0].bars < 2:
            continue
        home = 0
        for p in after[1:]:
            if p.role is not Role.REFRAIN:
                break
            home += p.bars
        same = sound.technique(after[0])
        goes_on = len(after) > 1 and not after[1].is_open and after[1].side is after[0].side
        if goes_on and sound.technique(after[1]).region == same.region:
            continue  # it may well be rest too
        deep = sum(p.bars for p in run) + after[0].bars - 1
        if 1 + home < rest.SHARE * deep - 0.1:
            options.append((run[-1], after[0]))
    choice = sound.pick(options)
    return moved_bars(sound, choice[1], choice[0], choice[1].bars - 1) if choice else None


@KINDS.of("peak", "no peak")
def no_peak(sound: Sound) -> Routine | None:
    return changed(sound.routine, sound.peak_row(), role=Role.WORK)


@KINDS.of("peak", "a second peak")
def second_peak(sound: Sound) -> Routine | None:
    row = sound.peak_row()
    first, last = sound.line.index(row[0]), sound.line.index(row[-1])
    far = [p for i, p in enumerate(sound.line) if i < first - 1 or i > last + 1]

    def is_apart(p: Passage) -> bool:
        i = sound.line.index(p)
        between = sound.line[i + 1 : first] if i < first else sound.line[last + 1 : i]
        return any(b.role not in (Role.PEAK, Role.REST) for b in between)

    second = sound.pick(p for p in far if p.role is Role.WORK and is_apart(p))
    return changed(sound.routine, [second], role=Role.PEAK) if second else None


@KINDS.of("peak", "something else presses like the deep peak, or firmer than any")
def higher_elsewhere(sound: Sound) -> Routine | None:
    row = sound.peak_row()
    height = max(p.pressure for p in row)
    least = height if height >= DEEP else height + 1
    other = sound.pick(p for p in sound.worked() if p not in row)
    if other is None or least > 5:
        return None
    return changed(sound.routine, [other], pressure=sound.dice.randint(least, 5))


@KINDS.of("peak", "the peak is too early or too late")
def misplaced(sound: Sound) -> Routine | None:
    row = sound.peak_row()
    bars = sum(p.bars for p in row)
    rest_of = [p for p in sound.line if p not in row]
    options = []
    for at in range(len(rest_of) + 1):
        if at < len(rest_of) and rest_of[at].role is Role.REST:
            continue  # it would join the row
        middle = (sum(p.bars for p in rest_of[:at]) + bars / 2) / sound.routine.bars
        if not peak.MIDDLE[0] - 0.01 < middle < peak.MIDDLE[1] + 0.01:
            options.append([*rest_of[:at], *row, *rest_of[at:]])
    order = sound.pick(options)
    return laid(sound.routine, order) if order else None


@KINDS.of("peak", "the peak is too long")
def long_peak(sound: Sound) -> Routine | None:
    row = sound.peak_row()
    longest = max(peak.MAX_SECONDS * sound.scale, peak.MAX_SHARE * sound.total)
    last = next(p for p in reversed(row) if p.role is Role.PEAK)
    before = last.start_bar - row[0].start_bar
    bars = math.floor(longest / sound.bar_seconds + 0.01) + 1 - before
    return swallowing(sound, last, bars + sound.dice.randint(0, 2))


@KINDS.of("peak", "a longer row at 3 beside a peak at 3")
def longer_row(sound: Sound) -> Routine | None:
    row = sound.peak_row()
    if max(p.pressure for p in row) != FIRM:
        return None
    bars = sum(p.bars for p in row)
    after = sound.line.index(row[-1]) + 1
    some: list[Passage] = []
    for p in sound.line[after:]:
        some.append(p)
        if p.is_open or sum(x.bars for x in some) > bars:
            break
    if sum(p.bars for p in some) <= bars or any(p.is_open for p in some):
        return None
    return changed(sound.routine, some, pressure=FIRM)


@KINDS.of("peak", "something is livelier than a light peak")
def livelier(sound: Sound) -> Routine | None:
    row = sound.peak_row()
    if max(p.pressure for p in row) >= FIRM:
        return None
    most = max(sound.technique(p).energy for p in row if not p.is_open)
    other = sound.pick(p for p in sound.worked() if p not in row)
    technique = sound.pick(sound.techniques(lambda t: t.energy > most))
    return swapped(sound, [other], technique) if other and technique else None


@KINDS.of("limits", "firmer than region or level allow")
def over_the_limit(sound: Sound) -> Routine | None:
    is_trained = sound.brief.trained
    levels = limits.TRAINED_LEVEL_LIMITS if is_trained else limits.LEVEL_LIMITS
    options = []
    for p in sound.worked():
        region = sound.craft.region(sound.technique(p).region)
        most = min(region.trained_limit if is_trained else region.limit, levels[sound.brief.level])
        options += [(p, high) for high in range(most + 1, 6)]
    choice = sound.pick(options)
    return changed(sound.routine, [choice[0]], pressure=choice[1]) if choice else None


@KINDS.of("limits", "percussion where the region forbids it")
def forbidden_family(sound: Sound) -> Routine | None:
    passage = sound.pick(sound.worked())
    technique = sound.pick(
        sound.techniques(lambda t: t.family in sound.craft.region(t.region).forbidden_families)
    )
    assert passage is not None
    return swapped(sound, [passage], technique) if technique else None
