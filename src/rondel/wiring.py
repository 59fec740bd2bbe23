"""The one place where the outside world meets the use cases."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from rondel.adapters.alone import alone
from rondel.adapters.atomic import write_bytes, write_text
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.follow_files import follow_template
from rondel.adapters.raster import ResvgRasteriser
from rondel.adapters.session_folder import DiskFolder, home_of, program_digest, versions
from rondel.adapters.sound_files import SoundFiles
from rondel.adapters.soundfont import find_soundfont, instruments_for
from rondel.adapters.stem_files import SUFFIXES, find_stems
from rondel.adapters.studio_files import (
    craft_for,
    demo_brief,
    read_routine,
    write_routine,
)
from rondel.adapters.take_place import takes_at
from rondel.adapters.track_files import TrackFiles
from rondel.adapters.track_place import brought_track, named_from
from rondel.adapters.typesetting import TypstTypesetter
from rondel.adapters.video import LibavVideoMaker
from rondel.adapters.voice import BundledVoice, VoiceFolder, voice_digests
from rondel.app.craft_digest import craft_digest
from rondel.app.kept_sound import KeptSound, kept_pieces
from rondel.app.make_plan import make_plan
from rondel.app.make_session import Made, make_session, stages_for
from rondel.app.make_sound import SoundWishes
from rondel.app.make_video import PictureWishes
from rondel.app.progress import Progress
from rondel.app.session_stages import Recipe, Tools
from rondel.app.take_routine import take_routine
from rondel.drawing.figure import still
from rondel.drawing.frames.shapes import Shape
from rondel.fitting.choosing import Limits
from rondel.model.errors import BadInput
from rondel.model.finding import Outcome
from rondel.model.names import language_of
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.music.loudness_targets import SESSION, loudness_target
from rondel.planner.wishes import require_known
from rondel.wiring_takes import Filmed, filmed
from rondel.wiring_tracks import read_brief_and_track

ROUTINE = "routine.json"


def parts_from(words: str | None) -> tuple[str, ...]:
    """Return the parts named with --only, as in "audio,page"; BadInput for one not known."""
    parts = tuple(w.strip() for w in (words or "").split(",") if w.strip())
    stages_for(parts)
    return parts


def outcome_of(source: Path, craft: Craft, progress: Progress) -> tuple[Outcome, tuple[str, ...]]:
    """Return the routine in a .json file, or the plan for a brief in a .toml file; and notes."""
    if source.suffix.lower() == ".json":
        return take_routine(read_routine(source), craft, at=source.name)
    if source.suffix.lower() in SUFFIXES:
        says = (
            "this is a sound; name it in a brief, as its `track`, and make the session of the brief"
        )
        raise BadInput(says, at=str(source))
    brief, heard = read_brief_and_track(source, progress=progress)
    require_known(brief, craft, at=source.name)
    outcome = make_plan(brief, craft, heard=heard)
    planned = outcome.routine.brief if outcome.routine else None
    return outcome, planned.laid.says if planned and planned.laid else ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundAsked:
    """What was asked of the sound: a SoundFont, a loudness by name, ticks over a brought track."""

    soundfont: Path | None = None
    loudness: str = SESSION.name
    has_beat_marks: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmAsked:
    """What was asked of the picture: its shapes, and how takes may be used.

    `is_drawn`: takes are left out. `fills`: takes are cut to fill the frame. `keeps_sound`: what
    was heard when they were filmed is heard under the music.
    """

    shapes: tuple[Shape, ...] = (Shape.WIDE,)
    limits: Limits = field(default_factory=Limits)
    fills: bool = False
    is_drawn: bool = False
    keeps_sound: bool = False


def make_from_file(
    source: Path,
    *,
    out: Path,
    only: Iterable[str],
    quick: bool,
    progress: Progress,
    asked: SoundAsked | None = None,
    film: FilmAsked | None = None,
    cores: Callable[[], int] | None = None,
) -> Made:
    """Make the session of a routine or a brief in a file.

    `cores` tells how many may be used from now on; without it all of them are. Where another
    process makes the same session, this one waits for it.
    """
    asked = asked or SoundAsked()
    loudness_target(asked.loudness)  # a slip is said before anything is planned
    craft = craft_for(source)
    outcome, notes = outcome_of(source, craft, progress)
    order = _Order(
        outcome=outcome,
        craft=craft,
        notes=notes,
        name=source.name,
        home=home_of(source),
        is_in_place=source.resolve() == (out / ROUTINE).resolve(),
        asked=asked,
        film=film or FilmAsked(),
        cores=cores,
    )
    with alone(out.parent / f".{out.name}.lock", lambda: _say_waiting(progress)):
        return _make(order, out, only=only, quick=quick, progress=progress)


def _say_waiting(progress: Progress) -> None:
    progress.begin("Waiting for another make", 1)
    progress.end()


def make_demo(*, out: Path, quick: bool, progress: Progress) -> Made:
    """Make the session of the built-in demo."""
    craft = builtin_craft()
    order = _Order(outcome=make_plan(demo_brief(), craft), craft=craft)
    return _make(order, out, only=(), quick=quick, progress=progress)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Order:
    """What a session is to be made of, and what the teacher is to know about it."""

    outcome: Outcome
    craft: Craft
    notes: tuple[str, ...] = ()
    name: str = ROUTINE  # of the file that it was asked for with
    home: Path | None = None  # the folder with her own recordings, track and stems, if any
    is_in_place: bool = False  # the routine is the session's own, edited by hand
    asked: SoundAsked = SoundAsked()
    film: FilmAsked = FilmAsked()
    cores: Callable[[], int] | None = None

    @property
    def voice(self) -> Path | None:
        """The folder of her own recordings."""
        folder = self.home / "voice" if self.home else None
        return folder if folder and folder.is_dir() else None


def _make(
    order: _Order, out: Path, *, only: Iterable[str], quick: bool, progress: Progress
) -> Made:
    routine = order.outcome.routine
    if routine is None:
        return Made(outcome=order.outcome, folder=out)
    folder = DiskFolder(out)
    folder.sweep()
    if not order.is_in_place:
        _refuse_to_overwrite(folder)
    brought = brought_track(routine, order.home or out, at=f"{order.name}: music")
    if order.home is not None:
        routine = named_from(routine, order.home, out.resolve().parent)
    wishes = SoundWishes(
        track=brought.track,
        loudness=loudness_target(order.asked.loudness),
        has_beat_marks=order.asked.has_beat_marks,
        own_stems=find_stems(order.home or out, out, folder.read_made()),
    )
    needs_film = order.film.keeps_sound or {"video", "words"} & stages_for(only)
    takes = _takes(order, routine, progress) if needs_film else Filmed()
    if order.film.keeps_sound:
        wishes = replace(wishes, kept=_kept(routine, order.craft, takes))
    write_routine(out / ROUTINE, routine)
    voice, digests = order.voice, voice_digests(order.voice)
    recipe = Recipe(
        routine=routine,
        craft=order.craft.in_language(language_of(routine)),  # names as they are heard
        folder=folder,
        work=out.parent / f".{out.name}-pieces",
        tools=_tools(order.asked.soundfont),
        own_voice=VoiceFolder(voice) if voice else None,
        own_voice_digests=digests,
        quick=quick,
        progress=progress,
        wishes=wishes,
        track_digest=brought.digest,
        pictures=_pictures(order.film, takes),
        cores=order.cores,
    )
    about = {
        "versions": versions(),
        "inputs": {
            ROUTINE: folder.digest(ROUTINE),
            **_inputs(order.craft, digests, wishes),
            **brought.inputs,
            **takes.inputs,
        },
    }
    made = make_session(
        order.outcome,
        recipe.stages(),
        folder,
        only=only,
        program=program_digest(),
        about=about,
        progress=progress,
        unasked=recipe.unasked_videos(),
    )
    return replace(made, notes=(*order.notes, *brought.notes, *takes.notes, *made.notes))


def _inputs(craft: Craft, voice: Mapping[str, str], wishes: SoundWishes) -> dict[str, str]:
    """Return the digests of what a session is made from, but for its routine, track and takes."""
    return {
        "craft": craft_digest(craft),
        "program": program_digest(),
        **{f"voice/{name}": digest for name, digest in voice.items()},
        **{stem.name: stem.digest for stem in wishes.own_stems.by_layer.values()},
    }


def _pictures(asked: FilmAsked, takes: Filmed) -> tuple[PictureWishes, ...]:
    """Return what the picture is to be in each shape that was asked for."""
    usual = PictureWishes(fitted=takes.fitted.passages, sources=takes.sources, fills=asked.fills)
    return tuple(replace(usual, shape=shape) for shape in asked.shapes)


def _kept(routine: Routine, craft: Craft, takes: Filmed) -> KeptSound:
    """Return what is kept of the takes' own sound."""
    pieces = kept_pieces(routine, craft, takes.fitted.passages, takes.sources)
    return KeptSound(pieces=pieces, tracks=TrackFiles())


