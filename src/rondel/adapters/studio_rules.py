"""What a studio changes in the rule book, rule by rule, in its studio.toml.

Only what is changed is written anew: all else in the file, comments too, stays as it is. What was
looked at is named by the digest of what was changed of that one rule, so that a change that another
window overtook is refused. Nothing is written that could not be read again.
"""

from __future__ import annotations

import codecs
import hashlib
import json
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AbstractTable, Comment

from rondel.adapters.atomic import write_bytes
from rondel.adapters.craft_files import read_toml
from rondel.adapters.folder_lock import alone_in
from rondel.adapters.studio_files import settings_of
from rondel.model.errors import BadInput, RondelError
from rondel.model.settings import Settings
from rondel.rules.changing import settings_from_dict

STUDIO, RULES = "studio.toml", "rules"
#: The front of a file that other programs put there to say that it is UTF-8.
_MARK = codecs.BOM_UTF8
NOT_OURS = (
    "what is changed of the rules is written in a form that the desk cannot change without "
    "touching the rest; change it by hand"
)


class StaleRule(RondelError):
    """The rule was changed since it was looked at, to what `settings` say. Nothing was done."""

    exit_code = 1

    def __init__(self, settings: Settings) -> None:
        super().__init__("this rule was changed in another window since you looked at it")
        self.settings = settings


def digest_of(settings: Settings, rule: str) -> str:
    """Return the name of what is changed of `rule`."""
    text = json.dumps(dict(settings.of(rule)), sort_keys=True)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:24]


def change_rule(studio: Path, rule: str, numbers: Mapping[str, float], *, seen: str) -> Settings:
    """Keep `numbers` (by name; the weight is `weight`) as all that is changed of `rule`.

    Numbers that are the rule's own are no change, and none at all gives it back as the book has it.
    Raises BadInput where they may not be so or the file cannot be changed, StaleRule where `seen`
    is not the digest of what is changed of it now.
    """
    asked = settings_from_dict({rule: dict(numbers)}, at=f"{STUDIO}: {RULES}")
    with alone_in(studio):
        now = settings_of(studio)
        if digest_of(now, rule) != seen:
            raise StaleRule(now)
        wanted = _with(now, rule, asked)
        if wanted != now:
            _write(studio, rule, asked.of(rule), wanted)
    return wanted


def _with(settings: Settings, rule: str, asked: Settings) -> Settings:
    """Return `settings` with what is `asked` of one rule in place of what was."""
    return Settings(
        weights=(*(w for w in settings.weights if w[0] != rule), *asked.weights),
        numbers=(*(n for n in settings.numbers if n[0] != rule), *asked.numbers),
    )


def _write(studio: Path, rule: str, numbers: Mapping[str, float], wanted: Settings) -> None:
    path = studio / STUDIO
    if not path.resolve().is_relative_to(studio.resolve()):
        raise BadInput("this file leads out of the studio", at=STUDIO)
    before, raw = read_toml(path), path.read_bytes()
    old = raw.decode("utf-8-sig")
    for is_inline in (False, True):
        new = _like(old, _changed(old, rule, numbers, is_inline))
        if _is_as_asked(new, before, wanted):
            write_bytes(path, (_MARK if raw.startswith(_MARK) else b"") + new.encode("utf-8"))
            return
    raise BadInput(NOT_OURS, at=STUDIO)


def _is_as_asked(text: str, before: Mapping[str, object], wanted: Settings) -> bool:
    """True where `text` changes the rules as `wanted`, and says all else as `before`."""
    try:
        after = tomllib.loads(text)
        kept = settings_from_dict(after.get(RULES, {}), at=RULES)
    except (tomllib.TOMLDecodeError, BadInput):
        return False
    return kept == wanted and _others(before) == _others(after)


def _others(data: Mapping[str, object]) -> dict[str, object]:
    return {key: value for key, value in data.items() if key != RULES}


def _changed(text: str, rule: str, numbers: Mapping[str, float], is_inline: bool) -> str:
    """Return the file's `text` with `numbers` as all that is changed of `rule`.

    A rule that it does not name yet comes as a table of its own, or else within a line. Where it is
    written in a form that cannot be changed, the text comes back as it is.
    """
    try:
        document = tomlkit.parse(text)
        if RULES not in document:
            return _with_table(text, rule, numbers)
        rules = document[RULES]
        if rule not in rules:
            table = tomlkit.inline_table() if is_inline else tomlkit.table()
            table.update({name: _plain(number) for name, number in numbers.items()})
            rules[rule] = table
        else:
            _put(rules, rule, numbers)
        return document.as_string()
    except (TOMLKitError, TypeError, ValueError, AttributeError):
        return text


def _put(rules: Any, rule: str, numbers: Mapping[str, float]) -> None:
    """Let the table of `rule` say `numbers`; one that says nothing then is taken out."""
    table = rules[rule]
    for name, number in numbers.items():
        if table.get(name) != number:
            table[name] = _plain(number)
    for name in [n for n in table if n not in numbers]:
        del table[name]
    if not table and not _says_something(table):
        del rules[rule]


def _with_table(text: str, rule: str, numbers: Mapping[str, float]) -> str:
    """Return `text` with a first change of a rule after it."""
    end = "" if not text or text.endswith("\n") else "\n"
    gap = "" if not text or text.endswith("\n\n") else "\n"
    rows = "".join(f"{name} = {_plain(number)}\n" for name, number in numbers.items())
    return f"{text}{end}{gap}[{RULES}.{rule}]\n{rows}"


def _says_something(table: object) -> bool:
    """True where a table holds comments, which are hers."""
    body = table.value.body if isinstance(table, AbstractTable) else ()
    return any(isinstance(item, Comment) for _, item in body)


def _plain(number: float) -> float | int:
    """Return a whole number without a fraction, as a teacher would write it."""
    return int(number) if float(number).is_integer() else number


def _like(old: str, new: str) -> str:
    """Return `new` with the line ends of `old` where those are all of the other kind."""
    is_crlf = "\r\n" in old and "\n" not in old.replace("\r\n", "")
    return new.replace("\r\n", "\n").replace("\n", "\r\n") if is_crlf else new
