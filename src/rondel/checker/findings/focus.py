"""Where the main regions get less than half of the work, or than the share set in the studio.

Counted is the time outside refrain, opening and close; bars left open are the couple's own and left
aside. The main regions are the brief's, else the three that got the most.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from rondel.checker.measures import main_regions, share_of
from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.rules.focus import RULE


def findings(view: View) -> Iterator[Finding]:
    regions = main_regions(view)
    share = share_of(view, regions)
    wanted = view.number(RULE, "min_share")
    if share is not None and share < wanted - 1e-9:
        *others, last = (view.region_name(r) for r in regions)
        names = f"{', '.join(others)} and {last}" if others else last
        told = math.floor(100 * share + 1e-9) / 100  # what falls short is never told as enough
        says = f"Only {told:.0%} of the work goes to {names}; give at least {wanted:.0%} there."
        if not told:
            says = f"None of the work goes to {names}; give at least {wanted:.0%} there."
        yield view.finding(RULE, 0, says)
