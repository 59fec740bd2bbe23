"""Give a routine other composed music: another character, fewer layers, another variation."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rondel.app.make_plan import with_cues
from rondel.model.errors import BadInput
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.words import Intention, MusicLayer


def dress_music(
    routine: Routine,
    craft: Craft,
    *,
    character: Intention | None,
    without: Sequence[MusicLayer],
    seed: int,
) -> Routine:
    """Return `routine` with the music asked for; what the hands do stays as it is.

    BadInput for a routine that carries no brief: it could not keep what is asked.
    """
    if routine.brief is None:
        raise BadInput("this routine carries no brief, so its music cannot be chosen here")
    own = None if character is routine.brief.intention else character
    brief = replace(routine.brief, character=own, without=tuple(without), seed=seed)
    return with_cues(replace(routine, brief=brief, seed=seed), craft)
