"""Where something is done that a caution of the brief forbids.

A forbidden region is forbidden to strokes that pass over it too. A caution that is not known
cannot be obeyed, so it is a finding; one that forbids everything allows no routine at all.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.names import lying_says
from rondel.model.repertoire import Caution, Technique
from rondel.model.routine import Passage
from rondel.model.words import CONTACT_NAME
from rondel.rules.cautions import RULE


def findings(view: View) -> Iterator[Finding]:
    for id in view.brief.cautions if view.brief else ():
        if not view.craft.has_caution(id):
            says = f'The brief names the caution "{id}", which is not known; see `rondel cautions`'
            yield view.finding(RULE, 0, f"{says}, and ask a clinician where in doubt.")
            continue
        caution = view.craft.caution(id)
        if caution.forbids.everything:
            says = (
                f'With the caution "{caution.name}" there is no session until a clinician has been '
                f"asked. {caution.says}"
            )
            yield view.finding(RULE, 0, says)
            continue
        for passage in view.passages:
            for why in _breaches(view, caution, passage):
                says = f'{view.place(passage)} {why}, which the caution "{caution.name}" forbids.'
                yield view.finding(RULE, passage.start_bar, f"{says} {caution.says}")


def _breaches(view: View, caution: Caution, passage: Passage) -> Iterator[str]:
    forbids = caution.forbids
    if passage.position in forbids.positions:
        yield f"has the receiver {lying_says(passage.position)}"
    technique = view.technique(passage)
    if technique is None:
        return
    for region in view.touched(technique):
        if region in view.with_parts(forbids.regions):
            where = view.region_name(region)
            yield f"works on {where}" if region == technique.region else f"passes over {where}"
    if technique.family in forbids.families:
        yield f"is {technique.family} work"
    if technique.contact in forbids.contacts:
        yield f"uses the {CONTACT_NAME[technique.contact]}"
    yield from _pressures(view, caution, passage, technique)


def _pressures(
    view: View, caution: Caution, passage: Passage, technique: Technique
) -> Iterator[str]:
    if passage.pressure > caution.forbids.max_pressure:
        yield f"presses at {passage.pressure}, above {caution.forbids.max_pressure}"
    for region, limit in caution.forbids.region_limits:
        if region in view.touched(technique) and passage.pressure > limit:
            yield f"presses at {passage.pressure}, above {limit}, on {view.region_name(region)}"
