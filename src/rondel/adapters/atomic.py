"""Files appear whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from rondel.model.errors import BadInput, OutsideFailure


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Give a path beside `path` to write to; it takes the name `path` only when all went well.

    The temporary name keeps the suffix, because media writers choose the format by it.
    Raises OutsideFailure where the folder cannot be written, BadInput where `path` is a folder.
    """
    if path.is_dir():
        raise BadInput("this is a folder, and a file is to be written", at=str(path))
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=".part-", suffix=path.suffix, dir=path.parent)
        os.close(handle)
    except OSError as error:
        raise OutsideFailure(
            f"the folder cannot be written to ({error.strerror}); choose another folder",
            at=str(path.parent),
        ) from error
    part = Path(name)
    try:
        yield part
        part.chmod(0o644)
        part.replace(path)
    except OSError as error:
        raise OutsideFailure(
            f"the file could not be written ({error.strerror}); free some space and try again",
            at=str(path),
        ) from error
    finally:
        part.unlink(missing_ok=True)


def require_room(folder: Path) -> None:
    """Make `folder` where it is not there. Raises OutsideFailure where it cannot be written to."""
    with suppress(_Tried), whole_file(folder / "tried"):
        raise _Tried  # and so nothing comes of it


class _Tried(Exception):
    """A file was begun, and is not wanted."""


def write_bytes(path: Path, data: bytes) -> None:
    """Write `data` to `path`, whole or not at all."""
    with whole_file(path) as part:
        part.write_bytes(data)


def write_text(path: Path, text: str) -> None:
    """Write `text` in UTF-8 with plain line ends to `path`, whole or not at all."""
    write_bytes(path, text.encode("utf-8"))


def write_or_take_away(path: Path, text: str | None) -> None:
    """Write `text` to `path`; take the file away where there is none. Raises OutsideFailure."""
    if text is not None:
        write_text(path, text)
        return
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        says = f"the file cannot be taken away ({error.strerror})"
        raise OutsideFailure(says, at=str(path)) from error
