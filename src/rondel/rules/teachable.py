"""What a teacher may teach: the limits of the body, as refusals beside the fields they are about.

The limits themselves stand with the regions and in `rules.limits`; nothing is set here. The planner
and the checker keep to them in every routine; here they are told to her while she writes, so that
nothing is taught that no routine could hold.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rondel.model.repertoire import Craft, Region, Technique
from rondel.model.words import PRESSURE_SAYS, TRADE_NAME, Family, Trace
from rondel.rules.limits import TRAINED_LEVEL_LIMITS
from rondel.rules.speed import CM_PER_SECOND
from rondel.rules.speed import RULE as SPEED

#: A glide is calming at this pressure or less (as the rule `speed` says it).
CALMING_PRESSURE = 2
#: Words that nothing is taught without, with what a teacher would call them.
NEEDED = {
    "plain": "a plain name",
    "anatomical": "an anatomical name",
    "how": "a sentence or two on how it is done",
    "say": "a few words to be spoken",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why a field will not do. `field` is the key of a repertoire file; `source` may be empty."""

    field: str
    says: str
    source: str = ""


def unsaid(technique: Technique) -> tuple[Refusal, ...]:
    """Return a refusal for every text that is empty."""
    return tuple(
        Refusal(field=field, says=f"It needs {what}.")
        for field, what in NEEDED.items()
        if not getattr(technique, field).strip()
    )


def refusals(technique: Technique, craft: Craft) -> tuple[Refusal, ...]:
    """Return why `technique` cannot be taught, in the order of the fields; none where it can.

    A technique of the same id in `craft` is the one that is being changed.
    """
    if not craft.has_region(technique.region):
        return (Refusal(field="region", says="There is no such place on the body here."),)
    region = craft.region(technique.region)
    return (
        *_name(technique, craft),
        *_family(technique, region),
        *_side(technique, region),
        *_pressure(technique, region),
        *_path(technique, region),
    )


def _name(t: Technique, craft: Craft) -> Iterator[Refusal]:
    taken = t.plain.strip().casefold()
    for other in craft.techniques:
        if other.id != t.id and other.plain.strip().casefold() == taken:
            says = f"Another technique is called {other.plain}; a couple could not tell them apart."
            yield Refusal(field="plain", says=says)


def _family(t: Technique, region: Region) -> Iterator[Refusal]:
    if t.family in region.forbidden_families:
        trade = TRADE_NAME[t.family]
        word = str(t.family) if trade == t.family else f"{t.family} ({trade})"
        says = f"No {word} on {_the(region)}, at any pressure."
        yield Refusal(field="family", says=says, source=region.source)


def _side(t: Technique, region: Region) -> Iterator[Refusal]:
    if t.lateral and not region.lateral:
        says = f"On {_the(region)} there are no two sides to be done one after the other."
        yield Refusal(field="lateral", says=says)


def _pressure(t: Technique, region: Region) -> Iterator[Refusal]:
    low, high = t.pressure
    if low > region.limit:
        says = (
            f"On {_the(region)} a lay hand gives {_pressed(region.limit)} at most, and this "
            f"begins at {low}."
        )
        yield Refusal(field="pressure", says=says, source=region.source)
    elif high > region.trained_limit:
        says = (
            f"On {_the(region)} even a trained hand gives {_pressed(region.trained_limit)} at "
            f"most, and this goes up to {high}."
        )
        yield Refusal(field="pressure", says=says, source=region.source)
    elif high > (most := TRAINED_LEVEL_LIMITS[t.level]):
        says = (
            f"At level {t.level} even a trained hand presses at {most} at most, and this goes up "
            f"to {high}. Press less, or teach it at a higher level."
        )
        yield Refusal(field="pressure", says=says)


def _the(region: Region) -> str:
    """Return the name within a sentence: "the feet", "the place beside the spine"."""
    first = region.name.partition(" ")[0]
    if first in ("beside", "between"):
        return f"the place {region.name}"
    return region.name if first == "the" else f"the {region.name}"


def _pressed(pressure: int) -> str:
    return f"pressure {pressure} ({PRESSURE_SAYS[pressure]})"


def _path(t: Technique, region: Region) -> Iterator[Refusal]:
    if not region.length_cm:
        return
    is_one_way = t.trace is Trace.ALTERNATE
    most = region.length_cm if is_one_way else 2 * region.length_cm
    if t.path_cm > most:
        way = "one way" if is_one_way else "there and back"
        says = (
            f"{float(t.path_cm):g} cm is too far: on {_the(region)} it is {float(most):g} cm {way} "
            "on a middling body."
        )
        yield Refusal(field="path_cm", says=says, source=region.length_source)


def remarks(technique: Technique) -> tuple[Refusal, ...]:
    """Return what need not be refused, yet should be known."""
    t = technique
    if t.family is not Family.GLIDING or t.pressure[0] > CALMING_PRESSURE or not t.path_cm:
        return ()
    slowest, fastest = CM_PER_SECOND
    slow, quick = (float(t.path_cm / s) for s in (t.cycle_seconds[1], t.cycle_seconds[0]))
    if slow <= fastest and quick >= slowest:
        return ()
    says = (
        f"Calming glides move at {slowest} to {fastest} cm a second; this one moves at "
        f"{slow:.1f} to {quick:.1f}, so no calming session will like it."
    )
    return (Refusal(field="cycle_seconds", says=says, source=SPEED.source),)
