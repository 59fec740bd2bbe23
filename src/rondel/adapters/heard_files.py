"""The files beside a track: `<name>.heard.json` and `<name>.corrections.toml`."""

from __future__ import annotations

import hashlib
import json
from functools import cache
from importlib.metadata import version
from pathlib import Path

from rondel.adapters.atomic import write_or_take_away, write_text
from rondel.adapters.craft_files import read_toml
from rondel.app.ports.tracks import Kept
from rondel.model.codec.corrections import corrections_from_dict, corrections_text
from rondel.model.codec.fields import Fields
from rondel.model.codec.track import heard_from_dict, heard_to_dict
from rondel.model.corrections import NONE, Corrections
from rondel.model.errors import BadInput

ROOT = Path(__file__).resolve().parent.parent
#: The adapters and the libraries through which sound comes to be heard.
READERS = ("loudness", "track_channels", "track_decoding", "track_files", "listened_files")
LIBRARIES = ("av", "numpy", "scipy", "soundfile", "soxr")
#: No file of what was heard is larger: three hours of beats are 400 kB.
MOST_BYTES = 32 * 1024 * 1024


def heard_path(track: Path, folder: Path | None = None) -> Path:
    """Return where what was heard in `track` lies: beside it, or in `folder`."""
    return (folder or track.parent) / f"{track.stem}.heard.json"


def corrections_path(track: Path) -> Path:
    """Return where what was put right in `track` lies."""
    return track.parent / f"{track.stem}.corrections.toml"


class FilesBesideTrack:
    """The port `BesideTrack`. What was heard is kept in `folder`, or beside the track; with
    `keeps` off nowhere: a folder that is no studio gets no files that nobody asked for."""

    def __init__(self, folder: Path | None = None, *, keeps: bool = True) -> None:
        self._folder = folder
        self._keeps = keeps

    def kept(self, track: Path) -> Kept | None:
        path = heard_path(track, self._folder)
        try:
            if path.stat().st_size > MOST_BYTES:
                return None
            data = json.loads(path.read_text("utf-8"))
            f = Fields(data, at=path.name)
            first, made_from = f.table("first_heard"), f.table("made_from")
            return Kept(
                heard=heard_from_dict(data, at=path.name),
                first_bpm=float(first.number("bpm", low=0)),
                first_beats_per_bar=first.whole("beats_per_bar", low=1),
                made_from={name: made_from.text(name) for name in made_from.names()},
            )
        except (OSError, ValueError, RecursionError, BadInput):
            return None  # then the track is heard anew

    def keep(self, track: Path, kept: Kept) -> None:
        if not self._keeps:
            return
        data = {
            "track": track.name,
            **heard_to_dict(kept.heard),
            "first_heard": {
                "bpm": kept.first_bpm,
                "beats_per_bar": kept.first_beats_per_bar,
            },
            "made_from": dict(kept.made_from),
        }
        write_text(heard_path(track, self._folder), json.dumps(data, ensure_ascii=False) + "\n")

    def corrections(self, track: Path) -> Corrections:
        path = corrections_path(track)
        if not path.exists():
            return NONE
        return corrections_from_dict(read_toml(path), at=path.name)

    def correct(self, track: Path, corrections: Corrections) -> None:
        path = corrections_path(track)
        text = None if corrections.is_empty else corrections_text(corrections)
        write_or_take_away(path, text)


@cache
def listening_digest() -> str:
    """Return the SHA-256 of Rondel's way of listening, from the file to what is heard in it: with
    another, tracks are listened to again."""
    total = hashlib.sha256()
    paths = [ROOT / "adapters" / f"{name}.py" for name in READERS]
    for folder in (ROOT / "listening", ROOT / "data" / "listening"):
        kept = (p for p in folder.rglob("*") if p.is_file() and "__pycache__" not in p.parts)
        paths += sorted(kept)
    for path in paths:
        total.update(path.relative_to(ROOT).as_posix().encode())
        total.update(path.read_bytes())
    for name in LIBRARIES:
        total.update(f"{name} {version(name)}\n".encode())
    return total.hexdigest()
