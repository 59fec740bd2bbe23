"""What a teacher may change in the rule book, and how her changes are read.

In `studio.toml` a table a rule, as in::

    [rules.vary]
    weight = 3
    [rules.focus]
    min_share = 0.6

Only rules that are minded may be changed. Those that must be kept are the same in every studio:
they hold what keeps people from harm, and what makes a routine one at all.
"""

from __future__ import annotations

from collections.abc import Mapping

from rondel.model.codec.fields import Fields, closest
from rondel.model.finding import Severity
from rondel.model.settings import UNCHANGED, Settings
from rondel.rules.book import BY_ID, RULES
from rondel.rules.rule import Rule

WEIGHT = "weight"

#: The rules that may be changed, in order of the book.
CHANGEABLE: tuple[str, ...] = tuple(r.id for r in RULES if r.severity is Severity.MIND)

#: The rules that keep people from harm; all other musts make a routine one at all.
KEEPS_FROM_HARM = frozenset(
    ("limits", "cautions", "spare", "avoid", "range", "warm", "rest", "rise", "load", "level")
)


def keeps_from_harm(rule: Rule) -> bool:
    """True for a rule that keeps people from harm, and is the same in every studio."""
    return rule.id in KEEPS_FROM_HARM


def may_change(rule: Rule) -> Mapping[str, tuple[float, float]]:
    """Return what may be changed of `rule`, with the least and the most; nothing of a must."""
    if rule.severity is Severity.MUST:
        return {}
    return {WEIGHT: (0, rule.heaviest), **rule.changeable}


def own_number(rule: Rule, name: str) -> float:
    """Return the rule's own weight or number, before any change."""
    return rule.weight if name == WEIGHT else rule.number_in(UNCHANGED, name)


def may_change_says(rule: Rule) -> str:
    """Return what may be changed in words: "weight (0 to 80), min_share (0.2 to 0.9)"."""
    bounds = may_change(rule).items()
    return ", ".join(f"{name} ({low:g} to {high:g})" for name, (low, high) in bounds)


def settings_from_dict(data: object, *, at: str) -> Settings:
    """Return the changes in the table `rules` of a studio; `at` is where it stands.

    BadInput, in a sentence, for a rule or number that is not known or may not be changed, and for
    a number out of its bounds. What is set to the rule's own number is no change.
    """
    f = Fields(data, at=at)
    weights: list[tuple[str, float]] = []
    numbers: list[tuple[str, str, float]] = []
    for id in f.names():
        for name, number in _changes(_rule(f, id), f.table(id)):
            if name == WEIGHT:
                weights.append((id, number))
            else:
                numbers.append((id, name, number))
    return Settings(weights=tuple(weights), numbers=tuple(numbers))


def _rule(f: Fields, id: str) -> Rule:
    """Return the rule called `id` if it may be changed."""
    allowed = ", ".join(CHANGEABLE)
    rule = BY_ID.get(id)
    if rule is None:
        hint = closest(id, CHANGEABLE)
        raise f.fail(id, f"there is no rule of this name; may be changed: {allowed}{hint}")
    if rule.severity is Severity.MUST:
        says = f'"{rule.name}" must be kept and is the same in every studio'
        raise f.fail(id, f"{says}; may be changed: {allowed}")
    return rule


def _changes(rule: Rule, f: Fields) -> list[tuple[str, float]]:
    """Return the changed numbers of `rule` by name, those that differ from its own."""
    found = []
    for name in f.names():
        if name not in may_change(rule):
            raise f.fail(name, _refusal(rule, name))
        low, high = may_change(rule)[name]
        own = own_number(rule, name)
        number: float
        if isinstance(own, int):
            number = f.whole(name, low=int(low), high=int(high))
        else:
            number = float(f.number(name, low=low, high=high))
        if number != own:
            found.append((name, number))
    return found


def _refusal(rule: Rule, name: str) -> str:
    allowed = f"may be changed: {may_change_says(rule)}"
    if name in rule.parameters:
        return f"this number of the rule stays as it is; {allowed}"
    hint = closest(name, may_change(rule))
    return f'the rule "{rule.name}" has no such number; {allowed}{hint}'
