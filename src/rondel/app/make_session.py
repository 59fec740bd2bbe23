"""Make a session folder from a routine: every part, in order, only where it is stale."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from rondel.app.ports.session import SessionFolder
from rondel.app.progress import Progress
from rondel.app.stages import Stage, StageResult, run_stages, take_away_stale
from rondel.drawing.frames.shapes import Shape
from rondel.model.errors import BadInput
from rondel.model.finding import Outcome

#: What the stage of a video is called, by its shape.
VIDEO_STAGES: Mapping[Shape, str] = MappingProxyType(
    {Shape.WIDE: "video", Shape.TALL: "video-tall", Shape.SQUARE: "video-square"}
)

#: The parts a teacher may name with --only, and the stages each needs.
PARTS: Mapping[str, tuple[str, ...]] = {
    "audio": ("audio",),
    "words": ("words",),
    "page": ("page",),
    "cards": ("page",),
    "video": ("audio", "words", *VIDEO_STAGES.values()),
    "follow": ("words", "follow"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What became of a session. Without a routine, `outcome` says why and nothing was made."""

    outcome: Outcome
    folder: Path
    results: tuple[StageResult, ...] = ()
    notes: tuple[str, ...] = field(default=())

    def as_dict(self) -> dict[str, object]:
        """Return it as plain JSON data."""
        return {
            "folder": str(self.folder),
            "parts": [
                {
                    "name": r.name,
                    "fresh": r.was_fresh,
                    "seconds": round(r.seconds, 2),
                    "measured": dict(r.measured),
                }
                for r in self.results
            ],
            "notes": list(self.notes),
        }


def stages_for(parts: Iterable[str]) -> frozenset[str]:
    """Return the names of the stages that `parts` need; all where none is named."""
    chosen = tuple(parts)
    for part in chosen:
        if part not in PARTS:
            allowed = ", ".join(PARTS)
            raise BadInput(f'"{part}" is not a part of a session; allowed are {allowed}', at="only")
    return frozenset(s for part in (chosen or PARTS) for s in PARTS[part])


def make_session(
    outcome: Outcome,
    stages: Iterable[Stage],
    folder: SessionFolder,
    *,
    only: Iterable[str],
    program: str,
    progress: Progress,
    about: Mapping[str, object] | None = None,
    unasked: Iterable[Stage] = (),
) -> Made:
    """Make the parts named in `only` (all where none is) and return what became of them.

    `about` goes into made.json beside the stages: hashes of the inputs, versions. `unasked`: videos
    in other shapes than those asked for now; what earlier makes left of them is taken away where it
    shows something else than the session does now.
    """
    wanted = stages_for(only)
    folder.write_made({**(about or {}), "stages": folder.read_made().get("stages", {})})
    chosen = tuple(s for s in stages if s.name in wanted)
    results = run_stages(chosen, folder, program=program, progress=progress)
    notes = [str(n) for r in results for n in _notes(r)]
    if wanted & set(VIDEO_STAGES.values()):
        for name in take_away_stale(tuple(unasked), folder, program=program):
            notes.append(f"{name} was of an earlier make and is taken away; ask for its shape too.")
    return Made(outcome=outcome, folder=folder.path, results=results, notes=tuple(notes))


def _notes(result: StageResult) -> tuple[object, ...]:
    notes = result.measured.get("notes", ())
    return tuple(notes) if isinstance(notes, list | tuple) else ()
