"""How much one technique goes on loading what the one before it has loaded."""

from __future__ import annotations

import math
from functools import lru_cache

from rondel.hands.strain import Task, index
from rondel.hands.work import EFFORT, task_of
from rondel.model.repertoire import Technique
from rondel.model.words import Contact, Side

#: Contacts that share much of the work, and how much (our choice, on record): the heel is part of
#: the palm's hand, bent back likewise; fingers and fists are bent by the same muscles.
KIN = {
    frozenset((Contact.PALM, Contact.HEEL)): 0.5,
    frozenset((Contact.FLAT_FINGERS, Contact.FINGERTIPS)): 0.5,
    frozenset((Contact.KNUCKLES, Contact.FIST)): 0.5,
    frozenset((Contact.THUMB, Contact.FINGERTIPS)): 0.25,
    frozenset((Contact.PALM, Contact.FLAT_FINGERS)): 0.25,
}

#: Firm kneading, a stroke every two seconds: from this on two neighbours load as fully as can be.
FIRM = index(Task(effort=EFFORT[3], per_minute=30, seconds=2.0))


def kinship(one: Contact, other: Contact) -> float:
    """Return 1 for the same contact, less for contacts that share work, 0 for all others."""
    return 1.0 if one is other else KIN.get(frozenset((one, other)), 0.0)


@lru_cache(maxsize=1024)
def usual_strain(technique: Technique) -> float:
    """Return the relative strain of a technique as it is usually done.

    That is at the middle of its pressures (the upper of two) and of its pace.
    """
    low, high = technique.pressure
    fast, slow = (float(s) for s in technique.cycle_seconds)
    side = Side.LEFT if technique.lateral else Side.BOTH
    return index(task_of(technique, side, (low + high + 1) // 2, math.sqrt(fast * slow)))


def neighbour_load(previous: Technique, following: Technique) -> float:
    """Return from 0 (other parts of the hand work) to 1 (the same part, and firmly, both times).

    The lighter of the two counts: light strokes between are a rest, whatever they are done with.
    """
    lighter = min(usual_strain(previous), usual_strain(following))
    return kinship(previous.contact, following.contact) * min(1.0, lighter / FIRM)
