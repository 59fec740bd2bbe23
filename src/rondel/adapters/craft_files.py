"""The repertoire, the regions and the cautions, read from TOML files."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from pathlib import Path

from rondel.adapters.toml_words import broken_says
from rondel.model.codec.craft import (
    cautions_from_dict,
    craft_from_parts,
    regions_from_dict,
    techniques_from_dict,
)
from rondel.model.errors import BadInput, OutsideFailure
from rondel.model.repertoire import Craft, Technique

DATA = Path(str(files("rondel") / "data"))


def read_toml(path: Path) -> dict[str, object]:
    """Return what a TOML file holds; BadInput where it is not one, in the teacher's words."""
    try:
        raw = path.read_bytes()
    except FileNotFoundError as error:
        raise BadInput("there is no such file; check the name and the folder", at=str(path)) from (
            error
        )
    except IsADirectoryError as error:
        raise BadInput("this is a folder, and a file is expected", at=str(path)) from error
    except OSError as error:
        says = f"the file cannot be read ({error.strerror})"
        raise OutsideFailure(says, at=str(path)) from error
    try:
        text = raw.decode("utf-8-sig")
        return tomllib.loads(text)
    except UnicodeDecodeError as error:
        says = "the file is not plain text; save it as text in UTF-8"
        raise BadInput(says, at=str(path)) from error
    except tomllib.TOMLDecodeError as error:
        raise BadInput(broken_says(text, error), at=str(path)) from error
    except ValueError as error:  # a number of thousands of digits
        raise BadInput("a number in the file is far too long", at=str(path)) from error
    except RecursionError as error:
        raise BadInput("the file is nested too deeply", at=str(path)) from error


def _techniques_in(folder: Path) -> Iterator[tuple[str, Technique]]:
    for path in sorted(folder.glob("*.toml")):
        for technique in techniques_from_dict(read_toml(path), at=path.name):
            yield path.name, technique


def load_craft(repertoire: Path) -> Craft:
    """Return the craft with the techniques of the folder `repertoire`.

    Regions and cautions are always the built-in ones: they hold the safety limits.
    """
    return craft_from_parts(
        _techniques_in(repertoire),
        regions_from_dict(read_toml(DATA / "regions.toml"), at="regions.toml"),
        cautions_from_dict(read_toml(DATA / "cautions.toml"), at="cautions.toml"),
    )


@cache
def builtin_craft() -> Craft:
    """Return the craft that comes with Rondel."""
    return load_craft(DATA / "repertoire")
