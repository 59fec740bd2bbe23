"""Why nothing is left to do: places, positions, the refrain and the peak."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from rondel.model.brief import Brief
from rondel.model.names import lying_says
from rondel.model.repertoire import Craft, Technique
from rondel.model.words import CONTACT_NAME
from rondel.planner.case import Case, Reason, about, taking
from rondel.planner.constraints import avoid, cautions, level, limits, range, spare
from rondel.planner.material import allowed_positions
from rondel.planner.naming import listed, thing


def place_reasons(case: Case) -> Iterator[Reason]:
    """Yield what takes away every position, or everything on a main region."""
    brief, craft = case.brief, case.craft
    if not case.material.positions:
        names = listed(craft.caution(id).name for id in brief.cautions)
        if brief.positions:
            asked = listed(lying_says(p) for p in dict.fromkeys(brief.positions))
            says = (
                f"You ask for {asked}, but what is written under cautions ({names}) rules that out"
            )
            left = allowed_positions(replace(brief, positions=()), craft)
            ways = listed((lying_says(p) for p in left), last="or")
            says = f"{says}; that leaves {ways}." if left else f"{says}."
            yield Reason(says=says, wishes=about("positions"))
        else:
            says = f"What is written under cautions ({names}) leaves no way of lying or sitting."
            yield Reason(says=says, wishes=about())
        return
    for id in dict.fromkeys(brief.main_regions):
        yield from _main_reasons(id, case)


def _main_reasons(id: str, case: Case) -> Iterator[Reason]:
    name, wish = thing(case.craft.region(id)), f"main_regions {id}"
    if id in case.brief.avoid_regions:
        says = f"You ask for most work on {name}, and to avoid {name}."
        yield Reason(says=says, wishes=about(wish, f"avoid_regions {id}"))
        return
    material = case.material
    if any(material.techniques[i].region == id for i in material.ordinary()):
        return
    causes, wishes = _what_takes(id, case.brief, case.craft)
    says = f"You ask for most work on {name}, but no technique there is left: {causes}."
    yield Reason(says=says, wishes=about(wish, wishes))


def _what_takes(region: str, brief: Brief, craft: Craft) -> tuple[str, frozenset[str]]:
    """Return what takes the techniques of a region away, as words and as wishes."""
    there = [t for t in craft.techniques if t.region == region and not t.helps_turn]
    if not there:
        return "the repertoire has none", frozenset()
    causes: list[tuple[str, Callable[[Technique], bool], set[str]]] = [
        (
            "the contacts you spare",
            lambda t: not spare.allows(t, brief),
            {f"spare {t.contact}" for t in there if t.contact in brief.spare},
        ),
        (
            "the regions you avoid",
            lambda t: not avoid.allows(t, brief, craft),
            {
                f"avoid_regions {r}"
                for r in brief.avoid_regions
                if any(avoid.touches(t, (r,), craft) for t in there)
            },
        ),
        ("the cautions", lambda t: not cautions.allows(t, brief, craft), set()),
        ("what the region bears", lambda t: not limits.allows(t, craft), set()),
        ("the level", lambda t: not level.allows(t, brief), {"level"}),
        (
            "the limits of pressure",
            lambda t: not range.pressures(t, limits.cap(t, brief, craft)),
            {"level"},
        ),
        (
            "the positions",
            lambda t: not range.positions(t, allowed_positions(brief, craft)),
            {"positions"} if brief.positions else set(),
        ),
    ]
    found = [(name, wishes) for name, takes, wishes in causes if any(takes(t) for t in there)]
    wishes = frozenset().union(*(w for _, w in found))
    what = "both" if len(there) == 2 else f"all {len(there)}"
    if len(there) == 1:
        what = "the only one"
    is_one = len(found) == 1 and found[0][0] in ("the level", "what the region bears")
    verb = "takes" if is_one else "take"
    return f"{listed(name for name, _ in found)} {verb} {what} away", wishes


def home_reasons(case: Case) -> Iterator[Reason]:
    """Yield why there is no refrain, or nothing that could be the peak."""
    if not case.homes:
        says = (
            "No refrain can be made: no hold or embrace is left that may be done here"
            f"{_of_what_is_left(case.brief)}. Nothing else in the brief can stand without one."
        )
        yield Reason(says=says, wishes=taking(case.brief))
        return
    yield from _peak_reasons(case)


def _peak_reasons(case: Case) -> Iterator[Reason]:
    """Yield why nothing can be the peak: all is held, or quieter than the refrain itself."""
    kept = {k.technique for k in case.brief.keep}
    techniques = case.material.techniques
    able = [
        t
        for i, t in enumerate(techniques)
        if not t.family.is_held and (i in case.work or t.id in kept)
    ]
    left = _of_what_is_left(case.brief)
    if not able:
        says = f"Nothing can be the peak: all that may be done here{left} is to hold still."
        yield Reason(says=says, wishes=taking(case.brief))
        return
    caps = {t.id: limits.cap(t, case.brief, case.craft) for t in able}
    if max(max(range.pressures(t, caps[t.id])) for t in able) > 2:
        return
    if not any(
        float(t.energy) >= home.energy and set(t.position) & set(home.positions)
        for t in able
        for home in case.homes
    ):
        says = (
            f"Nothing can be the peak: all that may be done here{left} is light and quieter than "
            "the refrain, and where all is light the peak is the liveliest."
        )
        yield Reason(says=says, wishes=taking(case.brief))


def _of_what_is_left(brief: Brief) -> str:
    """Return which wishes have taken things away, to stand inside a sentence."""
    parts = []
    if brief.spare:
        parts.append(f"without the {listed(CONTACT_NAME[c] for c in dict.fromkeys(brief.spare))}")
    if brief.avoid_regions:
        count = len(set(brief.avoid_regions))
        parts.append("with 1 place avoided" if count == 1 else f"with {count} places avoided")
    if brief.cautions:
        parts.append("under the cautions")
    if brief.positions:
        parts.append(listed(lying_says(p) for p in dict.fromkeys(brief.positions)))
    return f" ({', '.join(parts)})" if parts else ""
