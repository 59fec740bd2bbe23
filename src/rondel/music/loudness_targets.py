"""How loud a finished session stands, by name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rondel.model.errors import BadInput


@dataclass(frozen=True, slots=True, kw_only=True)
class LoudnessTarget:
    """A name, the integrated loudness in LUFS, what it is for, and who says so."""

    name: str
    lufs: float
    says: str
    source: str


SESSION = LoudnessTarget(
    name="session",
    lufs=-16.0,
    says="music with guiding words, for telephones and loudspeakers at home",
    source="AES TD1008 (2021): music tracks",
)
_OTHERS = (
    LoudnessTarget(
        name="speech",
        lufs=-18.0,
        says="where the words matter most",
        source="AES TD1008 (2021): speech",
    ),
    LoudnessTarget(
        name="broadcast",
        lufs=-23.0,
        says="for European radio and television",
        source="EBU R 128",
    ),
    LoudnessTarget(
        name="broadcast-us",
        lufs=-24.0,
        says="for American television",
        source="ATSC A/85 (from memory)",
    ),
)
TARGETS: Mapping[str, LoudnessTarget] = {t.name: t for t in (SESSION, *_OTHERS)}


def loudness_target(name: str) -> LoudnessTarget:
    """Return the target called `name`; BadInput naming those there are."""
    if name not in TARGETS:
        known = ", ".join(f"{t.name} ({t.lufs:g} LUFS)" for t in TARGETS.values())
        raise BadInput(f'"{name}" is not a loudness known here; choose of {known}', at="loudness")
    return TARGETS[name]
