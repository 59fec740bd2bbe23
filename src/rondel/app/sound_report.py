"""How the sound of a session measures."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass

from rondel.app.ports.sound import Loudness
from rondel.music.ducking import ATTACK_SECONDS, HOLD_SECONDS, RELEASE_SECONDS
from rondel.music.loudness_targets import LoudnessTarget
from rondel.music.soundness import Soundness

#: What the music does around words; the depth of each step back is in `ducks`.
DUCKING = {"attack": ATTACK_SECONDS, "hold": HOLD_SECONDS, "release": RELEASE_SECONDS}

#: Below this music is silent, LUFS: the gate of EBU R 128.
SILENT_LUFS = -70.0
#: Further from the asked loudness than this is told, LU (EBU R 128 allows as much for a programme).
TOLD_LU = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class CueLevel:
    """How a cue stands: loudness of the voice, and LU above the music under it."""

    cue_id: str
    start_seconds: float
    voice_lufs: float
    above_music_lu: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundReport:
    """What was made and how it measures; plain enough for made.json.

    The mix before its limiter is `master_gain_db` applied to the sum of the stems, the music's
    stems under the curve of `ducks` ((start second, end second, depth in dB) each), whose ramps are
    `ducking_seconds`. Of `soundness`, the clicks are those of the music alone, all else is that of
    the mix. `own_stems` are those that the teacher gave, by layer: file and SHA-256.
    """

    seconds: float
    key: str
    layers: tuple[str, ...]
    target: LoudnessTarget
    loudness: Loudness
    encoded: Loudness
    master_gain_db: float
    crest_db: float
    soundness: Soundness
    cues: tuple[CueLevel, ...]
    ducks: tuple[tuple[float, float, float], ...]
    ducking_seconds: Mapping[str, float]
    own_stems: Mapping[str, Mapping[str, str]]
    stage_seconds: Mapping[str, float]
    notes: tuple[str, ...]
    files: tuple[str, ...]

    @property
    def says(self) -> str:
        """How loud it is, in a few words."""
        heard = self.loudness
        if not math.isfinite(heard.integrated):
            return "silent"
        return (
            f"{heard.integrated:.1f} LUFS ({self.target.name}), peaks at "
            f"{heard.true_peak_db:.1f} dBTP, loudness range {heard.range_lu:.1f} LU"
        )

    def as_dict(self) -> dict[str, object]:
        """Return it as plain JSON data; numbers to three decimals."""
        plain = {str(k): _plain(v) for k, v in asdict(self).items()}
        return {**plain, "says": self.says}


def _plain(value: object) -> object:
    if isinstance(value, float):
        return round(value, 3) if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    return value


def level_notes(
    heard: Loudness, target: LoudnessTarget, music_lufs: float, *, is_faint: bool
) -> tuple[str, ...]:
    """Return what the teacher should know where the session does not stand at its `target`, or its
    music, of `music_lufs`, is too faint to be raised so far."""
    notes = []
    if is_faint:
        is_silent = music_lufs < SILENT_LUFS
        how = "silent" if is_silent else f"very faint ({music_lufs:.0f} LUFS)"
        notes.append(
            f"The music is {how}, so the voice is all that is heard clearly. Is it the right file? "
            "If so, bring a louder copy of it."
        )
    off = heard.integrated - target.lufs
    if not math.isfinite(off):
        notes.append("The session is silent: it has neither music nor a voice that can be heard.")
    elif abs(off) > TOLD_LU:
        notes.append(
            f"The session stands at {heard.integrated:.1f} LUFS and not at {target.lufs:g} as asked"
            f": it is {abs(off):.1f} LU too {'loud' if off > 0 else 'soft'}."
        )
    return tuple(notes)
