"""Why the time does not hold what is asked for: sums, and times that leave no room."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import combinations, pairwise, permutations

from rondel.model.names import lying_says
from rondel.model.time import as_minutes
from rondel.model.words import Position
from rondel.planner.against_keeps import highest
from rondel.planner.case import Case, Reason, about, seconds_says, taking
from rondel.planner.constraints import level, positions, refrain_spacing
from rondel.planner.constraints import open as open_bars
from rondel.planner.frame import frame_of
from rondel.planner.keep_forms import Wanted
from rondel.planner.naming import counted, listed
from rondel.planner.timeline import Line, Stop, fits
from rondel.rules.length import ARRIVE_SECONDS, ORDINARY_SECONDS, REFRAIN_SECONDS
from rondel.rules.refrain_spacing import MIN_GAP_SECONDS

_MOST_RETURNS = 12
_MOST_TOGETHER = 3
_MOST_SENTENCES = 2


def time_reasons(wanted: tuple[Wanted, ...], case: Case) -> Iterator[Reason]:
    """Yield sums that do not fit into the minutes; `wanted` are keeps that could stand alone."""
    yield from _returns_alone(case)
    yield from _open_reasons(case)
    yield from _too_much(wanted, case)


def together_reasons(wanted: tuple[Wanted, ...], case: Case) -> Iterator[Reason]:
    """Yield what the keeps `wanted` do to each other and to the returns of the refrain."""
    if not wanted or not case.homes:
        return
    yield from _above_level(wanted, case)
    yield from _deepest(wanted, case)
    yield from _too_long(wanted, case)
    yield from _turnings(wanted, case)
    yield from _times(wanted, case)


# ---- sums ------------------------------------------------------------------------------------


def _returns_alone(case: Case) -> Iterator[Reason]:
    """Yield that the returns alone are too many."""
    frame, returns = case.frame, case.frame.refrains
    home, gap = REFRAIN_SECONDS[0] * frame.scale, MIN_GAP_SECONDS * frame.scale
    gap = min(gap, case.brief.minutes * 60 / (returns + 1) / 3)
    arrive, end = ARRIVE_SECONDS[0] * frame.scale, ORDINARY_SECONDS[0] * frame.scale
    need = arrive + returns * home + (returns - 1) * gap + end
    have = max(case.brief.minutes * 60, frame.total_seconds)
    between = f"{seconds_says(gap)} between them, " if returns > 1 else ""
    if need > have:
        yield Reason(
            says=f"{_returns(returns)} of at least {seconds_says(home)}, {between}"
            f"{seconds_says(arrive)} to arrive and {seconds_says(end)} to close need "
            f"{as_minutes(float(need))}, but the brief gives "
            f"{as_minutes(float(case.brief.minutes * 60))}.",
            wishes=about("refrains", "minutes"),
        )


def _returns(returns: int) -> str:
    return f"{counted(returns)} return" if returns == 1 else f"{counted(returns)} returns"


def _open_reasons(case: Case) -> Iterator[Reason]:
    if not case.brief.open_minutes:
        return
    least = open_bars.least_bars(case.frame)
    if open_bars.total_bars(case.frame) < least:
        yield Reason(
            says=f"An open passage lasts at least {seconds_says(least * case.frame.bar_seconds)}, "
            f"but only {seconds_says(case.brief.open_minutes * 60)} are left free.",
            wishes=about("open_minutes"),
        )


def _too_much(wanted: tuple[Wanted, ...], case: Case) -> Iterator[Reason]:
    """Yield that keeps, open minutes, returns and the least of work are too much together.

    What stands between returns may fill their gaps; the rest of it, the returns, the arrival and
    the close must be there besides.
    """
    free = open_bars.total_bars(case.frame)
    if not wanted and not free and case.frame.refrains < 2:
        return
    some = list(wanted)
    if _need(some, free, case) <= case.frame.bars:
        return
    for one in sorted(wanted, key=lambda w: w.least):
        fewer = [w for w in some if w is not one]
        if _need(fewer, free, case) > case.frame.bars:
            some = fewer
    if free and _need(some, 0, case) > case.frame.bars:
        free = 0
    if not some and not free and next(_returns_alone(case), None) is not None:
        return
    wishes = about("minutes", "refrains", *(w.wish for w in some))
    yield Reason(
        says=_too_much_says(some, free, case),
        wishes=wishes | about("open_minutes") if free else wishes,
    )


def _need(some: list[Wanted], free: int, case: Case) -> int:
    """Return the fewest bars that hold all this."""
    frame = case.frame
    least_gap = max(refrain_spacing.gaps(frame)[0], _shortest(case, some))
    arrival = 0 if any(w.arrives(f) for w in some for f in w.forms) else frame.arrival[0]
    closing = 0 if any(w.ends(f) for w in some for f in w.forms) else frame.closing[0]
    stands = sum(w.least for w in some) + free + (0 if some else frame.ordinary[0])
    between = max((frame.refrains - 1) * least_gap, stands)
    return arrival + frame.refrains * _shortest_home(case) + between + closing


def _shortest(case: Case, some: Iterable[Wanted]) -> int:
    """Return the fewest bars of anything that can stand between two returns."""
    frame = case.frame
    return min(frame.ordinary[0], open_bars.least_bars(frame), *(w.least for w in some), 999)


def _shortest_home(case: Case) -> int:
    return case.frame.home[0]


def _too_much_says(some: list[Wanted], free: int, case: Case) -> str:
    frame = case.frame
    parts = [
        f"{_returns(frame.refrains)} of at least {_bars_says(_shortest_home(case), case)}",
        *(f"{w.technique.plain} for {_bars_says(w.least, case)}" for w in some),
    ]
    if free:
        parts.append(f"{seconds_says(case.brief.open_minutes * 60)} left free")
    if not some:
        parts.append(f"{_bars_says(frame.ordinary[0], case)} of work")
    need = case.clock(_need(some, free, case))
    return (
        f"{listed(parts)}, with the least time to arrive, to close and between returns, need "
        f"{need}, but the brief gives {as_minutes(float(case.brief.minutes * 60))}."
    )


def _bars_says(bars: int, case: Case) -> str:
    return seconds_says(bars * case.frame.bar_seconds)


# ---- keeps with each other -------------------------------------------------------------------


def _wishes_of(some: tuple[Wanted, ...]) -> frozenset[str]:
    return frozenset(w.wish for w in some)


def _names(some: tuple[Wanted, ...]) -> str:
    return listed(dict.fromkeys(w.technique.plain for w in some))


def _above_level(wanted: tuple[Wanted, ...], case: Case) -> Iterator[Reason]:
    above = tuple(w for w in wanted if w.technique.level > case.brief.level)
    if len(above) > 1:
        names = _names(above)
        is_twice = len({w.technique.id for w in above}) == 1
        above_it = f"{names} twice, which is" if is_twice else f"{names} are all"
        yield Reason(
            says=f"{above_it} above the couple's level, and only one passage may be.",
            wishes=_wishes_of(above) | about("level"),
        )


def _deepest(wanted: tuple[Wanted, ...], case: Case) -> Iterator[Reason]:
    """Yield that two things are to be the deepest: the deepest is in the one peak."""
    top = max(highest(case), 4)
    deep = tuple(w for w in wanted if all(f.pressure >= top for f in w.forms))
    if len(deep) > 1:
        yield Reason(
            says=f"{_names(deep)} are both to be at pressure {top}, the deepest there is here, "
            "and only one of them can be the one peak.",
            wishes=_wishes_of(deep) | (about("level") if case.brief.level < 5 else about()),
        )


def _too_long(wanted: tuple[Wanted, ...], case: Case) -> Iterator[Reason]:
    """Yield what would keep the refrain from returning in time."""
    most = refrain_spacing.gaps(case.frame)[1]
    for w in wanted:
        if w.least > most:
            yield Reason(
                says=f"You insist on {w.technique.plain}, which takes {_bars_says(w.least, case)} "
                f"as you ask for it; with {_returns(case.frame.refrains).lower()} no more than "
                f"{_bars_says(most, case)} may pass without the refrain.",
                wishes=about(w.wish, "refrains", "minutes"),
            )


def _turnings(wanted: tuple[Wanted, ...], case: Case) -> Iterator[Reason]:
    """Yield that the receiver would have to turn over too often, or lie as no refrain allows."""
    most = positions.most_changes(case.brief.minutes)
    together = [frozenset(home.positions) for home in case.homes]
    free = [frozenset(case.material.positions)]
    found = _least_sets(wanted, lambda some: _may_lie(some, together, most))
    for some in found[:_MOST_SENTENCES]:
        wishes = _wishes_of(some) | _positions_wish(case)
        if not _may_lie(some, free, 99):
            continue
        if not _may_lie(some, together, 99):
            ways = listed(dict.fromkeys(lying_says(w.positions[0]) for w in some))
            yield Reason(
                says=f"{_names(some)} {'is' if len(some) == 1 else 'are'} done {ways}, and no "
                "refrain is left that can be done so each time.",
                wishes=wishes | taking(case.brief),
            )
            continue
        often = "once" if most == 1 else f"{counted(most).lower()} times"
        yield Reason(
            says=f"For {_names(some)} the receiver would have to turn over more than {often}, the "
            f"most in {float(case.brief.minutes):g} minutes.",
            wishes=wishes | about("minutes"),
        )


def _positions_wish(case: Case) -> frozenset[str]:
    return about("positions") if case.brief.positions else about()


def _may_lie(some: tuple[Wanted, ...], homes: list[frozenset[Position]], most: int) -> bool:
    """True where at most `most` turnings let everything be done, in an order that times allow."""
    timed = sorted((w for w in some if w.window is not None), key=lambda w: w.window or (0, 0))
    loose = [w for w in some if w.window is None]
    return any(_may_lie_in(tuple(home), timed, loose, most) for home in dict.fromkeys(homes))


#: A position, how many of the timed keeps are done, and which of the others are left.
_Spot = tuple[Position, int, frozenset[int]]


def _may_lie_in(
    home: tuple[Position, ...], timed: list[Wanted], loose: list[Wanted], most: int
) -> bool:
    """Search over rows of positions: those of `timed` in order, those of `loose` anywhere."""

    def settled(position: Position, done: int, rest: frozenset[int]) -> _Spot:
        while done < len(timed) and position in timed[done].positions:
            done += 1
        left = frozenset(i for i in rest if position not in loose[i].positions)
        return position, done, left

    spots = {settled(p, 0, frozenset(range(len(loose)))) for p in home}
    for _ in range(min(most, len(timed) + len(loose)) + 1):
        if any(done == len(timed) and not left for _, done, left in spots):
            return True
        spots = {settled(p, done, left) for _, done, left in spots for p in home}
    return False


def _least_sets(
    wanted: tuple[Wanted, ...], holds: Callable[[tuple[Wanted, ...]], bool]
) -> list[tuple[Wanted, ...]]:
    """Return the smallest sets of `wanted` for which `holds` is false; [] where all hold."""
    if holds(wanted):
        return []
    for size in range(1, min(len(wanted), _MOST_TOGETHER) + 1):
        found = [some for some in combinations(wanted, size) if not holds(some)]
        if found:
            return found
    return [wanted]


# ---- times -----------------------------------------------------------------------------------


def _times(wanted: tuple[Wanted, ...], case: Case) -> Iterator[Reason]:
    """Yield that times insisted on leave no room for each other or for the refrain."""
    timed = tuple(
        sorted((w for w in wanted if w.window is not None), key=lambda w: w.window or (0, 0))
    )
    if not timed:
        return
    line = _line(wanted, case)
    found = _least_sets(timed, lambda some: _fit(some, line, case))
    for some in found[:_MOST_SENTENCES]:
        yield _no_room(some, line, case)


def _line(wanted: tuple[Wanted, ...], case: Case) -> Line:
    frame = case.frame
    least, most = refrain_spacing.gaps(frame)
    lengths = [home.bars for home in case.homes]
    has_open, shortest = bool(case.brief.open_minutes), _shortest(case, wanted)
    return Line(
        bars=frame.bars,
        returns=frame.refrains,
        home=(min(lengths), max(lengths)),
        gap=(max(least, shortest), most),
        arrival=frame.arrival[0],
        closing=frame.closing[0],
        turning=positions.least_bars(frame),
        open=open_bars.least_bars(frame) if has_open else 0,
        passage=min(shortest, frame.rest[0]),
    )


def _fit(some: tuple[Wanted, ...], line: Line, case: Case, *, is_lithe: bool = False) -> bool:
    """True unless they cannot stand in any order that their times allow; `is_lithe` forgets how
    the receiver lies and where hands may go."""
    stops = [_stop(w, case) for w in some]
    if is_lithe:
        stops = [replace(s, positions=frozenset(Position), is_bridge=True) for s in stops]
        line = replace(line, turning=0, open=max(1, line.open))
    return any(
        fits(row, line)
        for row in permutations(stops)
        if all(a.window[0] <= b.window[1] for a, b in pairwise(row))
    )


def _stop(wanted: Wanted, case: Case) -> Stop:
    material = case.material
    assert wanted.window is not None
    low = wanted.window[0]
    if wanted.technique.level > case.brief.level:
        low = max(low, level.first_stretch_bar(case.frame))
    number = material.region_ids.index(wanted.technique.region)
    near = frozenset(i for i, row in enumerate(material.reach) if row[number])
    return Stop(
        window=(low, wanted.window[1]),
        least=wanted.least,
        positions=frozenset(wanted.positions),
        region=number,
        reached=near,
        is_bridge=wanted.is_bridge,
        may_arrive=any(wanted.arrives(f) for f in wanted.forms),
        may_end=any(wanted.ends(f) for f in wanted.forms),
    )


def _no_room(some: tuple[Wanted, ...], line: Line, case: Case) -> Reason:
    """Return what makes the times impossible: the returns, the turning over, or each other."""
    wishes = _wishes_of(some)
    times = listed(
        f"{w.technique.plain} at {case.clock_of(w.keep.at_seconds or Fraction(0))}" for w in some
    )
    if any(_fit(some, _line_with(returns, line, case), case) for returns in _other_returns(case)):
        most = _bars_says(line.gap[1], case)
        verb = "leaves" if len(some) == 1 else "leave"
        return Reason(
            says=f"{times} {verb} the refrain no room to return as often and as evenly as it "
            f"should: with {_returns(line.returns).lower()}, from one to the next no more than "
            f"{most} may pass.",
            wishes=wishes | about("refrains", "minutes"),
        )
    if len(some) > 1 and _fit(some, line, case, is_lithe=True):
        return Reason(
            says=f"You insist on {times}: between them there is no time to come home, to turn over "
            "or to go from one place to the other.",
            wishes=wishes | _positions_wish(case),
        )
    if len(some) == 1:
        says = f"You insist on {times}, and there is no room for it there."
        return Reason(says=says, wishes=wishes | about("minutes", "refrains"))
    return Reason(
        says=f"You insist on {times}: so near to each other there is no room for "
        f"{'both' if len(some) == 2 else 'all of them'}.",
        wishes=wishes,
    )


def _other_returns(case: Case) -> Iterator[int]:
    return (n for n in range(1, _MOST_RETURNS + 1) if n != case.frame.refrains)


def _line_with(returns: int, line: Line, case: Case) -> Line:
    """Return the line with another number of returns, and the gaps that go with it."""
    frame = frame_of(case.brief, refrains=returns)
    least, most = refrain_spacing.gaps(frame)
    return replace(
        line, returns=returns, gap=(max(least, min(line.gap[0], frame.ordinary[0])), most)
    )
