"""The rule book in words: every rule with its numbers, and fields for those that may be changed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from rondel.adapters.studio_rules import digest_of
from rondel.desk.asking import Ask, number
from rondel.model.errors import BadInput
from rondel.model.settings import Settings
from rondel.rules.book import RULES
from rondel.rules.changing import (
    WEIGHT,
    keeps_from_harm,
    may_change,
    own_number,
    settings_from_dict,
)
from rondel.rules.rule import Rule
from rondel.rules.wording import is_unminded

#: The numbers of rules in words. Shares are told in percent.
NUMBER_SAYS = {
    "arrive_seconds": "seconds of the arrival",
    "beats_a_minute": "usual beats a minute",
    "cm_per_second": "centimetres a second",
    "each_minutes": "and once more for each so many minutes beyond",
    "first_minutes": "one turning in so many minutes",
    "last_share": "in the last percent of the time",
    "level_limits": "firmest pressure of a lay hand, by level",
    "long_cm": "a stroke is long from so many centimetres",
    "max_above": "levels above at most",
    "max_gap_share": "longest time between, percent of g",
    "max_nudge": "percent that a tempo is nudged at most",
    "max_pressure": "firmest pressure",
    "max_seconds": "seconds at most",
    "max_share": "percent of the time at most",
    "max_step": "steps of pressure at once",
    "max_times": "times at most",
    "middle": "its middle, percent of the time",
    "min_gap_seconds": "shortest time between, seconds",
    "min_gap_share": "shortest time between, percent of g",
    "min_seconds": "seconds at least",
    "min_share": "percent of the work at least",
    "open_counts": "an open passage counts as pressure",
    "ordinary_seconds": "seconds of a passage, a side",
    "per_minutes": "in so many minutes",
    "pressures": "pressures",
    "refrain_seconds": "seconds of one return of the refrain",
    "rest_seconds": "seconds of a rest",
    "seconds": "seconds",
    "share": "percent",
    "still_counts": "a still hold counts as pressure",
    "tolerance_bars": "bars it may be off",
    "tolerance_seconds": "seconds it may be off",
    "trained_level_limits": "firmest pressure of a trained hand, by level",
    "within_bars": "within so many bars",
    WEIGHT: "how much it counts",
}
#: What a key of several numbers is called.
KEY_SAYS = {
    "settle": "to settle",
    "wake": "to wake the body",
    "sleep": "towards sleep",
    "closeness": "to be close",
}
_SHARE = re.compile(r".*share|middle|max_nudge")
#: A number as it may be typed: no longer ones, and no powers of ten.
_TYPED = re.compile(r"[0-9]{1,6}(\.[0-9]{1,6})?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A number that may be changed, as shown. `trouble` says why what was typed will not do."""

    name: str
    says: str
    word: str
    bounds: str
    is_changed: bool
    trouble: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleShown:
    """A rule as it stands on the leaf. `now` is what another window kept meanwhile."""

    id: str
    name: str
    says: str
    details: tuple[str, ...]
    numbers: tuple[tuple[str, str], ...]
    source: str
    keeps_from_harm: bool
    with_track: bool
    fields: tuple[Field, ...]
    digest: str
    is_changed: bool
    is_unminded: bool
    now: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """What was sent for one rule, by name, and what is wrong with it.

    `is_stale` is true where another window changed the rule meanwhile.
    """

    rule: str
    words: Mapping[str, str]
    troubles: Mapping[str, str]
    is_stale: bool = False


def rules_shown(ask: Ask, settings: Settings, typed: Typed | None = None) -> list[RuleShown]:
    """Return the whole book, as `settings` have it, with what was `typed` still in its fields."""
    return [
        _shown(ask, rule, settings, typed if typed and typed.rule == rule.id else None)
        for rule in RULES
    ]


def _shown(ask: Ask, rule: Rule, settings: Settings, typed: Typed | None) -> RuleShown:
    fields = _fields(ask, rule, settings, typed)
    return RuleShown(
        id=rule.id,
        name=rule.name,
        says=rule.says,
        details=rule.details,
        numbers=_numbers(ask, rule),
        source=rule.source,
        keeps_from_harm=keeps_from_harm(rule),
        with_track=rule.with_track,
        fields=fields,
        digest=digest_of(settings, rule.id),
        is_changed=any(field.is_changed for field in fields),
        is_unminded=is_unminded(rule, settings),
        now=_now(ask, rule, settings) if typed and typed.is_stale else (),
    )


def _now(ask: Ask, rule: Rule, settings: Settings) -> tuple[tuple[str, str], ...]:
    return tuple(
        (ask.say(NUMBER_SAYS[name]), _local(ask, _word(name, now_of(rule, settings, name))))
        for name in may_change(rule)
    )


