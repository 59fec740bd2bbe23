"""names.json in a studio: names tried on people. Written whole or not at all."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from rondel.adapters.atomic import write_text
from rondel.adapters.folder_lock import alone_in
from rondel.adapters.studio_files import read_json
from rondel.model.codec.name_trials import trials_from_dict, trials_to_dict
from rondel.model.errors import RondelError
from rondel.model.name_trials import NameTrials

NAMES = "names.json"


class StaleNames(RondelError):
    """Somebody entered something since the names were looked at. Nothing was done."""

    exit_code = 1

    def __init__(self) -> None:
        super().__init__("something was entered in another window since you looked at these names")


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptTrials:
    """What was counted, and the digest of the file it stands in."""

    trials: NameTrials
    digest: str


def read_trials(studio: Path) -> KeptTrials:
    """Return what was counted in the folder `studio`; nothing where there is no names.json yet.

    BadInput in a sentence where the file will not do.
    """
    path = studio / NAMES
    if not path.is_file():
        return KeptTrials(trials=NameTrials(), digest=_digest(""))
    trials = trials_from_dict(read_json(path), at=NAMES)
    return KeptTrials(trials=trials, digest=_digest(_text(trials)))


def change_trials(
    studio: Path, seen: str, change: Callable[[NameTrials], NameTrials]
) -> KeptTrials:
    """Keep what `change` makes of the trials; StaleNames where `seen` is not their digest."""
    with alone_in(studio):
        kept = read_trials(studio)
        if kept.digest != seen:
            raise StaleNames
        trials = change(kept.trials)
        text = _text(trials)
        write_text(studio / NAMES, text)
        return KeptTrials(trials=trials, digest=_digest(text))


def _text(trials: NameTrials) -> str:
    return json.dumps(trials_to_dict(trials), ensure_ascii=False, indent=1) + "\n"


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:24]
