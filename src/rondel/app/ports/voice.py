"""What the app asks of a voice, and what it gives back: words with their sound and their second."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from rondel.model.words import Language


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpokenCue:
    """One cue as it is heard: mono samples in -1..1, beginning at `start_seconds`.

    The clock is that of the routine: 0 is its first beat.
    """

    cue_id: str
    text: str
    start_seconds: float
    samples: NDArray[np.float32]
    sample_rate: int
    is_heard: bool = True  # else only read: nobody has spoken it

    @property
    def seconds(self) -> float:
        """How long the words last."""
        return len(self.samples) / self.sample_rate

    @property
    def end_seconds(self) -> float:
        """The second at which the words are over."""
        return self.start_seconds + self.seconds


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Speech:
    """All that is said in a session, in order. `notes` are sentences for the teacher."""

    spoken: tuple[SpokenCue, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def heard(self) -> tuple[SpokenCue, ...]:
        """What has a voice; the rest is only to be read."""
        return tuple(s for s in self.spoken if s.is_heard)


#: What the bundled voice can say; in other languages the voice is the teacher's own.
VOICE_SPEAKS = Language.ENGLISH


class Speaker(Protocol):
    """A voice that needs nothing from outside and says the same words the same way each time."""

    def speak(self, text: str) -> tuple[NDArray[np.float32], int]:
        """Return `text` as mono samples in -1..1, of shape (frames,), and their sample rate.

        Raises OutsideFailure where the voice cannot speak.
        """
        ...


class Recordings(Protocol):
    """The teacher's own recordings of cues."""

    def load(self, cue_id: str) -> tuple[NDArray[np.float32], int] | None:
        """Return her recording of one cue as mono samples in -1..1 and its rate; None if none.

        Raises BadInput where there is a file and it cannot be read as sound. A silent file is no
        error here.
        """
        ...

    def name_of(self, cue_id: str) -> str:
        """Return what the recording of a cue is called, as "c03.wav"; nothing if there is none."""
        ...

    def unused(self, cue_ids: Collection[str]) -> tuple[str, ...]:
        """Return the names of what lies with the recordings and is used for none of the cues."""
        ...
