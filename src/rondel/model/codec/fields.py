"""Reading a plain dict key by key, naming whatever is wrong in words a teacher understands."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping
from enum import StrEnum
from fractions import Fraction
from typing import TypeVar

from rondel.model.errors import BadInput

E = TypeVar("E", bound=StrEnum)
T = TypeVar("T")
_MISSING = object()


def closest(word: str, known: Iterable[str]) -> str:
    """Return "did you mean …?" for the known word nearest to `word`, or the empty text."""
    near = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f'; did you mean "{near[0]}"?' if near else ""


def exact(number: float | int) -> Fraction:
    """Return the decimal number as written: 0.1 becomes one tenth."""
    return Fraction(str(number))


class Fields:
    """One table of a file. Every getter names file and key when the value will not do."""

    def __init__(self, data: object, *, at: str) -> None:
        if not isinstance(data, Mapping):
            raise BadInput("here a table of keys and values is expected", at=at)
        self._data = data
        self._at = at
        self._known: set[str] = set()

    def where(self, key: str) -> str:
        return f"{self._at}: {key}"

    def fail(self, key: str, says: str) -> BadInput:
        """Return (to be raised) the error that `key` `says`."""
        return BadInput(says, at=self.where(key))

    def raw(self, key: str) -> object:
        """Return the value as it stands, or None where the key is absent."""
        self._known.add(key)
        return self._data.get(key)

    def _get(self, key: str, default: object) -> object:
        self._known.add(key)
        value = self._data.get(key, _MISSING)
        if value is _MISSING:
            if default is _MISSING:
                raise self.fail(key, "this key is needed, and it is missing")
            return default
        return value

    def text(self, key: str, default: object = _MISSING) -> str:
        value = self._get(key, default)
        if not isinstance(value, str):
            raise self.fail(key, f"must be words in quotes, not {_shown(value)}")
        return self._whole_letters(key, value)

    def _whole_letters(self, key: str, value: str) -> str:
        """Return `value`; half a letter (a lone surrogate, as JSON can hold) has no bytes."""
        if any("\ud800" <= letter <= "\udfff" for letter in value):
            raise self.fail(key, "holds half a letter, which cannot be written; type it again")
        return value

    def maybe_text(self, key: str) -> str | None:
        return None if self.raw(key) is None else self.text(key)

    def flag(self, key: str, default: object = _MISSING) -> bool:
        value = self._get(key, default)
        if not isinstance(value, bool):
            raise self.fail(key, f"must be true or false, not {_shown(value)}")
        return value

    def whole(
        self,
        key: str,
        default: object = _MISSING,
        *,
        low: int | None = None,
        high: int | None = None,
    ) -> int:
        value = self._get(key, default)
        if isinstance(value, bool) or not isinstance(value, int):
            raise self.fail(key, f"must be a whole number, not {_shown(value)}")
        self._within(key, value, low, high)
        return value

    def number(
        self,
        key: str,
        default: object = _MISSING,
        *,
        low: float | None = None,
        high: float | None = None,
    ) -> Fraction:
        value = self._get(key, default)
        if isinstance(value, Fraction):
            return value
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        if not is_number or value != value or value in (float("inf"), float("-inf")):
            raise self.fail(key, f"must be a number, not {_shown(value)}")
        assert isinstance(value, int | float)
        self._within(key, value, low, high)
        return exact(value)

    def _within(self, key: str, value: float, low: float | None, high: float | None) -> None:
        too_low = low is not None and value < low
        too_high = high is not None and value > high
        if not (too_low or too_high):
            return
        if low is not None and high is not None:
            allowed = f"must be from {low} to {high}"
        else:
            allowed = f"must be {low} or more" if low is not None else f"must be {high} or less"
        raise self.fail(key, f"is {value}, but {allowed}")

    def pair(self, key: str) -> tuple[Fraction, Fraction]:
        value = self._get(key, _MISSING)
        if not isinstance(value, list | tuple) or len(value) != 2:
            raise self.fail(key, f"must be two numbers in brackets, not {_shown(value)}")
        inner = Fields({"0": value[0], "1": value[1]}, at=self.where(key))
        return inner.number("0"), inner.number("1")

    def numbers(
        self, key: str, *, low: float | None = None, high: float | None = None
    ) -> tuple[float, ...]:
        """Return a list of numbers, each from `low` to `high`; an absent key is an empty list."""
        row = self._row(key, "number")
        return tuple(float(row.number(name, low=low, high=high)) for name in row.names())

    def wholes(self, key: str, *, low: int | None = None) -> tuple[int, ...]:
        """Return a list of whole numbers, none below `low`; an absent key is an empty list."""
        row = self._row(key, "number")
        return tuple(row.whole(name, low=low) for name in row.names())

    def flags(self, key: str) -> tuple[bool, ...]:
        """Return a list of true and false; an absent key is an empty list."""
        row = self._row(key, "place")
        return tuple(row.flag(name) for name in row.names())

    def pairs(self, key: str) -> tuple[tuple[float, float], ...]:
        """Return a list of pairs of numbers; an absent key is an empty list."""
        row = self._row(key, "pair")
        both = (row.pair(name) for name in row.names())
        return tuple((float(first), float(second)) for first, second in both)

    def _row(self, key: str, word: str) -> Fields:
        """Return a list as a table, so that a wrong entry is named by its place, from 1."""
        values = enumerate(self._list(key), start=1)
        return Fields({f"{word} {i}": value for i, value in values}, at=self.where(key))

    def choice(self, key: str, kind: type[E], default: object = _MISSING) -> E:
        value = self._get(key, default)
        if isinstance(value, kind):
            return value
        return self._one_of(key, value, kind)

    def choices(self, key: str, kind: type[E]) -> tuple[E, ...]:
        return tuple(self._one_of(key, v, kind) for v in self._list(key))

    def _one_of(self, key: str, value: object, kind: type[E]) -> E:
        known = [str(k) for k in kind]
        if not isinstance(value, str) or value not in known:
            hint = closest(value, known) if isinstance(value, str) else ""
            allowed = ", ".join(known)
            raise self.fail(key, f"{_shown(value)} is not known; allowed are {allowed}{hint}")
        return kind(value)

    def texts(self, key: str) -> tuple[str, ...]:
        values = self._list(key)
        for value in values:
            if not isinstance(value, str):
                raise self.fail(key, f"must be a list of words in quotes; {_shown(value)} is not")
        return tuple(self._whole_letters(key, str(v)) for v in values)

    def read(self, key: str, understand: Callable[[str], T]) -> T | None:
        """Return what `understand` makes of the words at `key`; None where there are none."""
        text = self.maybe_text(key)
        return None if text is None else self._understood(key, text, understand)

    def read_each(self, key: str, understand: Callable[[str], T]) -> tuple[T, ...]:
        """Return what `understand` makes of each of the words listed at `key`."""
        return tuple(self._understood(key, text, understand) for text in self.texts(key))

    def _understood(self, key: str, text: str, understand: Callable[[str], T]) -> T:
        try:
            return understand(text)
        except ValueError as error:
            raise self.fail(key, f'"{text}" {error}') from error

    def _list(self, key: str) -> tuple[object, ...]:
        value = self._get(key, ())
        if not isinstance(value, list | tuple):
            raise self.fail(key, f"must be a list in brackets, not {_shown(value)}")
        return tuple(value)

    def tables(self, key: str) -> tuple[Fields, ...]:
        """Return the tables of a list of tables; their place is counted from 1."""
        items = self._list(key)
        return tuple(Fields(v, at=f"{self.where(key)} {i}") for i, v in enumerate(items, start=1))

    def table(self, key: str) -> Fields:
        return Fields(self._get(key, {}), at=self.where(key))

    def names(self) -> tuple[str, ...]:
        return tuple(str(k) for k in self._data)

    def refuse_others(self) -> None:
        """Name the first key that nobody asked for."""
        for key in self._data:
            if key not in self._known:
                allowed = ", ".join(sorted(self._known))
                hint = closest(str(key), self._known)
                raise self.fail(str(key), f"this key is not known; allowed are {allowed}{hint}")

    def build(self, make: Callable[[], T]) -> T:
        """Return `make()`, with its complaint (a ValueError) placed at this table."""
        try:
            return make()
        except ValueError as error:
            raise BadInput(str(error), at=self._at) from error


def _shown(value: object) -> str:
    """Return `value` as the teacher may have typed it, shortened."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None:
        return "nothing"
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "…"
