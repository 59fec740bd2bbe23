"""Whether a routine breaks a rule that must hold, and what it costs, as the checker sees it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

from rondel.checker.check import breaches, is_lawful, minded
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine


def lawful_in(craft: Craft, before: Routine | None = None) -> Callable[[Routine], bool]:
    """Return a test that is true for a routine that breaks no rule that must hold.

    With `before`, what was broken there already, by the teacher's own choice, may stay so.
    """
    known = _broken(before, craft) if before is not None else Counter()

    def is_no_worse(routine: Routine) -> bool:
        return is_lawful(routine, craft) or (bool(known) and not _broken(routine, craft) - known)

    return is_no_worse


def minded_in(craft: Craft) -> Callable[[Routine], Counter[tuple[str, int]]]:
    """Return what tells how often each rule is minded in a routine, and in which bar."""
    return lambda routine: Counter((f.rule, f.at_bar) for f in minded(routine, craft))


def _broken(routine: Routine, craft: Craft) -> Counter[str]:
    return Counter(f.rule for f in breaches(routine, craft))
