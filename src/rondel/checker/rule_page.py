"""The rule book as a page: docs/rules.md, written from `rondel.rules` and from nothing else.

Write it anew with::

    python -c "from rondel.checker.rule_page import rule_page; print(rule_page(), end='')"
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rondel.model.finding import Severity
from rondel.rules.book import RULES
from rondel.rules.rule import Rule

_HEAD = """# The rule book

Every rule is stated once, in `src/rondel/rules`. The planner obeys it and the checker looks for
breaches of it, each written apart from the other; `rondel rules` prints it. How words are read that
can be read two ways: [decision 1](decisions/0001-how-the-rules-are-read.md).

`must`: a routine that breaks it is not offered. `mind`: it costs. Seconds marked *scaled* are
multiplied by s = min(1, minutes / 6), so that short routines have short openings.
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
        lines = [f"### {rule.name}", f"`{rule.id}` ({rule.severity})", "", rule.says, ""]
        if rule.parameters:
            numbers = ", ".join(_number(rule, name) for name in rule.parameters)
            lines += [f"Numbers: {numbers}.", ""]
        yield "\n".join([*lines, f"Source: {rule.source}.", ""])


def _number(rule: Rule, name: str) -> str:
    """Return one parameter in words, as in "seconds 60 (scaled)"."""
    shown = f"{name.replace('_', ' ')} {_shown(rule.parameters[name])}"
    if name in rule.scaled:
        return f"{shown} (scaled)"
    return f"{shown} (the lower scaled)" if f"{name}.low" in rule.scaled else shown


def _shown(value: object) -> str:
    if isinstance(value, Mapping):
        return "; ".join(f"{key}: {_shown(part)}" for key, part in value.items())
    if isinstance(value, tuple) and len(value) == 2:
        return f"{_shown(value[0])} to {_shown(value[1])}"
    if isinstance(value, tuple | list):
        return ", ".join(_shown(part) for part in value)
    return f"{value:.4g}" if isinstance(value, float) else str(value)
