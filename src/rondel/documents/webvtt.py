"""Captions and chapters as WebVTT (W3C, https://www.w3.org/TR/webvtt1/)."""

from __future__ import annotations

from collections.abc import Iterable

from rondel.documents.captions import Talk, caption_spans
from rondel.documents.chapters import chapter_spans
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine


def captions(routine: Routine, speech: Talk) -> str:
    """Return what is said, as a WebVTT file for a caption track."""
    return _file(
        (c.id, c.start_seconds, c.end_seconds, c.text) for c in caption_spans(routine, speech)
    )


def chapters(routine: Routine, craft: Craft) -> str:
    """Return the chapters of `routine`, as a WebVTT file for a chapter track."""
    return _file(
        (f"chapter-{n}", c.start_seconds, c.end_seconds, c.title)
        for n, c in enumerate(chapter_spans(routine, craft), start=1)
    )


def timestamp(milliseconds: int) -> str:
    """Return whole milliseconds as hh:mm:ss.ttt."""
    seconds, rest = divmod(milliseconds, 1000)
    minutes, second = divmod(seconds, 60)
    hour, minute = divmod(minutes, 60)
    return f"{hour:02d}:{minute:02d}:{second:02d}.{rest:03d}"


def cue_text(text: str) -> str:
    """Return `text` as cue text: markup characters escaped, no empty line, no arrow."""
    lines = (" ".join(line.split()) for line in text.splitlines())
    kept = "\n".join(line for line in lines if line)
    return kept.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _file(cues: Iterable[tuple[str, float, float, str]]) -> str:
    """Write cues; each starts no earlier than the one before ends, and lasts a millisecond."""
    blocks = ["WEBVTT"]
    free_from = 0
    for name, start_seconds, end_seconds, text in cues:
        start = max(round(start_seconds * 1000), free_from)
        end = max(round(end_seconds * 1000), start + 1)
        free_from = end
        blocks.append(f"{name}\n{timestamp(start)} --> {timestamp(end)}\n{cue_text(text)}")
    return "\n\n".join(blocks) + "\n"
