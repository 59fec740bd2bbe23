"""The shape of the session: the curves of pressure and energy, and how a session ends.

Each curve is a row of points (share of the time, value) joined by straight lines. Pressure is
counted pressure, where a still hold counts 1; energy goes from -1, still, to 1, lively. All are
our starting decisions, common practice without a source; why they stand so:
docs/decisions/0007-curves.md.

settle     a dome: light at first, deepest at two thirds, then down to almost nothing
wake       pressure and energy rise for long, and the end stays bright
sleep      energy falls all the way; a low swell of pressure, then holding and silence
closeness  gentle throughout, with one soft swell; time for embraces, holds, breathing together
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rondel.model.finding import Severity
from rondel.model.words import Family, Intention
from rondel.rules.rule import Rule

Points = tuple[tuple[float, float], ...]

PRESSURE: Mapping[Intention, Points] = {
    Intention.SETTLE: ((0, 1.0), (0.15, 1.8), (0.5, 2.8), (0.67, 3.6), (0.82, 2.2), (1, 1.0)),
    Intention.WAKE: ((0, 1.2), (0.15, 2.0), (0.5, 2.8), (0.75, 3.6), (0.9, 2.6), (1, 2.0)),
    Intention.SLEEP: ((0, 1.4), (0.15, 2.0), (0.62, 2.4), (0.8, 1.4), (0.88, 1.0), (1, 1.0)),
    Intention.CLOSENESS: ((0, 1.0), (0.2, 1.4), (0.65, 2.4), (0.85, 1.4), (1, 1.0)),
}
ENERGY: Mapping[Intention, Points] = {
    Intention.SETTLE: ((0, -0.6), (0.3, 0.0), (0.6, 0.3), (0.8, -0.2), (1, -0.8)),
    Intention.WAKE: ((0, -0.4), (0.3, 0.2), (0.7, 0.5), (1, 0.8)),
    Intention.SLEEP: ((0, -0.3), (0.6, -0.4), (0.85, -0.8), (1, -0.9)),
    Intention.CLOSENESS: ((0, -0.6), (0.4, -0.3), (0.65, 0.0), (0.85, -0.5), (1, -0.8)),
}
#: What a minute of a technique without closeness (0 of 0 to 1) costs, in weights of the rule.
CLOSENESS_COUNTS: Mapping[Intention, float] = {
    Intention.SETTLE: 0.0,
    Intention.WAKE: 0.0,
    Intention.SLEEP: 0.05,
    Intention.CLOSENESS: 0.5,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """What the last passage is wished to be.

    `families` in order of liking, empty for any; `min_energy` the least energy of its technique.
    """

    families: tuple[Family, ...] = ()
    min_energy: float = -1.0


ENDINGS: Mapping[Intention, Ending] = {
    Intention.SETTLE: Ending(),
    Intention.WAKE: Ending(families=(Family.GLIDING,), min_energy=0.0),
    Intention.SLEEP: Ending(families=(Family.HOLDING, Family.EMBRACE)),
    Intention.CLOSENESS: Ending(families=(Family.EMBRACE, Family.HOLDING)),
}

#: What a session of each intention is for, as in "to settle".
AIM_SAYS: Mapping[Intention, str] = {
    Intention.SETTLE: "to settle",
    Intention.WAKE: "to wake",
    Intention.SLEEP: "to sleep",
    Intention.CLOSENESS: "for closeness",
}
#: Families as an ending is spoken of.
ENDING_SAYS = {Family.HOLDING: "a hold", Family.EMBRACE: "an embrace", Family.GLIDING: "a glide"}


def ending_says(ending: Ending) -> str:
    """Return what is wished, as in "a hold or an embrace"; "any soft close" for no wish."""
    bright = "lively " if ending.min_energy >= 0 else ""
    kinds = [ENDING_SAYS[family] for family in ending.families]
    named = [f"a {bright}{kind.partition(' ')[2]}" if bright else kind for kind in kinds]
    return " or ".join(named) if named else "any soft close"


def points_says(points: Points) -> str:
    """Return a curve in words: "1.0 at the start, 3.6 at 67 % of the time, 1.0 at the end"."""
    return ", ".join(f"{value:.1f} {_place_says(share)}" for share, value in points)


def _place_says(share: float) -> str:
    if share in (0, 1):
        return "at the end" if share else "at the start"
    return f"at {share:.0%}"


def _details(intention: Intention) -> tuple[str, ...]:
    aim = AIM_SAYS[intention].capitalize()
    counts = CLOSENESS_COUNTS[intention]
    told = (
        f"{aim}, pressure: {points_says(PRESSURE[intention])}.",
        f"{aim}, energy: {points_says(ENERGY[intention])}.",
        f"{aim}, the last passage: {ending_says(ENDINGS[intention])}.",
    )
    near = f"{aim}, a minute that brings two people no nearer costs {counts:g} times the weight."
    return (*told, near) if counts else told


RULE = Rule(
    id="curve",
    name="The shape of the session",
    severity=Severity.MIND,
    says=(
        "Pressure (a still hold counts 1) and energy (from -1, still, to 1, lively) follow the "
        "curves of the intention over the time of the session, straight from point to point, "
        "and the session ends as the intention wishes."
    ),
    source="common practice, no source; faster music arouses: Bernardi 2006, Heart 92:445-452",
    parameters={
        "pressure": {str(i): points for i, points in PRESSURE.items()},
        "energy": {str(i): points for i, points in ENERGY.items()},
        "closeness_counts": {str(i): counts for i, counts in CLOSENESS_COUNTS.items()},
        "endings": {
            str(i): {"families": tuple(map(str, e.families)), "min_energy": e.min_energy}
            for i, e in ENDINGS.items()
        },
    },
    details=tuple(says for intention in Intention for says in _details(intention)),
    weight=4.0,
)
