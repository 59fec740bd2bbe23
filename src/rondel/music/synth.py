"""A layer of a score as sound: 48 kHz, stereo, float32, block by block.

Any block can be rendered by itself, so memory does not grow with the length of the session.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate

import numpy as np

from rondel.music.instruments import sustained
from rondel.music.instruments.piano import SoftPiano
from rondel.music.instruments.riser import Riser
from rondel.music.instruments.struck import Glass, HandDrum, Pulse
from rondel.music.instruments.tone import RATE, Instrument, Sounding, Stereo, Tone
from rondel.music.score import LayerName, Note, Score
from rondel.music.timbres import VOICES

BUILT_IN: Mapping[LayerName, Instrument] = {
    LayerName.DRONE: sustained.DRONE,
    LayerName.PAD: sustained.PAD,
    LayerName.BASS: sustained.BASS,
    LayerName.STRINGS: sustained.STRINGS,
    LayerName.PIANO: SoftPiano(),
    LayerName.MOTIF: Glass(),
    LayerName.PULSE: Pulse(),
    LayerName.DRUM: HandDrum(),
    LayerName.SWELL: sustained.SWELL,
    LayerName.RISER: Riser(),
}


def session_frames(score: Score) -> int:
    """Return the length of the session in frames."""
    return round(score.clock.total_seconds * RATE)


def _tone(score: Score, note: Note, number: int) -> Tone:
    start = round(score.start_seconds(note) * RATE)
    rise = score.rise_seconds(note)
    return Tone(
        start=start,
        frames=max(1, round(score.end_seconds(note) * RATE) - start),
        rise=None if rise is None else round(rise * RATE),
        pitch=note.pitch,
        velocity=note.velocity,
        number=number,
    )


@dataclass(kw_only=True)
class LayerSound:
    """The sound of one layer. `block` may be called for any span, in any order."""

    score: Score
    name: LayerName
    instrument: Instrument

    @cached_property
    def _tones(self) -> tuple[Tone, ...]:
        notes = self.score.layer(self.name)
        return tuple(_tone(self.score, note, i) for i, note in enumerate(notes))

    @cached_property
    def _starts(self) -> list[int]:
        return [tone.start for tone in sorted(self._tones, key=lambda t: t.start)]

    @cached_property
    def _soundings(self) -> dict[int, Sounding]:
        return {}

    @cached_property
    def _order(self) -> list[Tone]:
        return sorted(self._tones, key=lambda t: t.start)

    def _sounding(self, place: int) -> Sounding:
        """Return the sound of the tone at `place`; forgets those long past."""
        if place not in self._soundings:
            self._soundings[place] = self.instrument.sound(self._order[place])
        return self._soundings[place]

    @cached_property
    def _longest_before(self) -> list[int]:
        """The latest end of the note (without its tail) among the tones up to each place."""
        return list(accumulate((t.start + t.frames for t in self._order), max))

    def block(self, start: int, frames: int) -> Stereo:
        """Return frames `start` to `start + frames` of the layer, of shape (frames, 2)."""
        block = np.zeros((frames, 2), dtype=np.float32)
        for place in self._heard_in(start, frames):
            sounding = self._sounding(place)
            if sounding.end > start:
                sounding.add_to(block, start)
        for place in [p for p, s in self._soundings.items() if s.end <= start]:
            del self._soundings[place]
        return block

    def get_ready(self, start: int, frames: int) -> None:
        """Let the instrument work out what it keeps of the tones of a block, which is then sooner
        there."""
        for place in self._heard_in(start, frames):
            self.instrument.sound(self._order[place])

    def _heard_in(self, start: int, frames: int) -> list[int]:
        """Return the places of all tones that may be heard in a block; what certainly ended before
        is not worth the work of making its sound."""
        first = bisect_left(self._longest_before, start - self._tail)
        past = bisect_left(self._starts, start + frames)
        some = range(first, past)
        return [i for i in some if (t := self._order[i]).start + t.frames + self._tail > start]

    @cached_property
    def _tail(self) -> int:
        """The most frames that a tone goes on for after its note."""
        match self.instrument:
            case sustained.Sustained(shape=shape):
                return int(shape.release * RATE)
            case Riser():
                return 0
        return TAIL_FRAMES


#: The longest that any sound goes on after its note: the room after a low piano string.
TAIL_FRAMES = 12 * RATE


def layer_sounds(
    score: Score, instruments: Mapping[LayerName, Instrument] = BUILT_IN
) -> tuple[LayerSound, ...]:
    """Return the layers of `score` ready to be heard, in the score's order.

    A layer is played by the voice that the score names for it, unless `instruments` holds another
    one than the built-in.
    """
    named = {layer: VOICES[layer][voice] for layer, voice in score.timbres}

    def player(name: LayerName) -> Instrument:
        usual = instruments[name]
        return named.get(name, usual) if usual is BUILT_IN[name] else usual

    return tuple(
        LayerSound(score=score, name=layer.name, instrument=player(layer.name))
        for layer in score.layers
    )
