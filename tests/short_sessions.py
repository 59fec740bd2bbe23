"""A routine of 64 seconds in a file or on a shelf, where what is tested hangs on no length.

A brief asks for three minutes at least; a routine that is there may be as short as it likes.
"""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

from rondel.adapters.routine_shelf import Kept, Shelf
from rondel.app.make_plan import with_cues
from rondel.model.codec.routine import routine_to_dict
from rondel.model.routine import Routine
from video_samples import small_routine


@cache
def short_routine() -> Routine:
    """Return the small routine with its words: every role, both sides, two tempos."""
    return with_cues(*small_routine())


def routine_file(path: Path, title: str = "Harbour Evening") -> Path:
    """Write the short routine as a source of a session."""
    path.parent.mkdir(parents=True, exist_ok=True)
    text = json.dumps(routine_to_dict(replace(short_routine(), title=title)))
    path.write_text(text, "utf-8")
    return path


def shelved(studio: Path, title: str) -> Kept:
    """Put the short routine on the shelf of a studio."""
    return Shelf(studio).add(replace(short_routine(), title=title), "", "Begun.")
