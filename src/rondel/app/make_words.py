"""Write what is said, and what is done when: captions, chapters, cuts."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from rondel.app.make_video import PictureWishes
from rondel.app.ports.text_files import WriteText
from rondel.app.ports.voice import Speech
from rondel.documents.captions import caption_spans
from rondel.documents.chapters import chapter_spans
from rondel.documents.cut_list import PICTURE as VIDEO
from rondel.documents.cut_list import FilmedSpan, TakeMedia, cut_list
from rondel.documents.webvtt import captions, chapters
from rondel.drawing.frames.film import Film
from rondel.drawing.frames.layout import FRAMES_PER_SECOND
from rondel.drawing.frames.script import Script, frames_of, nearest_frame
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine

CAPTIONS = "captions.vtt"
CHAPTERS = "chapters.vtt"
CUTS = "cut.otio"
WORDS_FILES = (CAPTIONS, CHAPTERS, CUTS)


@dataclass(frozen=True, slots=True, kw_only=True)
class WordsReport:
    """How much there is to read, and what the teacher should hear about her recordings."""

    captions: int
    chapters: int
    spoken_seconds: float
    notes: tuple[str, ...]


def make_words(
    routine: Routine,
    craft: Craft,
    speech: Speech,
    out: Path,
    write_text: WriteText,
    picture: PictureWishes | None = None,
    video: str = VIDEO,
) -> WordsReport:
    """Write captions.vtt, chapters.vtt and cut.otio into the folder `out`.

    `picture` names the takes that stand in the video, which is the file `video`.
    """
    write_text(out / CAPTIONS, captions(routine, speech))
    write_text(out / CHAPTERS, chapters(routine, craft))
    cuts = cut_list(
        routine,
        craft,
        rate=FRAMES_PER_SECOND,
        frames=frames_of(routine),
        frame_at=nearest_frame,
        filmed=_filmed(routine, craft, picture),
        media=_media(picture, out),
        video=video,
    )
    write_text(out / CUTS, cuts)
    return WordsReport(
        captions=len(caption_spans(routine, speech)),
        chapters=len(chapter_spans(routine, craft)),
        spoken_seconds=round(sum(s.seconds for s in speech.heard), 2),
        notes=speech.notes,
    )


def _filmed(routine: Routine, craft: Craft, picture: PictureWishes | None) -> Sequence[FilmedSpan]:
    if picture is None or not any(one.shots for one in picture.fitted):
        return ()
    film = Film(Script(routine, craft), picture.fitted, picture.sources)
    return [
        FilmedSpan(
            passage=routine.line[span.passage].id,
            first=span.first,
            past=span.past,
            shots=span.shots,
        )
        for span in film.spans
    ]


def _media(picture: PictureWishes | None, out: Path) -> Mapping[str, TakeMedia]:
    """Return where takes lie, seen from the folder `out`."""
    sources = picture.sources if picture is not None else {}
    here = out.resolve()
    return {
        name: TakeMedia(
            address=Path(os.path.relpath(source.path, here)).as_posix(), seconds=source.seconds
        )
        for name, source in sources.items()
    }
