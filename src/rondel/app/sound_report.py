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
