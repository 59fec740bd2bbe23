"""The one place where the outside world meets the use cases."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

from rondel.adapters.atomic import write_bytes, write_text
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.follow_files import follow_template
from rondel.adapters.raster import ResvgRasteriser
from rondel.adapters.session_folder import DiskFolder, program_digest
from rondel.adapters.sound_files import SoundFiles
from rondel.adapters.studio_files import (
    craft_for,
    demo_brief,
    read_brief,
    read_routine,
    write_routine,
)
from rondel.adapters.typesetting import TypstTypesetter
from rondel.adapters.video import LibavVideoMaker
from rondel.adapters.voice import BundledVoice, VoiceFolder
from rondel.app.make_plan import make_plan, with_cues
from rondel.app.make_session import Made, make_session, stages_for
from rondel.app.progress import Progress
from rondel.app.session_stages import Recipe, Tools
from rondel.drawing.figure import still
from rondel.model.errors import BadInput
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft


def parts_from(words: str | None) -> tuple[str, ...]:
    """Return the parts named with --only, as in "audio,page"; BadInput for one not known."""
    parts = tuple(w.strip() for w in (words or "").split(",") if w.strip())
    stages_for(parts)
    return parts


def outcome_of(source: Path, craft: Craft) -> Outcome:
    """Return the routine in a .json file, or the plan for a brief in a .toml file."""
    if source.suffix.lower() == ".json":
        routine = read_routine(source)
        unknown = [
            p for p in routine.passages if p.technique and not craft.has_technique(p.technique)
        ]
        if unknown:
            raise BadInput(
                f'the technique "{unknown[0].technique}" is not in the repertoire; add it there '
                "or choose another",
                at=f"{source.name}: passage {unknown[0].id}",
            )
        return Outcome(routine=routine if routine.cues else with_cues(routine, craft))
    return make_plan(read_brief(source), craft)


def make_from_file(
    source: Path, *, out: Path, only: Iterable[str], quick: bool, progress: Progress
) -> Made:
    """Make the session of a routine or a brief in a file."""
    craft = craft_for(source)
    outcome = outcome_of(source, craft)
    voice = source.parent / "voice"
    return _make(outcome, craft, out, voice=voice, only=only, quick=quick, progress=progress)


def make_demo(*, out: Path, quick: bool, progress: Progress) -> Made:
    """Make the session of the built-in demo."""
    craft = builtin_craft()
    outcome = make_plan(demo_brief(), craft)
    return _make(outcome, craft, out, voice=None, only=(), quick=quick, progress=progress)


def _make(
    outcome: Outcome,
    craft: Craft,
    out: Path,
    *,
    voice: Path | None,
    only: Iterable[str],
    quick: bool,
    progress: Progress,
) -> Made:
    if outcome.routine is None:
        return Made(outcome=outcome, folder=out)
    folder = DiskFolder(out)
    folder.sweep()
    write_routine(out / "routine.json", outcome.routine)
    recipe = Recipe(
        routine=outcome.routine,
        craft=craft,
        folder=folder,
        work=out.parent / f".{out.name}-unfinished",
        tools=_tools(),
        own_voice=VoiceFolder(voice) if voice and voice.is_dir() else None,
        own_voice_digests=_digests(voice),
        quick=quick,
        progress=progress,
    )
    stages = recipe.stages()
    program = program_digest()
    return make_session(outcome, stages, folder, only=only, program=program, progress=progress)


def _tools() -> Tools:
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
    )


def _digests(voice: Path | None) -> dict[str, str]:
    """Return what her recordings hold, by file name."""
    if voice is None or not voice.is_dir():
        return {}
    files = sorted(p for p in voice.iterdir() if p.is_file())
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in files}
