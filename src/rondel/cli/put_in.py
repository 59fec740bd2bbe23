"""Times, spans and taps as they are typed, with complaints in whole words."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from rondel.model.codec.corrections import taps_of
from rondel.model.errors import BadInput, OutsideFailure

MOST_TAP_BYTES = 1_000_000
#: A longer list of taps is not said again in a complaint about it.
LONGEST_QUOTED = 80

T = TypeVar("T")


def typed(read: Callable[[str], T]) -> Callable[[str], T]:
    """Return `read` for argparse, with its complaint in whole words."""

    def parse(word: str) -> T:
        try:
            return read(word)
        except ValueError as error:
            raise argparse.ArgumentTypeError(f"{word} {error}") from error

    return parse


def taps_in(words: str | None) -> tuple[float, ...]:
    """Return the taps in the file called `words`, or those that `words` lists; () for None."""
    if words is None:
        return ()
    path = Path(words)
    try:
        is_file = path.is_file()
    except OSError:  # a long list is no name of a file
        is_file = False
    text = _text_of(path) if is_file else words
    try:
        return taps_of(text)
    except ValueError as error:
        is_list = is_file or not words.strip()
        says = str(error) if is_list else f"there is no such file, and as a list {error}"
        is_named = is_file or (words.strip() and len(words) < LONGEST_QUOTED)
        raise BadInput(says, at=words if is_named else "taps") from error


def _text_of(path: Path) -> str:
    if path.stat().st_size > MOST_TAP_BYTES:
        raise BadInput("this file is far too large to be a list of taps", at=str(path))
    try:
        return path.read_text("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInput("the file is not plain text", at=str(path)) from error
    except OSError as error:
        raise OutsideFailure(f"the file cannot be read ({error.strerror})", at=str(path)) from error