def now_of(rule: Rule, settings: Settings, name: str) -> float:
    """Return the weight or number of `rule` in force."""
    return settings.of(rule.id).get(name, own_number(rule, name))


# ------------------------------------------------------------------ fields
def _fields(ask: Ask, rule: Rule, settings: Settings, typed: Typed | None) -> tuple[Field, ...]:
    found = []
    for name, (low, high) in may_change(rule).items():
        own, now = own_number(rule, name), now_of(rule, settings, name)
        words = {"low": _word(name, low), "own": _word(name, own), "high": _word(name, high)}
        told = {key: _local(ask, word) for key, word in words.items()}
        says = (
            ask.say("The book says {own}; from {low}, not minded at all, to {high}.", **told)
            if name == WEIGHT
            else ask.say("The book says {own}; from {low} to {high}.", **told)
        )
        shown = _local(ask, _word(name, now))
        field = Field(
            name=name,
            says=ask.say(NUMBER_SAYS[name]),
            word=typed.words.get(name, shown) if typed else shown,
            bounds=says,
            is_changed=now != own,
            trouble=typed.troubles.get(name, "") if typed else "",
        )
        found.append(field)
    return tuple(found)


def typed_in(ask: Ask, rule: Rule, settings: Settings) -> tuple[Typed, dict[str, float]]:
    """Return what the form says of `rule`, with a sentence for each number that will not do; and
    the numbers. What was left as it was shown is exactly what it was."""
    words, troubles, numbers = {}, {}, {}
    for name, (low, high) in may_change(rule).items():
        word = words[name] = ask.word(name).strip()[:40]
        now = now_of(rule, settings, name)
        if word.replace(",", ".") == _word(name, now):
            numbers[name] = now
            continue
        found = _number(rule, name, word.replace(",", "."))
        if found is None:
            is_whole = isinstance(own_number(rule, name), int)
            edges = {"low": _local(ask, _word(name, low)), "high": _local(ask, _word(name, high))}
            troubles[name] = (
                ask.say("This has to be a whole number from {low} to {high}.", **edges)
                if is_whole
                else ask.say("This has to be a number from {low} to {high}.", **edges)
            )
        else:
            numbers[name] = found
    return Typed(rule=rule.id, words=words, troubles=troubles), numbers


def _number(rule: Rule, name: str, word: str) -> float | None:
    """Return the number that `word` says; None where it says none, or one that is not allowed."""
    if not _TYPED.fullmatch(word):
        return None
    exact = Fraction(word) / (100 if _SHARE.fullmatch(name) else 1)
    found = int(exact) if exact.denominator == 1 else float(exact)
    try:
        settings_from_dict({rule.id: {name: found}}, at="")
    except BadInput:
        return None
    return found


# ------------------------------------------------------------------ words
def _numbers(ask: Ask, rule: Rule) -> tuple[tuple[str, str], ...]:
    """Return the numbers of the book; those that are told in sentences, or in fields, are not."""
    if rule.details:
        return ()
    rows = []
    for name, value in rule.parameters.items():
        if name in may_change(rule):
            continue
        words = _value(ask, name, value)
        if name in rule.scaled:
            words = ask.say("{number} (less in sessions under six minutes)", number=words)
        elif f"{name}.low" in rule.scaled:
            words = ask.say("{number} (the lower less in sessions under six minutes)", number=words)
        rows.append((ask.say(NUMBER_SAYS[name]), words))
    return tuple(rows)


def _value(ask: Ask, name: str, value: object) -> str:
    if isinstance(value, Mapping):
        return "; ".join(f"{_key(ask, k)}: {_value(ask, name, part)}" for k, part in value.items())
    if isinstance(value, tuple | list):
        low, high = (_value(ask, name, part) for part in value)
        return ask.say("{low} to {high}", low=low, high=high)
    assert isinstance(value, int | float)
    return _local(ask, _word(name, value))


def _key(ask: Ask, key: object) -> str:
    return ask.say(KEY_SAYS[str(key)]) if str(key) in KEY_SAYS else str(key)


def _word(name: str, value: float) -> str:
    """Return a number as it is typed: shares in percent."""
    return number(round(100 * value, 2) if _SHARE.fullmatch(name) else value)


def _local(ask: Ask, word: str) -> str:
    """Return a number with the decimal sign of the reader's language."""
    return word.replace(".", ",") if ask.language == "de" else word


def changed_names(settings: Settings) -> list[tuple[str, str]]:
    """Return the rules that the studio changes, as (id, name)."""
    return [(rule.id, rule.name) for rule in RULES if settings.of(rule.id)]
