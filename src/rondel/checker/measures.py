"""Plain measurements of a routine, for the app to print and to store.

Seconds are those of the line: what lies over another layer is not counted a second time. They
judge nothing; where a number strains a rule, the finding of that rule says so.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import asdict, dataclass

from rondel.checker.bodies import body_factors
from rondel.checker.view import View, look
from rondel.model.brief import Brief
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.words import Family, Intention, Role, Side
from rondel.rules.close import SECONDS as CLOSE_SECONDS
from rondel.rules.opening import SECONDS as OPENING_SECONDS

#: Intentions whose light glides are meant to calm (rule `speed`), and how light they are.
CALMING = (Intention.SETTLE, Intention.SLEEP)
CALMING_PRESSURE = 2

#: How many regions count as the main ones where the brief names none.
CHOSEN_REGIONS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class GlideSpeed:
    """How fast a light glide moves, in cm a second, on a small, a mean and a large body."""

    passage: str
    technique: str
    small_body: float
    mean_body: float
    large_body: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """The numbers of one routine; seconds by name, the most first.

    `main_share` is the share of the main regions in the time outside refrain, opening and close,
    open passages left aside (None where there is no such time). `refrain_gaps` are the seconds
    before the first return, between returns and after the last.
    """

    total_seconds: float
    by_region: tuple[tuple[str, float], ...]
    by_contact: tuple[tuple[str, float], ...]
    by_family: tuple[tuple[str, float], ...]
    by_pressure: tuple[tuple[int, float], ...]
    open_seconds: float
    left_seconds: float
    right_seconds: float
    main_regions: tuple[str, ...]
    main_share: float | None
    refrains: int
    refrain_gaps: tuple[float, ...]
    glides: tuple[GlideSpeed, ...]


def measure(routine: Routine, craft: Craft, brief: Brief | None = None) -> Measures:
    """Return the measurements of `routine`; the brief is the one given, else its own."""
    return measures_of(look(routine, craft, brief))


def measures_of(view: View) -> Measures:
    """Return the measurements of a routine already looked at."""
    line = view.line
    main = main_regions(view)
    pressures: dict[int, float] = defaultdict(float)
    for passage in (p for p in line if not p.is_open):
        pressures[passage.pressure] += view.seconds(passage)
    return Measures(
        total_seconds=view.total_seconds,
        by_region=_seconds_by(view, view.region),
        by_contact=_seconds_by(view, lambda p: t.contact if (t := view.technique(p)) else None),
        by_family=_seconds_by(view, view.family),
        by_pressure=tuple(sorted(pressures.items())),
        open_seconds=float(view.seconds(*(p for p in line if p.is_open))),
        left_seconds=_seconds_on(view, Side.LEFT),
        right_seconds=_seconds_on(view, Side.RIGHT),
        main_regions=main,
        main_share=share_of(view, main),
        refrains=len(view.returns),
        refrain_gaps=_refrain_gaps(view),
        glides=tuple(
            speed
            for p in view.passages
            if is_light_glide(view, p) and (speed := glide_speed(view, p)) is not None
        ),
    )


def measures_to_dict(measures: Measures) -> dict[str, object]:
    """Return `measures` as JSON may hold them, seconds by name as tables."""
    data = asdict(measures)
    for key in ("by_region", "by_contact", "by_family", "by_pressure"):
        data[key] = {str(name): seconds for name, seconds in data[key]}
    return data


def _seconds_by(view: View, name: Callable[[Passage], str | None]) -> tuple[tuple[str, float], ...]:
    sums: dict[str, float] = defaultdict(float)
    for passage in view.line:
        key = name(passage)
        if key is not None:
            sums[str(key)] += view.seconds(passage)
    return tuple(sorted(sums.items(), key=lambda item: (-item[1], item[0])))


def _seconds_on(view: View, side: Side) -> float:
    return float(view.seconds(*(p for p in view.line if p.side is side and not p.is_open)))


def _refrain_gaps(view: View) -> tuple[float, ...]:
    """Return the seconds before, between and after the returns; none where there is no refrain."""
    if not view.returns:
        return ()
    starts = [*(view.start(row[0]) for row in view.returns), view.total_seconds]
    ends = [0.0, *(view.end(row[-1]) for row in view.returns)]
    return tuple(start - end for start, end in zip(starts, ends, strict=True))


def middle_seconds(view: View, passage: Passage) -> float:
    """Return the seconds of `passage` outside the opening and the close (both scaled)."""
    low = OPENING_SECONDS * view.scale
    high = view.total_seconds - CLOSE_SECONDS * view.scale
    return max(0.0, min(view.end(passage), high) - max(view.start(passage), low))


def _worked(view: View) -> dict[str, float]:
    """Return the seconds of work by region: outside refrain, opening, close and open passages."""
    sums: dict[str, float] = defaultdict(float)
    for passage in view.line:
        region = view.region(passage)
        if region is not None and passage.role is not Role.REFRAIN:
            sums[region] += middle_seconds(view, passage)
    return dict(sums)


def main_regions(view: View) -> tuple[str, ...]:
    """Return the regions that the brief asks for, or those that got the most work."""
    if view.brief is not None and view.brief.main_regions:
        return view.brief.main_regions
    most = sorted(_worked(view).items(), key=lambda item: (-item[1], item[0]))
    return tuple(region for region, seconds in most[:CHOSEN_REGIONS] if seconds > 0)


def share_of(view: View, regions: tuple[str, ...]) -> float | None:
    """Return the share of `regions` in all work; None where there is none."""
    worked = _worked(view)
    total = sum(worked.values())
    return sum(worked.get(r, 0.0) for r in set(regions)) / total if total > 0 else None


def is_light_glide(view: View, passage: Passage) -> bool:
    """True for a glide at 2 or less."""
    return view.family(passage) is Family.GLIDING and passage.pressure <= CALMING_PRESSURE


def glide_speed(view: View, passage: Passage) -> GlideSpeed | None:
    """Return the mean speed of the hand over one stroke, or None where nothing is known of it."""
    technique = view.technique(passage)
    if technique is None:
        return None
    beats = passage.beats_per_stroke / (passage.bars * view.routine.beats_per_bar)
    stroke_seconds = view.seconds(passage) * float(beats)
    speed = float(technique.path_cm) / stroke_seconds
    small, large = body_factors(technique.region)
    return GlideSpeed(
        passage=passage.id,
        technique=technique.id,
        small_body=speed * small,
        mean_body=speed,
        large_body=speed * large,
    )
