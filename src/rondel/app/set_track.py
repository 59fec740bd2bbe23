"""Set a brief to a brought track, and answer for it where no routine can be."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from rondel.model.brief import Brief
from rondel.model.codec.brief import brief_from_dict, brief_to_dict
from rondel.model.finding import Change, Loosening, Outcome
from rondel.model.repertoire import Craft
from rondel.model.track import Heard
from rondel.music.laying import lay_out
from rondel.planner.against_track import against_track
from rondel.planner.loosen import changes_between
from rondel.planner.plan import planned_quickly
from rondel.planner.wishes import require_known

NOT_LAID = (
    "This routine does not tell what its track is in every bar, or the brief asks for other "
    "minutes; plan it anew from its brief."
)

#: Wishes that lay the track out anew.
_TIMES = ("minutes", "bpm", "track")


#: Other minutes that are tried after those of the track itself, as shares of what was asked.
_TRIED = (Fraction(4, 5), Fraction(5, 4))

#: A brief lasts so many minutes at least and at most.
_SHORTEST, _LONGEST = 3, 120


def set_track(brief: Brief, heard: Heard) -> Brief:
    """Return `brief` with the track laid out for its minutes."""
    return replace(brief, laid=lay_out(heard, brief))


def answered_with_track(outcome: Outcome, brief: Brief, heard: Heard, craft: Craft) -> Outcome:
    """Return `outcome`; of a refusal, what to loosen is held against the track again where the
    time changes. Where nothing else helps, other minutes or no track are tried.
    """
    if outcome.routine is not None:
        return outcome
    offers = [entry for entry in outcome.loosen if _still_works(entry, brief, heard, craft)]
    offers += [] if offers else _offers(brief, heard, craft)
    return replace(outcome, loosen=tuple(offers))


def refused_by_track(brief: Brief, heard: Heard, craft: Craft) -> Outcome | None:
    """Return a refusal where the track by itself leaves no room for what `brief` insists on, with
    what was found to help; None where it may be tried. Nothing has to be searched for that."""
    require_known(brief, craft)
    reasons = against_track(brief, craft)
    if not reasons:
        return None
    return Outcome(routine=None, reasons=reasons, loosen=tuple(_offers(brief, heard, craft)))


def _still_works(entry: Loosening, brief: Brief, heard: Heard, craft: Craft) -> bool:
    """True where the time stays as it is, or the track can be laid out for another as well."""
    if all(change.wish not in _TIMES for change in entry.changes):
        return True
    data = brief_to_dict(brief) | {change.wish: change.to for change in entry.changes}
    other = brief_from_dict({key: value for key, value in data.items() if value is not None})
    return _works(other, heard, craft)


def _works(brief: Brief, heard: Heard, craft: Craft) -> bool:
    laid = brief if brief.track is None else set_track(brief, heard)
    return not against_track(laid, craft) and planned_quickly(laid, craft) is not None


def _offers(brief: Brief, heard: Heard, craft: Craft) -> Iterator[Loosening]:
    """Yield what helps by itself: to let go of what needs a beat, the first of some other minutes,
    to do without the track."""
    for wanted in brief.keep:
        others = tuple(keep for keep in brief.keep if keep is not wanted)
        freed = replace(brief, keep=others)
        fewer = len(against_track(freed, craft)) < len(against_track(brief, craft))
        if fewer and _works(freed, heard, craft):
            says = f"Do not insist on {craft.technique(wanted.technique).plain}."
            yield Loosening(changes=changes_between(brief, freed), sentences=(says,))
    tried = [round(heard.seconds / 60), *(int(brief.minutes * times) for times in _TRIED)]
    for minutes in dict.fromkeys(tried):
        fits = _SHORTEST <= minutes <= _LONGEST and minutes != brief.minutes
        if fits and _works(replace(brief, minutes=Fraction(minutes), laid=None), heard, craft):
            says = f"Ask for {minutes} minutes instead of {float(brief.minutes):g}."
            yield Loosening(changes=(Change(wish="minutes", to=minutes),), sentences=(says,))
            break
    if _works(replace(brief, track=None, laid=None), heard, craft):
        says = "Leave the track out; Rondel then composes the music."
        yield Loosening(changes=(Change(wish="track", to=None),), sentences=(says,))
