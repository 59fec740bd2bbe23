"""The voice: every cue read aloud into the microphone, heard in its place, done again."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from rondel.adapters.atomic import write_text
from rondel.adapters.routine_shelf import Kept
from rondel.adapters.set_aside import set_aside
from rondel.adapters.voice import VoiceFolder
from rondel.desk.aside_work import voice_notes
from rondel.desk.asking import Ask, answering, to
from rondel.desk.bringing import not_kept, take_in
from rondel.desk.desk import Desk
from rondel.desk.leaves.away import aside
from rondel.model.errors import BadInput, RondelError
from rondel.model.names import language_of
from rondel.model.routine import Cue

FOLDER = "voice"
#: Which words each recording was made for; hidden, as it is no recording itself.
WORDS = ".words.json"
MOST_BYTES = 64 * 2**20
#: What is said of a recording's level.
LEVEL_SAYS = {
    "good": "Recorded, and the level is good.",
    "loud": "Recorded, but too loud: step back from the microphone, and say it again.",
    "soft": "Recorded, but very soft: come nearer to the microphone, and say it again.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A cue, and her recording of it. `other_words` are those it was made for, if not these."""

    cue: Cue
    at: float
    file: str
    other_words: str


def voice(ask: Ask) -> Response:
    kept = ask.desk.open(ask.path("slug"))
    routine, folder = kept.routine, kept.folder / FOLDER
    own, words = VoiceFolder(folder), _words(folder)
    rows = []
    for cue in routine.cues:
        file = own.name_of(cue.id)
        made_for = words.get(file, cue.say)
        rows.append(
            Said(
                cue=cue,
                at=float(routine.clock.seconds_at(cue.at_beat)),
                file=file,
                other_words="" if made_for == cue.say else made_for,
            )
        )
    return ask.leaf(
        "voice.html",
        "voice",
        kept,
        rows=rows,
        cue_language=str(language_of(routine)),
        aside=aside(folder),
        counted=_counted(ask, kept),
        notes=_notes(ask.desk, kept),
    )


def _counted(ask: Ask, kept: Kept) -> str:
    """Say how many cues are in her voice now."""
    own, cues = VoiceFolder(kept.folder / FOLDER), kept.routine.cues
    recorded = sum(bool(own.name_of(cue.id)) for cue in cues)
    return ask.say(
        "{recorded} of {count} cues are in your voice.", recorded=recorded, count=len(cues)
    )


def _words(folder: Path) -> dict[str, str]:
    try:
        found = json.loads((folder / WORDS).read_text("utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return {str(k): str(v) for k, v in found.items()} if isinstance(found, dict) else {}


def _notes(desk: Desk, kept: Kept) -> tuple[str, ...]:
    """Return what there is to say of the recordings in their places, as the session will."""
    folder = kept.folder / FOLDER
    if not folder.is_dir() or not any(folder.glob("[!.]*")):
        return ()
    try:
        return desk.player.do(voice_notes, kept.routine, folder)
    except RondelError as error:
        return (str(error),)


def cue_of(kept: Kept, name: str) -> Cue:
    """Return the cue with the id `name`; BadInput where there is none."""
    for cue in kept.routine.cues:
        if cue.id == name:
            return cue
    raise BadInput("there is no such cue", at=name[:40])


async def record(request: Request) -> Response:
    """Take in what the microphone gave for one cue; a worker makes a recording of it."""
    desk: Desk = request.app.state.desk
    try:
        kept = desk.open(request.path_params["slug"])
        cue = cue_of(kept, request.path_params["cue"])
        folder = kept.folder / FOLDER
        raw = await take_in(request, folder / ".raw", f"{cue.id}.webm", MOST_BYTES)
        told = await run_in_threadpool(_made, desk, kept, cue, raw)
    except RondelError as error:
        return JSONResponse({"trouble": str(error)}, 422)
    except OSError as error:
        return JSONResponse({"trouble": not_kept(error)}, 507)
    ask = Ask(desk=desk, request=request, form=FormData())
    level = str(told.get("level"))
    counted = await run_in_threadpool(_counted, ask, kept)
    return JSONResponse({"says": ask.say(LEVEL_SAYS.get(level, "")), "counted": counted, **told})


def _made(desk: Desk, kept: Kept, cue: Cue, raw: Path) -> Mapping[str, object]:
    folder = kept.folder / FOLDER
    out = folder / f"{cue.id}.wav"
    order = {"kind": "speak", "source": str(raw), "out": str(out)}
    about = f"voice {kept.slug}/{cue.id}"
    try:
        state = desk.jobs.start(about, order).wait(60)
    finally:
        raw.unlink(missing_ok=True)
    if state.result is None:
        raise BadInput(state.trouble or "the recording was not finished; try again", at=cue.id)
    write_text(
        folder / WORDS,
        json.dumps({**_words(folder), out.name: cue.say}, ensure_ascii=False, indent=1) + "\n",
    )
    one = replace(kept.routine, cues=(cue,))
    notes = desk.player.do(voice_notes, one, folder)
    about_it = [n for n in notes if "too long" in n or "too short" in n or "takes about" in n]
    return {**state.result, "notes": about_it}


def take_away(ask: Ask) -> Response:
    """Set a recording aside; the bundled voice speaks there again."""
    kept = ask.desk.open(ask.path("slug"))
    cue = cue_of(kept, ask.word("cue"))
    name = VoiceFolder(kept.folder / FOLDER).name_of(cue.id)
    if name:
        set_aside(kept.folder / FOLDER / name)
    return to(f"/r/{kept.slug}/voice#{cue.id}")


ROUTES = (
    Route("/r/{slug}/voice", answering(voice)),
    Route("/r/{slug}/voice/away", answering(take_away), methods=["POST"]),
    Route("/bring/{slug}/voice/{cue}", record, methods=["POST"]),
)
