"""Where the peak stands beside the strongest section of a brought track.

The peak row is that of the rule `peak`. At least half of it has to lie in the section, or half of
the section in it where that is the shorter. Where sections hardly differ, this is only a wish.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.findings.peak import peak_row
from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding, Severity
from rondel.model.time import as_minutes
from rondel.rules.summit import RULE, SHARE


def findings(view: View) -> Iterator[Finding]:
    peak = peak_row(view)
    if view.course is None or peak is None:
        return
    starts, ends = (view.at(bar) for bar in view.course.strongest)
    first, past = view.start(peak.row[0]), view.end(peak.row[-1])
    shared = max(0.0, min(ends, past) - max(starts, first))
    if shared < SHARE * min(ends - starts, past - first) - ROUNDING_SECONDS:
        says = (
            f"The peak from {as_minutes(first)} to {as_minutes(past)} misses the strongest section "
            f"of the track, from {as_minutes(starts)} to {as_minutes(ends)}; let them meet."
        )
        severity = Severity.MUST if view.course.stands_out else Severity.MIND
        yield view.finding(RULE, peak.bar, says, severity)
