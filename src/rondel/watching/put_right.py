"""What a teacher has put right, brought into what was seen; twice is once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from statistics import median

import numpy as np

from rondel.model.codec.moments import moment_says
from rondel.model.errors import BadInput
from rondel.model.stretches import joined, shared_seconds
from rondel.model.take import MotionKind, Seen, SeenStretch
from rondel.model.take_corrections import TakeCorrections
from rondel.model.track import Span
from rondel.watching.turns import ONE_TURN, landings_at, turns_at

#: A tap this near to a stroke that was seen, as a share of a stroke, means that stroke: the
#: pictures say when it lands better than a finger does.
_TAP_MEANS = 0.35


def put_right(seen: Seen, corrections: TakeCorrections) -> Seen:
    """Return `seen` with `corrections`. BadInput where one speaks of what is not in the take."""
    _refuse_beyond(seen, corrections)
    stretches = seen.stretches
    for second in corrections.splits:
        stretches = _split(stretches, second)
    if corrections.taps:
        stretches = _tapped(stretches, corrections.taps, seen.seconds)
    if corrections.landing is not None:
        stretches = _landing(stretches, corrections.landing)
    stretches = tuple(_slips(one, corrections) for one in stretches)
    stretches = _named(stretches, corrections)
    away = _away(seen, corrections)
    return replace(
        seen, stretches=stretches, away=away, side=corrections.side, angle=corrections.angle
    )


def latest_told(corrections: TakeCorrections) -> float:
    """Return the last second that is put right; 0 for none."""
    told = [
        *corrections.taps,
        *corrections.splits,
        *(one.at for one in corrections.named),
        *(span.end for span in _spans_told(corrections)),
        *([] if corrections.landing is None else [corrections.landing]),
    ]
    return max(told, default=0.0)


def is_beyond(seen: Seen, corrections: TakeCorrections) -> bool:
    """True where one of them speaks of what comes after the take's end."""
    return latest_told(corrections) > seen.seconds + 0.05


def _refuse_beyond(seen: Seen, corrections: TakeCorrections) -> None:
    if is_beyond(seen, corrections):
        late = latest_told(corrections)
        at, end = moment_says(late), moment_says(round(seen.seconds, 1))
        raise BadInput(f"the take ends at {end}, and {at} is later; name an earlier time", at=at)


def _place(stretches: Sequence[SeenStretch], second: float) -> int:
    """Return which stretch `second` lies in, or the nearest one."""

    def away(one: SeenStretch) -> float:
        return max(one.span.start - second, second - one.span.end, 0.0)

    return min(range(len(stretches)), key=lambda n: away(stretches[n]))


def _split(stretches: tuple[SeenStretch, ...], second: float) -> tuple[SeenStretch, ...]:
    n = _place(stretches, second) if stretches else -1
    if n < 0 or not stretches[n].span.start < second < stretches[n].span.end:
        return stretches
    one = stretches[n]
    parts = (
        _part(one, Span(start=one.span.start, end=second)),
        _part(one, Span(start=second, end=one.span.end)),
    )
    return (*stretches[:n], *parts, *stretches[n + 1 :])


def _part(one: SeenStretch, span: Span) -> SeenStretch:
    # The first and the last part keep what lies a little beyond the stretch.
    is_first, is_last = span.start == one.span.start, span.end == one.span.end

    def within(seconds: tuple[float, ...]) -> tuple[float, ...]:
        kept = (t for t in seconds if is_first or t >= span.start)
        return tuple(t for t in kept if is_last or t < span.end)

    landings = within(one.landings)
    whole = (span,)
    return replace(
        one,
        span=span,
        landings=landings,
        period=_period(landings, one.period),
        slips=_within(one.slips, whole),
        pauses=_within(one.pauses, whole),
        eighths=_eighths_in(one.eighths, span, is_last=is_last),
    )


def _eighths_in(eighths: tuple[float, ...], span: Span, *, is_last: bool) -> tuple[float, ...]:
    """Return the eighths of turns in `span`, from a whole turn on: those before it at its start."""
    before = max(0, sum(t <= span.start for t in eighths) - 1)
    kept = eighths[before - before % ONE_TURN :]
    return tuple(max(t, span.start) for t in kept if is_last or t < span.end)


