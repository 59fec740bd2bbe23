"""The rule book as a page: docs/rules.md, written from `rondel.rules` and from nothing else.

Write it anew with::

    python -c "from rondel.checker.rule_page import rule_page; print(rule_page(), end='')"
"""

from __future__ import annotations

from collections.abc import Iterable

from rondel.model.finding import Severity
from rondel.rules.book import RULES
from rondel.rules.changing import may_change_says
from rondel.rules.rule import Rule
from rondel.rules.wording import numbers_says

_HEAD = """# The rule book

Every rule is stated once, in `src/rondel/rules`. The planner obeys it and the checker looks for
breaches of it, each written apart from the other; `rondel rules` prints it. How words are read that
can be read two ways: [decision 1](decisions/0001-how-the-rules-are-read.md).

`must`: a routine that breaks it is not offered. `mind`: it costs. Seconds marked *scaled* are
multiplied by s = min(1, minutes / 6), so that short routines have short openings.

What is minded is a matter of taste as well: each of these rules has a weight, and a studio may
change it, and some of the numbers, within bounds. `studio.toml` then holds, for example,

    [rules.vary]
    weight = 3
    [rules.focus]
    min_share = 0.6

A weight of 0 leaves the rule unminded. What must be is the same in every studio.

"Common practice, no source" means what it says: teachers do it so, and we found no publication.

This page is written from the rules by `rondel.checker.rule_page`; change a rule, not the page.
"""


def rule_page() -> str:
    """Return the page, in Markdown."""
    composed = [r for r in RULES if not r.with_track]
    parts = [
        _HEAD,
        "## What must be\n",
        *_entries(r for r in composed if r.severity is Severity.MUST),
        "## What is minded\n",
        *_entries(r for r in composed if r.severity is Severity.MIND),
        "## With a brought track\n",
        *_entries(r for r in RULES if r.with_track),
    ]
    return "\n".join(parts)


def _entries(rules: Iterable[Rule]) -> Iterable[str]:
    for rule in rules:
        weighed = f"; weight {rule.weight:g}" if rule.severity is Severity.MIND else ""
        lines = [f"### {rule.name}", f"`{rule.id}` ({rule.severity}{weighed})", "", rule.says, ""]
        if rule.details:
            lines += [*(f"- {detail}" for detail in rule.details), ""]
        if numbers := numbers_says(rule):
            lines += [f"Numbers: {numbers}.", ""]
        if bounds := may_change_says(rule):
            lines += [f"May be changed: {bounds}.", ""]
        yield "\n".join([*lines, f"Source: {rule.source}.", ""])