def _takes(order: _Order, routine: Routine, progress: Progress) -> Filmed:
    """Return what takes beside the routine show of it."""
    if order.home is None or order.film.is_drawn:
        return Filmed()
    return filmed(
        routine,
        order.craft.in_language(language_of(routine)),
        takes_at(order.home),
        order.film.limits,
        progress=progress,
        cores=order.cores,
    )


def _refuse_to_overwrite(folder: DiskFolder) -> None:
    """A routine edited by hand inside a session is not to be lost to a new plan."""
    inputs = folder.read_made().get("inputs")
    known = inputs.get(ROUTINE) if isinstance(inputs, Mapping) else None
    there = folder.digest(ROUTINE)
    if known is not None and there is not None and known != there:
        path = folder.path / ROUTINE
        raise BadInput(
            f"this routine was changed by hand since the session was made. To make the session "
            f"of it: rondel make {path}. To plan anew instead, delete or move it first",
            at=str(path),
        )


def _tools(soundfont: Path | None) -> Tools:
    font = soundfont or find_soundfont()
    return Tools(
        speaker=BundledVoice(),
        sound=SoundFiles(),
        typesetter=TypstTypesetter(),
        rasteriser=ResvgRasteriser(),
        video=LibavVideoMaker(),
        still=still,
        follow_parts=follow_template,
        write_bytes=write_bytes,
        write_text=write_text,
        instruments=instruments_for(soundfont),
        instruments_digest=hashlib.sha256(font.read_bytes()).hexdigest() if font else "",
    )
