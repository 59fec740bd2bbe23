"""The numbers of a rule in words, the same on the page of rules and on the screen."""

from __future__ import annotations

from collections.abc import Mapping

from rondel.model.settings import Settings
from rondel.rules.changing import WEIGHT, may_change, own_number
from rondel.rules.rule import Rule


def numbers_says(rule: Rule) -> str:
    """Return the parameters, as in "seconds 60 (scaled), pressures 1 to 3"; may be empty.

    Those that `rule.details` tells in sentences are left to them.
    """
    if rule.details:
        return ""
    return ", ".join(_number(rule, name) for name in rule.parameters)


def changed_says(rule: Rule, settings: Settings) -> str:
    """Return what `settings` change: "min_share 0.6 in place of 0.5"; empty for nothing."""
    return ", ".join(
        f"{name} {number:g} in place of {own_number(rule, name):g}"
        for name, number in settings.of(rule.id).items()
    )


def is_unminded(rule: Rule, settings: Settings) -> bool:
    """True where the teacher gives the rule no weight at all."""
    return WEIGHT in may_change(rule) and rule.weight_in(settings) == 0


def _words(name: str) -> str:
    return name.replace("_", " ")


def _number(rule: Rule, name: str) -> str:
    """Return one parameter in words, as in "seconds 60 (scaled)"."""
    shown = f"{_words(name)} {_shown(rule.parameters[name])}"
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
