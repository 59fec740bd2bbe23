"""How long a file promises to last: known for some kinds, for others only guessed from its size."""

from __future__ import annotations

from pathlib import Path

#: Names that libav gives to containers whose head tells the exact length.
TELLING = frozenset({"flac", "mov,mp4,m4a,3gp,3g2,mj2", "matroska,webm", "asf", "wv", "tta", "ape"})
#: What a head says that was written before the length was known.
UNKNOWN_SIZES = frozenset({0, 0xFFFFFFFF, 0x7FFFFFFF})
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
    """Return how many bytes a WAV or AIFF lacks of what its head promises; 0 for other kinds."""
    with path.open("rb") as file:
        head = file.read(12)
    if len(head) < 12 or head[:4] not in (b"RIFF", b"FORM"):
        return 0
    promised = int.from_bytes(head[4:8], "little" if head[:4] == b"RIFF" else "big")
    if promised in UNKNOWN_SIZES:
        return 0
    return max(0, promised + 8 - path.stat().st_size)
