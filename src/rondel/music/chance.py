"""Choices that look free and are the same every time: a hash of the seed and of what is chosen.

Nothing is drawn in turn, so a change in one passage leaves every other choice as it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import blake2b
from typing import TypeVar

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Chance:
    """Choices of one piece. Keys are words and numbers that name the choice.

    One seed gives other choices in another `realm`, such as the intention of a session.
    """

    seed: int
    realm: str = ""

    def unit(self, *keys: object) -> float:
        """Return a number from 0 up to, not including, 1."""
        words = "\x1f".join(str(key) for key in (self.seed, self.realm, *keys))
        return int.from_bytes(blake2b(words.encode(), digest_size=6).digest()) / 2**48

    def between(self, low: int, high: int, *keys: object) -> int:
        """Return a whole number from `low` to `high`, both included."""
        return low + int(self.unit(*keys) * (high - low + 1))

    def pick(self, choices: Sequence[T], *keys: object) -> T:
        """Return one of `choices`."""
        return choices[int(self.unit(*keys) * len(choices))]
