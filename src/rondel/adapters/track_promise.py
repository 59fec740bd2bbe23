"""How long a file promises to last: known for some kinds, for others only guessed from its size."""

from __future__ import annotations

from pathlib import Path
from typing import BinaryIO

#: Names that libav gives to containers whose head tells the exact length.
TELLING = frozenset({"flac", "mov,mp4,m4a,3gp,3g2,mj2", "matroska,webm", "asf", "wv", "tta", "ape"})
#: What a head says that was written before the length was known.
UNKNOWN_SIZES = frozenset({0, 0xFFFFFFFF, 0x7FFFFFFF})
UNKNOWN_LONG = 0xFFFFFFFFFFFFFFFF
#: The head of a file in which the kinds below tell their length: RF64's `ds64` is the longest (EBU
#: Tech 3306; ITU-R BS.2088 for BW64). Wave64 and AU: as their makers published them (from memory).
HEAD_BYTES = 32
#: What a file that is built of boxes begins with (ISO/IEC 14496-12; older MOV has no `ftyp`).
FIRST_BOXES = frozenset({b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip"})
#: So many chunks or boxes are looked at; in a whole file there are a few, in pieces some thousands.
MOST_PARTS = 100_000
#: Where an MP3 tells how many frames it has; in its first frame, after the tag.
MP3_COUNTS = (b"Xing", b"Info", b"VBRI")
FIRST_FRAME_BYTES = 4096


def is_promise(path: Path, container: str) -> bool:
    """True where the length that libav tells of a `container` comes from the file's own head."""
    return container in TELLING or (container == "mp3" and _counts_frames(path))


def _counts_frames(path: Path) -> bool:
    with path.open("rb") as file:
        head = file.read(10)
        if head[:3] == b"ID3" and len(head) == 10:
            file.seek(10 + _tag_size(head[6:10]))
        else:
            file.seek(0)
        first = file.read(FIRST_FRAME_BYTES)
    return any(word in first for word in MP3_COUNTS)


def _tag_size(four: bytes) -> int:
    """Return the size of an ID3v2 tag: seven bits a byte, the highest first (id3.org, 2.4 §3.1)."""
    size = 0
    for byte in four:
        size = size << 7 | byte & 0x7F
    return size


def missing_bytes(path: Path) -> int:
    """Return how many bytes a file lacks of what its head promises; 0 where it promises none.

    WAV, AIFF, RF64, Wave64, CAF, AU, and MP4 with all that is built like it.
    """
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
        promised = _promised(file, head)
    return 0 if promised is None else max(0, promised - path.stat().st_size)


def _promised(file: BinaryIO, head: bytes) -> int | None:
    """Return how long the whole file should be at least, in bytes; None where it is not told."""
    kind = head[:4]
    if kind in (b"RIFF", b"FORM") and len(head) >= 12:
        size = int.from_bytes(head[4:8], "little" if kind == b"RIFF" else "big")
        return None if size in UNKNOWN_SIZES else size + 8
    if kind in (b"RF64", b"BW64") and head[12:16] == b"ds64" and len(head) >= 28:
        size = int.from_bytes(head[20:28], "little")  # riffSize
        return None if size in (0, UNKNOWN_LONG) else size + 8
    if kind == b"riff" and len(head) >= 24:
        size = int.from_bytes(head[16:24], "little")  # of the whole file, its own head included
        return None if size in (0, UNKNOWN_LONG) else size
    if kind == b".snd" and len(head) >= 12:
        starts, size = (int.from_bytes(head[at : at + 4], "big") for at in (4, 8))
        return None if size in UNKNOWN_SIZES else starts + size
    if kind == b"caff" and len(head) >= 8:
        return _promised_in_chunks(file)
    return _promised_in_boxes(file) if head[4:8] in FIRST_BOXES else None


def _promised_in_chunks(file: BinaryIO) -> int | None:
    """Return where the sound of a CAF ends: its chunks follow each other, each with its size."""
    at = 8
    for _ in range(MOST_PARTS):
        file.seek(at)
        head = file.read(12)
        if len(head) < 12:
            break
        size = int.from_bytes(head[4:12], "big", signed=True)
        if size < 0:  # -1: not known when it was written, and only sound may be so
            return None
        at += 12 + size
        if head[:4] == b"data":
            break
    return at


def _promised_in_boxes(file: BinaryIO) -> int | None:
    """Return where the boxes end that a file cannot do without, or the first that reaches beyond
    the file; None where one goes on to the end, however long that is. What comes after them may
    be anything: some programs leave a tag there."""
    at, lacks = 0, {b"moov", b"mdat"}
    for _ in range(MOST_PARTS):
        file.seek(at)
        head = file.read(16)
        if len(head) < 8:
            break
        size = int.from_bytes(head[:4], "big")
        if size == 1:
            size = int.from_bytes(head[8:16], "big")
        if size < 8:  # 0: to the end of the file; all others are no boxes
            return None
        at += size
        lacks.discard(head[4:8])
        if not lacks:
            break
    return at
