"""What a microphone gave, made into a recording of one cue."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import soundfile

from rondel.adapters.atomic import whole_file
from rondel.adapters.track_decoding import opened
from rondel.model.errors import BadInput

#: A cue lasts seconds; what lasts longer than this was left running.
LONGEST_SECONDS = 120
#: Louder than this, the microphone was overdriven; softer, hiss would come up with the words, in dB
#: of full scale (common practice, no source).
TOO_LOUD_DB, TOO_SOFT_DB = -0.3, -36.0


def take_recording(source: Path, out: Path) -> Mapping[str, object]:
    """Write `source`, sound of any common kind, to `out` as WAV of one channel; tell how it is.

    The answer holds `seconds`, `peak_db` and `level`: "good", "loud" or "soft". BadInput where
    nothing is to be heard, or it cannot be read.
    """
    with opened(source) as decoded:
        rate, parts, frames = decoded.rate, [], 0
        for chunk in decoded.chunks:
            frames += len(chunk)
            if frames > LONGEST_SECONDS * rate:
                raise BadInput(f"a cue lasts no longer than {LONGEST_SECONDS} seconds")
            parts.append(np.asarray(chunk, dtype=np.float32).reshape(len(chunk), -1).mean(axis=1))
    mono = np.concatenate(parts) if parts else np.zeros(0, np.float32)
    peak = float(np.abs(mono).max(initial=0.0))
    if not np.isfinite(mono).all() or peak < 1e-3:
        raise BadInput("nothing is to be heard in this recording; is the microphone on?")
    peak_db = 20 * float(np.log10(peak))
    with whole_file(out) as part:
        soundfile.write(part, np.clip(mono, -1, 1), rate, subtype="PCM_24", format="WAV")
    level = "loud" if peak_db > TOO_LOUD_DB else "soft" if peak_db < TOO_SOFT_DB else "good"
    return {"seconds": round(len(mono) / rate, 2), "peak_db": round(peak_db, 1), "level": level}
