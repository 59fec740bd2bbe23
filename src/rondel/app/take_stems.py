"""Take a stem back in that a musician made anew: it sounds in place of ours."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from rondel.app.gather_music import Layer
from rondel.app.ports.sound import Block
from rondel.app.ports.tracks import Tracks
from rondel.model.errors import BadInput
from rondel.model.time import as_minutes
from rondel.music.instruments.tone import RATE
from rondel.music.playing import InOrder

#: A stem that differs more from the session's length was made for another routine; a musician's
#: program may leave out silence at the end, or add a little.
SAME_SECONDS = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnStem:
    """A stem of hers in the file `path`, called `name` in sentences.

    `is_in_place`: it lies in the session itself, in place of ours.
    """

    path: Path
    name: str
    digest: str
    is_in_place: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnStems:
    """The stems that are hers, by layer; `notes` are sentences on what lies beside them."""

    by_layer: Mapping[str, OwnStem] = field(default_factory=dict)
    tracks: Tracks | None = None
    beside: tuple[str, ...] = ()

    def is_in_place(self, layer: str) -> bool:
        """True where the session's own file of `layer` is hers."""
        stem = self.by_layer.get(layer)
        return stem is not None and stem.is_in_place

    def file_of(self, layer: str) -> str:
        """Return where the stem of `layer` stands in the session."""
        stem = self.by_layer.get(layer)
        return f"stems/{stem.path.name}" if stem and stem.is_in_place else f"stems/{layer}.flac"

    @property
    def told(self) -> Mapping[str, Mapping[str, str]]:
        """What made.json says of them."""
        return {
            layer: {"file": stem.name, "sha256": stem.digest}
            for layer, stem in sorted(self.by_layer.items())
        }

    @property
    def notes(self) -> tuple[str, ...]:
        """Sentences for the teacher."""
        used = ", ".join(stem.name for _, stem in sorted(self.by_layer.items()))
        first = (f"Of your own stems these sound in place of ours: {used}.",) if used else ()
        return (*first, *self.beside)


NO_STEMS = OwnStems()


def with_own_stems(
    layers: Sequence[Layer], own: OwnStems, session_seconds: float
) -> tuple[Layer, ...]:
    """Return `layers` with hers in place of those that are called alike, and after them the others.

    Raises BadInput where one is not as long as the session.
    """
    if own.tracks is None or not own.by_layer:
        return tuple(layers)
    hers = {
        layer: _layer(layer, stem, own.tracks, session_seconds)
        for layer, stem in sorted(own.by_layer.items())
    }
    kept = [hers.pop(str(layer.name), layer) for layer in layers]
    return (*kept, *hers.values())


def _layer(name: str, stem: OwnStem, tracks: Tracks, session_seconds: float) -> Layer:
    lasts = tracks.seconds_told(stem.path)
    if abs(lasts - session_seconds) > SAME_SECONDS:
        raise BadInput(
            f"this stem lasts {as_minutes(lasts)} and the session {as_minutes(session_seconds)}; "
            "play it from the session's beginning to its end, or take it away",
            at=stem.name,
        )
    return InOrder(name=name, sound=_sound(stem, tracks))


def _sound(stem: OwnStem, tracks: Tracks) -> Iterator[Block]:
    for (block,) in tracks.blocks(stem.path, (RATE,)):
        yield block