def _within(spans: tuple[Span, ...], whole: tuple[Span, ...]) -> tuple[Span, ...]:
    return tuple(span for span in spans if shared_seconds(span, whole) > 0)


def _period(landings: Sequence[float], usual: float) -> float:
    steps = np.diff(landings)
    return round(float(median(steps.tolist())), 4) if len(steps) else usual


def _tapped(
    stretches: tuple[SeenStretch, ...], taps: tuple[float, ...], seconds: float
) -> tuple[SeenStretch, ...]:
    """Let strokes land as they were tapped, where they were tapped."""
    step = _period(taps, 1.0)
    first, last = taps[0] - step / 2, taps[-1] + step / 2
    if not stretches:
        span = Span(start=max(0.0, first), end=min(seconds, last))
        return (_of_taps(span, taps, step),)
    found = list(stretches)
    n = _place(found, (taps[0] + taps[-1]) / 2)
    seen = np.array([t for one in found for t in one.landings] or [-1e9])
    meant = []
    for tap in taps:
        near = float(seen[int(np.argmin(np.abs(seen - tap)))])
        meant.append(near if abs(near - tap) <= _TAP_MEANS * step else tap)
    for k, one in enumerate(found):
        kept = [t for t in one.landings if not first <= t <= last]
        landings = tuple(sorted({*kept, *(meant if k == n else [])}))
        found[k] = replace(one, landings=landings, period=_period(landings, one.period))
    return tuple(found)


def _of_taps(span: Span, taps: tuple[float, ...], step: float) -> SeenStretch:
    return SeenStretch(span=span, kind=MotionKind.GLIDE, landings=taps, period=step, confidence=1.0)


def _landing(stretches: tuple[SeenStretch, ...], second: float) -> tuple[SeenStretch, ...]:
    """Let all strokes of a kind land as the one at `second` does."""
    if not stretches:
        return stretches
    shown = stretches[_place(stretches, second)]
    if shown.kind is MotionKind.CIRCLE and len(shown.eighths) > ONE_TURN:
        place = turns_at(shown.eighths, _rests(shown), second) % 1.0
        return tuple(
            _at_phase(one, place) if one.kind is MotionKind.CIRCLE else one for one in stretches
        )
    if not shown.landings:
        return stretches
    off = second - min(shown.landings, key=lambda t: abs(t - second))
    return tuple(
        replace(one, landings=tuple(round(t + off, 4) for t in one.landings if t + off >= 0))
        if one.kind is shown.kind
        else one
        for one in stretches
    )


def _rests(one: SeenStretch) -> list[tuple[float, float]]:
    return [(pause.start, pause.end) for pause in one.pauses]


def _at_phase(one: SeenStretch, place: float) -> SeenStretch:
    """Return a motion that goes round, landing at `place` (0 to 1) of its turns."""
    if len(one.eighths) <= ONE_TURN:
        return one
    found = landings_at(one.eighths, _rests(one), place, one.span.end)
    return replace(one, landings=tuple(round(t, 4) for t in found))


def _slips(one: SeenStretch, corrections: TakeCorrections) -> SeenStretch:
    seen = tuple(s for s in one.slips if not _meets(s, corrections.no_slips))
    own = tuple(
        s for s in corrections.slips if one.span.holds((s.start + s.end) / 2) and s not in seen
    )
    return replace(one, slips=joined((*seen, *own)))


def _spans_told(corrections: TakeCorrections) -> tuple[Span, ...]:
    c = corrections
    return (*c.slips, *c.no_slips, *c.away, *c.no_away)


def _away(seen: Seen, corrections: TakeCorrections) -> tuple[Span, ...]:
    """Return when hands are out of the picture, as seen but for what was put right."""
    kept = (span for span in seen.away if not _meets(span, corrections.no_away))
    return joined((*kept, *corrections.away))


def _meets(span: Span, others: tuple[Span, ...]) -> bool:
    return any(span.start < other.end and other.start < span.end for other in others)


def _named(
    stretches: tuple[SeenStretch, ...], corrections: TakeCorrections
) -> tuple[SeenStretch, ...]:
    found = [replace(one, technique=corrections.technique) for one in stretches]
    for named in corrections.named:
        if found:
            n = _place(found, named.at)
            found[n] = replace(found[n], technique=named.technique)
    return tuple(found)
