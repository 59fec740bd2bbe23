"""Every way in which one wish of a brief could be loosened, the mildest first.

Cautions are never among them: they keep people safe. Nor is the intention, or whose hands they are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from rondel.model.brief import Brief, Keep
from rondel.model.names import lying_says
from rondel.model.repertoire import Craft
from rondel.model.words import CONTACT_NAME, Position
from rondel.planner.case import seconds_says
from rondel.planner.constraints import cautions
from rondel.planner.frame import frame_of, usual_refrains
from rondel.planner.naming import listed, thing, times

_LONGEST_MINUTES = 120
_PARTS = 8  # steps of a number, in parts of what was asked for
_QUARTERS = 4  # parts of a minute in which another length is offered
TIMES = "times"  # the name of the wish that holds the times of all that is insisted on
_SHORT_MINUTES = 10  # up to here, three times as long may be offered
_TASTE = "if it is a matter of taste; where there is an injury or pain, leave it as it is."


@dataclass(frozen=True, slots=True)
class Step:
    """One wish loosened by so much: how to change a brief, and how to say it. `closer` are steps
    that leave less open than this one, the nearest to what was asked for first."""

    says: str
    change: Callable[[Brief], Brief]
    closer: tuple[Step, ...] = ()


@dataclass(frozen=True, slots=True)
class Wish:
    """A wish that could be loosened, by its name in `Reason.wishes`; the mildest step first.
    `names` are all the names that it answers to."""

    name: str
    steps: tuple[Step, ...]
    also: frozenset[str] = frozenset()

    @property
    def names(self) -> frozenset[str]:
        return self.also | {self.name}


def wishes_of(brief: Brief, craft: Craft) -> tuple[Wish, ...]:
    """Return all that could be loosened in `brief`, in the order in which it is tried."""
    found = [
        *_keeps(brief, craft),
        Wish("refrains", tuple(_refrains(brief))),
        Wish("open_minutes", tuple(_open_minutes(brief))),
        Wish("stretch", tuple(_stretch(brief))),
        Wish("bpm", tuple(_bpm(brief))),
        *_contacts(brief),
        Wish("level", tuple(_levels(brief))),
        Wish("minutes", tuple(_minutes(brief))),
        Wish("positions", tuple(_positions(brief, craft))),
        *_mains(brief, craft),
        *_avoided(brief, craft),
    ]
    return tuple(wish for wish in found if wish.steps)


# ---- what is insisted on ---------------------------------------------------------------------


def _keeps(brief: Brief, craft: Craft) -> Iterator[Wish]:
    for number, wanted in enumerate(brief.keep):
        name = craft.technique(wanted.technique).plain
        steps = []
        for what, left_open in _openings(wanted):
            closer = tuple(_lengths(wanted, name, brief)) if what == "length" else ()
            says = f"Keep {name}, but leave its {what} open."
            steps.append(Step(says, _swap(wanted, left_open), closer))
        steps.append(Step(f"Do without {name}.", _swap(wanted, None)))
        yield Wish(f"keep {number}", tuple(steps))


def _openings(wanted: Keep) -> Iterator[tuple[str, Keep]]:
    """Yield what of it may be left open, one thing at a time, then all."""
    parts = (
        ("side", wanted.side, replace(wanted, side=None)),
        ("pressure", wanted.pressure, replace(wanted, pressure=None)),
        ("length", wanted.minutes, replace(wanted, minutes=None)),
        ("time", wanted.at_seconds, replace(wanted, at_seconds=None)),
    )
    there = [(word, left_open) for word, value, left_open in parts if value is not None]
    yield from there
    if len(there) > 1:
        yield listed(word for word, _ in there), Keep(technique=wanted.technique)


def _lengths(wanted: Keep, name: str, brief: Brief) -> Iterator[Step]:
    """Yield other lengths than the one insisted on: those that a passage may have, the nearest
    first."""
    asked, frame = wanted.minutes, frame_of(brief)
    if asked is None:
        return
    low, high = (bars * frame.bar_seconds / 60 for bars in frame.ordinary)
    quarters = {Fraction(n, _QUARTERS) for n in range(1, int(high * _QUARTERS) + 1)}
    able = {low, high, *(minutes for minutes in quarters if low < minutes < high)}
    for minutes in sorted(able - {asked}, key=lambda minutes: (abs(minutes - asked), minutes)):
        instead = seconds_says(asked * 60)
        says = f"Keep {name}, but for {seconds_says(minutes * 60)} instead of {instead}."
        yield Step(says, _swap(wanted, replace(wanted, minutes=minutes)))


def _swap(wanted: Keep, new: Keep | None) -> Callable[[Brief], Brief]:
    """Return the change that puts `new` in the place of the first keep like `wanted`."""

    def change(brief: Brief) -> Brief:
        at = brief.keep.index(wanted)
        middle = () if new is None else (new,)
        return replace(brief, keep=(*brief.keep[:at], *middle, *brief.keep[at + 1 :]))

    return change


def times_wish(
    brief: Brief, craft: Craft, named: frozenset[str], beside: frozenset[str] = frozenset()
) -> Wish | None:
    """Return the times of all that is insisted on as one wish; None where no time is asked for.
    Of those `named` in reasons one at a time is left open first, then all of them, then every one.
    What has a wish `beside` this one is left to that."""
    timed = [
        i
        for i, keep in enumerate(brief.keep)
        if keep.at_seconds is not None and f"keep {i}" not in beside
    ]
    likely = [i for i in timed if f"keep {i}" in named]
    sets = dict.fromkeys(tuple(some) for some in (*((i,) for i in likely), likely, timed) if some)
    steps = []
    for some in sets:
        keeps = tuple(brief.keep[i] for i in some)
        names = listed(dict.fromkeys(craft.technique(keep.technique).plain for keep in keeps))
        says = f"Keep {names}, but leave their times open."
        if len(some) == 1:
            says = f"Keep {names}, but leave its time open."
        steps.append(Step(says, _untimed(keeps)))
    also = frozenset(f"keep {i}" for i in timed)
    return Wish(TIMES, tuple(steps), also) if steps else None


def _untimed(keeps: tuple[Keep, ...]) -> Callable[[Brief], Brief]:
    """Return the change that leaves open when `keeps` start."""
    timed = {(keep.technique, keep.at_seconds) for keep in keeps}

    def one(keep: Keep) -> Keep:
        is_of_them = (keep.technique, keep.at_seconds) in timed
        return replace(keep, at_seconds=None) if is_of_them else keep

    return lambda brief: replace(brief, keep=tuple(map(one, brief.keep)))


# ---- numbers ---------------------------------------------------------------------------------


def _put(**wishes: object) -> Callable[[Brief], Brief]:
    """Return the change that sets `wishes`."""
    return lambda brief: replace(brief, **wishes)  # type: ignore[arg-type]


def _refrains(brief: Brief) -> Iterator[Step]:
    usual = usual_refrains(brief.minutes)
    asked = brief.refrains if brief.refrains is not None else usual
    few = (*range(1, usual + 1), *(asked * part // _PARTS for part in range(1, _PARTS)))
    fewer = sorted({n for n in (asked - 1, asked - 2, *few) if 1 <= n < asked}, reverse=True)
    for number in fewer:
        says = f"Let the refrain return {times(number)} instead of {times(asked)}."
        yield Step(says, _put(refrains=number))


def _open_minutes(brief: Brief) -> Iterator[Step]:
    asked = brief.open_minutes
    if not asked:
        return
    least = Fraction(round(brief.scale), 2) or Fraction(1, 2)
    some = {Fraction(round(asked * part / _PARTS * 2), 2) for part in range(1, _PARTS)}
    some |= {Fraction(1), least}
    for minutes in sorted((m for m in some if 0 < m < asked), reverse=True):
        says = f"Leave {_minutes_says(minutes)} free instead of {float(asked):.3g}."
        yield Step(says, _put(open_minutes=minutes))
    yield Step("Leave no minutes free.", _put(open_minutes=Fraction(0)))
    if asked < 1:
        says = f"Leave a whole minute free instead of {float(asked * 60):.0f} seconds."
        yield Step(says, _put(open_minutes=Fraction(1)))


def _minutes_says(minutes: Fraction) -> str:
    if minutes == Fraction(1, 2):
        return "half a minute"
    return f"{float(minutes):g} minute{'' if minutes == 1 else 's'}"


def _stretch(brief: Brief) -> Iterator[Step]:
    if not brief.stretch:
        says = "Allow one passage above the couple's level, to be skipped without regret."
        yield Step(says, _put(stretch=True))


def _bpm(brief: Brief) -> Iterator[Step]:
    if brief.bpm is not None:
        yield Step("Leave the tempo open.", _put(bpm=None))


def _levels(brief: Brief) -> Iterator[Step]:
    for level in range(brief.level + 1, 6):
        says = f"Plan for a couple of level {level}, if they can do that."
        yield Step(says, _put(level=level))


def _minutes(brief: Brief) -> Iterator[Step]:
    factors = [1 + Fraction(part, _PARTS) for part in (1, 2, 4, 6, 8)]
    if brief.minutes <= _SHORT_MINUTES:
        factors.append(Fraction(3))
    for minutes in dict.fromkeys(Fraction(round(brief.minutes * f)) for f in factors):
        if brief.minutes < minutes <= _LONGEST_MINUTES:
            says = f"Give it {minutes} minutes instead of {float(brief.minutes):g}."
            yield Step(says, _put(minutes=minutes))


# ---- hands and places ------------------------------------------------------------------------


def _contacts(brief: Brief) -> Iterator[Wish]:
    spared = tuple(dict.fromkeys(brief.spare))
    for contact in spared:

        def change(now: Brief, contact: object = contact) -> Brief:
            return replace(now, spare=tuple(c for c in now.spare if c != contact))

        says = f"Use the {CONTACT_NAME[contact]} after all, if the hands allow it."
        yield Wish(f"spare {contact}", (Step(says, change),))


def _positions(brief: Brief, craft: Craft) -> Iterator[Step]:
    """Yield further positions, one at a time, then all; none that the cautions rule out."""
    if not brief.positions:
        return
    left = [p for p in Position if cautions.allows_position(p, brief, craft)]
    standing = tuple(p for p in brief.positions if p in left)
    if not standing and left:
        ways = listed((lying_says(p) for p in left), last="or")
        yield Step(f"Let the receiver be {ways} instead.", _put(positions=tuple(left)))
        return
    for position in left:
        if position not in standing:

            def change(now: Brief, position: Position = position) -> Brief:
                return replace(now, positions=(*now.positions, position))

            yield Step(f"Let the receiver be {lying_says(position)} as well.", change)
    if len(left) == len(Position):
        yield Step("Let the receiver lie or sit as it suits best.", _put(positions=()))
    elif len(left) > len(standing) + 1:
        ways = listed((lying_says(p) for p in left), last="or")
        yield Step(f"Let the receiver be {ways}.", _put(positions=tuple(left)))


def _mains(brief: Brief, craft: Craft) -> Iterator[Wish]:
    for id in dict.fromkeys(brief.main_regions):

        def change(now: Brief, id: str = id) -> Brief:
            return replace(now, main_regions=tuple(r for r in now.main_regions if r != id))

        says = f"Do not ask for most work on {thing(craft.region(id))}."
        yield Wish(f"main_regions {id}", (Step(says, change),))


def _avoided(brief: Brief, craft: Craft) -> Iterator[Wish]:
    for id in dict.fromkeys(brief.avoid_regions):

        def change(now: Brief, id: str = id) -> Brief:
            return replace(now, avoid_regions=tuple(r for r in now.avoid_regions if r != id))

        says = f"Do not avoid {thing(craft.region(id))}, {_TASTE}"
        yield Wish(f"avoid_regions {id}", (Step(says, change),))
