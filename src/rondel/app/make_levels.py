"""Plan one brief for several levels, and tell how much a couple recognises from one to the next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from rondel.app.explain_plan import with_reasons
from rondel.app.lawful import lawful_in
from rondel.app.make_plan import with_cues
from rondel.app.progress import Progress, Silent
from rondel.model.brief import Brief
from rondel.model.repertoire import Craft
from rondel.planner.levels import Family, Member, family
from rondel.planner.likeness import Step
from rondel.planner.naming import listed
from rondel.planner.swaps import noted

#: What there is to say where the level that all others start from has no routine.
ALONE = "Without it the other levels were not planned."


def make_levels(
    brief: Brief, craft: Craft, levels: Sequence[int], *, progress: Progress | None = None
) -> Family:
    """Return a routine with reasons and cues for each level, or reasons why there is none."""
    telling = progress or Silent()
    telling.begin("Planning for each level", len(set(levels)))
    found = family(brief, craft, levels, lawful_in(craft), lambda: telling.advance(1))
    finished = replace(found, members=tuple(_finished(m, craft) for m in found.members))
    telling.end()
    return finished


def unmet_says(member: Member) -> str:
    """Return the sentence that a level has no routine; its reasons follow."""
    return f"No routine was found for level {member.level}."


def _finished(member: Member, craft: Craft) -> Member:
    routine = member.outcome.routine
    if routine is None:
        return member
    told = noted(with_reasons(routine, craft), member.fresh)
    return replace(member, outcome=replace(member.outcome, routine=with_cues(told, craft)))


def step_says(step: Step, craft: Craft) -> tuple[str, ...]:
    """Return what a couple recognises, and what is new to it, in sentences."""
    return tuple(_step_says(step, craft))


def _step_says(step: Step, craft: Craft) -> Iterator[str]:
    percent = round(100 * step.alike)
    refrain = "the same refrain" if step.same_refrain else "another refrain"
    head = f"From level {step.lower} to {step.upper}: {percent} percent of the bars are alike"
    yield f"{head}, {refrain}, {_times(step)}."
    names = [craft.technique(id).plain for id in step.new if id not in step.theirs]
    gone = [craft.technique(id).plain for id in step.gone]
    if names:
        yield f"New are {listed(names)}." if len(names) > 1 else f"New is {names[0]}."
    if gone:
        yield f"{listed(gone)} {'are' if len(gone) > 1 else 'is'} no longer done."
    for id in step.theirs:
        yield f"{craft.technique(id).plain} was the stretch passage, and is theirs now."


def _times(step: Step) -> str:
    if step.returns_moved is None:
        return "which returns another number of times"
    if not step.returns_moved and not step.peak_moved:
        return "every return and the peak at the same time"
    if not step.returns_moved:
        return f"every return at the same time, the peak {step.peak_moved:.0f} seconds away"
    return (
        f"returns at most {step.returns_moved:.0f} seconds and the peak "
        f"{step.peak_moved:.0f} seconds away"
    )
