"""The stems of a session that are the teacher's own, and not ours."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import soundfile

from rondel.adapters.sound_files import MADE_HERE
from rondel.adapters.track_files import TrackFiles
from rondel.app.mix_sound import VOICE
from rondel.app.play_track import TRACK
from rondel.app.take_stems import OwnStem, OwnStems
from rondel.model.errors import BadInput
from rondel.music.score import LayerName

LAYERS = (*(str(name) for name in LayerName), TRACK)
STEMS = "stems"
SUFFIXES = (".flac", ".wav", ".aiff", ".aif", ".ogg", ".mp3", ".m4a")
#: The folders beside a routine in which her stems may lie.
BESIDE = (STEMS, f"music/{STEMS}")


def find_stems(home: Path, session: Path, made: Mapping[str, object]) -> OwnStems:
    """Return her own stems: those beside the routine in `home`, and what she put into `session`.

    `made` is what made.json says. A file in the session is ours where it is still what we wrote;
    where nothing is known of it, where it bears our mark. Raises BadInput for a voice's stem of
    hers, for there words are taken cue by cue.
    """
    found: dict[str, OwnStem] = {}
    strays: list[str] = []
    inside = session / STEMS
    ours = _Ours(made)
    for path in _sounds(inside):  # first, so that none of them is ever written over
        if not ours.made(path):
            _take(path, f"{session.name}/{STEMS}/{path.name}", found, strays, is_in_place=True)
    for place in BESIDE:
        if (home / place).resolve() == inside.resolve():
            continue
        for path in _sounds(home / place):
            _take(path, f"{place}/{path.name}", found, strays, is_in_place=False)
    return OwnStems(by_layer=found, tracks=TrackFiles(), beside=tuple(_stray_notes(strays)))


def _sounds(folder: Path) -> Iterator[Path]:
    """Yield the sound files of `folder`, hidden ones left out, FLAC before others."""
    if not folder.is_dir():
        return
    for path in sorted(folder.iterdir(), key=lambda p: (p.suffix.lower() != ".flac", p.name)):
        is_sound = path.suffix.lower() in SUFFIXES and not path.name.startswith(".")
        if is_sound and path.is_file():
            yield path


def _take(
    path: Path, name: str, found: dict[str, OwnStem], strays: list[str], *, is_in_place: bool
) -> None:
    layer = path.stem.lower()
    if f"{STEMS}/{layer}" == str(Path(VOICE).with_suffix("")):
        raise BadInput(
            "this stem is your own, and words are taken cue by cue: put them into voice/ under the "
            "ids of their cues, and move this file away so that it is not lost",
            at=name,
        )
    if layer not in LAYERS or layer in found:
        strays.append(name)
        return
    found[layer] = OwnStem(path=path, name=name, digest=_digest(path), is_in_place=is_in_place)


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _stray_notes(strays: Sequence[str]) -> Iterator[str]:
    if strays:
        yield (
            f"Not used: {', '.join(strays)}. A stem is called by its layer, once: "
            f"{', '.join(LAYERS)}."
        )


class _Ours:
    """Tells which files in a session's stems are as we wrote them, by what made.json recorded."""

    def __init__(self, made: Mapping[str, object]) -> None:
        stage = _table(_table(made, "stages"), "audio")
        self._files = _table(stage, "files")
        hers = _table(_table(stage, "measured"), "own_stems")
        self._hers = {str(_table(hers, layer).get("sha256")) for layer in hers}

    def made(self, path: Path) -> bool:
        """Return True where the file at `path` is ours, so that it may be written again."""
        digest = _digest(path)
        known = self._files.get(f"{STEMS}/{path.name}")
        if digest in self._hers:
            return False
        return digest == known if known is not None else _bears_our_mark(path)


def _table(of: Mapping[str, object], key: str) -> Mapping[str, object]:
    inner = of.get(key)
    return inner if isinstance(inner, Mapping) else {}


def _bears_our_mark(path: Path) -> bool:
    try:
        with soundfile.SoundFile(path) as file:
            return str(file.comment) == MADE_HERE
    except (soundfile.LibsndfileError, TypeError):
        return False
