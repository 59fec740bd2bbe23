"""Why no plan can be: arithmetic on the brief alone, in sentences with numbers.

Every reason is a proof within the rules and lengths that a plan is made by: whenever one is given,
no plan exists. That none is given proves nothing.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft
from rondel.planner.against_keeps import keep_reasons, why_not
from rondel.planner.against_places import home_reasons, place_reasons
from rondel.planner.against_times import time_reasons, together_reasons
from rondel.planner.case import Case, Reason, case_of, forms_of
from rondel.planner.frame import Frame
from rondel.planner.keep_forms import wanted_of
from rondel.planner.material import Material
from rondel.planner.refrains import Refrain

__all__ = ["Reason", "clinician_reasons", "reasons_against", "reasons_of", "why_not"]


def clinician_reasons(brief: Brief, craft: Craft) -> tuple[str, ...]:
    """Return a sentence for every caution that allows no session before a clinician is asked."""
    found = []
    for id in brief.cautions:
        caution = craft.caution(id)
        if caution.forbids.everything:
            found.append(
                f"The brief names {caution.name}: please ask a clinician before any session. "
                "Whether hands-on work is right now is for them to say, not for a planner, so "
                "nothing is planned here; the brief keeps until they have answered."
            )
    return tuple(found)


def reasons_against(
    brief: Brief, craft: Craft, material: Material, frame: Frame, rows: tuple[Refrain, ...]
) -> tuple[str, ...]:
    """Return everything that arithmetic alone shows to be impossible; () proves nothing."""
    case = Case(brief=brief, craft=craft, material=material, frame=frame)
    case.__dict__["homes"] = forms_of(rows)  # worked out already
    return tuple(dict.fromkeys(reason.says for reason in _all(case)))


def reasons_of(brief: Brief, craft: Craft) -> tuple[Reason, ...]:
    """Return the same for a brief alone, each with the wishes that it is about."""
    return tuple(dict.fromkeys(_all(case_of(brief, craft))))


def is_ruled_out(brief: Brief, craft: Craft) -> bool:
    """True where there is any reason; the cheap ones are asked first."""
    return next(_all(case_of(brief, craft)), None) is not None


def _all(case: Case) -> Iterator[Reason]:
    """Yield all reasons, those that need no rows of the refrain first.

    What keeps do to each other is asked of those that could each stand alone, and nothing is said
    of the refrain where there is no position left to do it in.
    """
    yield from place_reasons(case)
    if not case.material.positions:
        return
    fine = []
    for number, _ in enumerate(case.brief.keep):
        against = tuple(keep_reasons(number, case))
        yield from against
        if not against:
            fine.append(wanted_of(number, case))
    yield from time_reasons(tuple(fine), case)
    yield from home_reasons(case)
    yield from together_reasons(tuple(fine), case)
