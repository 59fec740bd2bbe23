"""Every kind of single fault that a sound routine may be spoilt with, by rule."""

from faults import choice, home, pressure, timing, wishes
from faults.pieces import Fault

FAULTS: tuple[Fault, ...] = tuple(
    fault
    for kinds in (timing.KINDS, pressure.KINDS, home.KINDS, choice.KINDS, wishes.KINDS)
    for fault in kinds.all
)
