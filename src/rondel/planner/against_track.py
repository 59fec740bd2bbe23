"""Why no routine can be set to a track: what its bars leave no room for, in sentences."""

from __future__ import annotations

from collections.abc import Iterator

from rondel.model.brief import Brief, Keep
from rondel.model.repertoire import Craft
from rondel.model.time import as_minutes
from rondel.model.track import Laid
from rondel.planner.constraints import audible, ending, keep, peak, quiet, summit
from rondel.planner.frame import Frame, frame_of
from rondel.rules.close import SECONDS as CLOSE_SECONDS
from rondel.rules.peak import MIDDLE

#: A composed tail is as long as the close at most (decision 12), and so many bars for what is left
#: over where bars do not fit the minutes.
_BEYOND_CLOSE_BARS = 2


def against_track(brief: Brief, craft: Craft) -> tuple[str, ...]:
    """Return what of `brief` the track it is laid out to makes impossible; () where nothing is
    found, or no track is laid out."""
    frame = frame_of(brief)
    return () if frame.laid is None else tuple(_reasons(frame, frame.laid, craft))


def _reasons(frame: Frame, laid: Laid, craft: Craft) -> Iterator[str]:
    if _is_too_short(frame.brief, laid):
        yield _too_short_says(frame.brief, laid)
        return
    if not quiet.is_met(frame, laid):
        yield (
            "The quiet that the track begins with is lost on the way to the length that the brief "
            "asks for; other minutes may keep it."
        )
    if not ending.is_met(frame, laid):
        yield "The music is over before the routine; ask for fewer minutes, or a longer track."
    if laid.course.stands_out and not _meets_summit(frame, laid):
        yield _summit_says(frame, laid)
    for wanted in frame.brief.keep:
        if audible.asks_beat(craft.technique(wanted.technique)):
            yield from _against_keep(wanted, frame, laid, craft)


def _is_too_short(brief: Brief, laid: Laid) -> bool:
    """True where a composed tail would have to carry more than the close."""
    begins = laid.course.tail_from
    if begins is None:
        return False
    most = CLOSE_SECONDS * float(brief.scale)
    most += _BEYOND_CLOSE_BARS * laid.total_seconds / laid.bars
    return laid.total_seconds - begins > most


def _too_short_says(brief: Brief, laid: Laid) -> str:
    lasts = laid.course.track_seconds
    this = "" if lasts is None else f" ({as_minutes(lasts)})"
    return (
        f"The track{this} is too short for {float(brief.minutes):g} minutes: playing it again does "
        "not carry it far enough, and a composed tail may carry the close and no more. Bring a "
        "longer track."
    )


def _meets_summit(frame: Frame, laid: Laid) -> bool:
    """True where some peak, well placed in time, meets the strongest section."""
    limits = peak.summit(frame, 3)  # of any pressure: places and lengths are the same for all
    lasts = range(frame.ordinary[0], limits.most_bars + 1)
    return any(
        limits.is_placed(start, bars) and summit.is_met(start, start + bars, laid)
        for bars in lasts
        for start in range(frame.bars - bars)
    )


def _summit_says(frame: Frame, laid: Laid) -> str:
    starts, (first, past) = laid.bar_starts, laid.course.strongest
    low, high = (share * laid.total_seconds for share in MIDDLE)
    return (
        f"The track's strongest section comes from {as_minutes(starts[first])} to "
        f"{as_minutes(starts[past])} of the session, and the peak belongs there; but its middle "
        f"has to lie between {as_minutes(low)} and {as_minutes(high)}."
    )


def _against_keep(wanted: Keep, frame: Frame, laid: Laid, craft: Craft) -> Iterator[str]:
    """Yield why something that needs a beat finds none where the teacher wants it."""
    window = keep.start_window(wanted, frame) or (0, frame.bars - 1)
    lasts = keep.bars_window(wanted, frame) or (frame.ordinary[0], 0)
    able = any(
        audible.is_heard(start, start + lasts[0], laid.course)
        for start in range(window[0], min(window[1], frame.bars - lasts[0]) + 1)
    )
    if able:
        return
    name = craft.technique(wanted.technique).plain
    where = ""
    if wanted.at_seconds is not None:
        where = f" at {as_minutes(float(wanted.at_seconds))}"
    yield f"{name} needs a beat that can be heard, and the track has none{where} for so long."
