"""Says in which language the chapters of an MP4 are. libav leaves that of its chapter track at 0,
which is no language of the standard, and which players take for English."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

#: A chapter track is one of text (QuickTime File Format, "Chapter lists").
_TEXT = b"text"


def tag_chapters(path: Path, letters: str) -> None:
    """Write `letters` (ISO 639-2/T) as the language of every track of plain text in the MP4 at
    `path`; captions, which are of another kind, are left alone."""
    with path.open("r+b") as file:
        end = file.seek(0, 2)
        for start, past in _boxes(file, 0, end, (b"moov", b"trak")):
            kinds = [at for at, _ in _boxes(file, start, past, (b"mdia", b"hdlr"))]
            if any(_read(file, at + 8, 4) == _TEXT for at in kinds):
                for at, _ in _boxes(file, start, past, (b"mdia", b"mdhd")):
                    # Version and flags, two times, time scale and length: longer in version 1.
                    language = at + (32 if _read(file, at, 1) == b"\x01" else 20)
                    file.seek(language)
                    file.write(packed(letters).to_bytes(2, "big"))


def packed(letters: str) -> int:
    """Return three small letters in 15 bits, five each, less 0x60 (ISO/IEC 14496-12, 8.4.2)."""
    first, second, third = (ord(letter) - 0x60 for letter in letters)
    return first << 10 | second << 5 | third


def _boxes(
    file: BinaryIO, start: int, past: int, way: tuple[bytes, ...]
) -> Iterator[tuple[int, int]]:
    """Yield where the contents of each box begin and end that lies within the boxes of `way`."""
    while start + 8 <= past:
        size, kind = struct.unpack(">I4s", _read(file, start, 8))
        begins = start + 8
        if size == 1:
            size, begins = int.from_bytes(_read(file, begins, 8), "big"), begins + 8
        ends = past if size == 0 else start + size
        if kind == way[0]:
            if len(way) == 1:
                yield begins, ends
            else:
                yield from _boxes(file, begins, ends, way[1:])
        if ends <= start:
            return
        start = ends


def _read(file: BinaryIO, at: int, count: int) -> bytes:
    file.seek(at)
    return file.read(count)
