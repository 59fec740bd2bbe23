"""The repertoire of a studio on disk: techniques added, changed and taken out, one at a time.

A changed technique stays in its file, a new one goes into repertoire/mine.toml. Files appear whole
or not at all; what was looked at is named by the digest of its text, so that a change which another
window overtook is refused. Nothing is written that could not be read as a craft again.
"""

from __future__ import annotations

import codecs
from dataclasses import dataclass
from pathlib import Path

from rondel.adapters.atomic import write_bytes, write_text
from rondel.adapters.craft_files import DATA, builtin_craft
from rondel.adapters.folder_lock import alone_in
from rondel.adapters.repertoire_blocks import (
    Block,
    blocks_of,
    changed_block,
    new_block,
    techniques_in,
)
from rondel.model.codec.craft import craft_from_parts
from rondel.model.errors import BadInput, OutsideFailure, RondelError
from rondel.model.repertoire import Craft, Technique
from rondel.rules.teachable import refusals, unsaid

REPERTOIRE, MINE = "repertoire", "mine.toml"
MINE_HEAD = "# Techniques that you added at the desk.\n"
#: The front of a file that other programs put there to say that it is UTF-8.
_MARK = codecs.BOM_UTF8


@dataclass(frozen=True, slots=True, kw_only=True)
class Taught:
    """A technique as its file has it. `digest` names its text."""

    technique: Technique
    file: str
    digest: str


class StaleTechnique(RondelError):
    """The technique was changed since it was looked at: `kept` is how it is now. Nothing was done.

    `kept` is None where it was taken out meanwhile.
    """

    exit_code = 1

    def __init__(self, kept: Taught | None) -> None:
        super().__init__("this technique was changed in another window since you looked at it")
        self.kept = kept


class Repertoire:
    """The techniques of the folder `studio`."""

    def __init__(self, studio: Path) -> None:
        self.studio = studio
        self.folder = studio / REPERTOIRE

    def taught(self, id: str) -> Taught:
        """Return a technique with its file; BadInput where there is none, or a file is broken."""
        found = self._find(id)
        if found is None:
            raise BadInput("there is no such technique in this studio", at=id[:60])
        path, _, block = found
        return Taught(technique=block.technique, file=path.name, digest=block.digest)

    def add(self, technique: Technique) -> Taught:
        """Keep a new technique. BadInput where its id is taken or it may not be taught."""
        with alone_in(self.studio):
            path = self._own() / MINE
            text = _text(path) if path.is_file() else MINE_HEAD
            gap = "" if text.endswith("\n\n") else "\n" if text.endswith("\n") else "\n\n"
            self._write(path, text + gap + new_block(technique), technique)
        return self.taught(technique.id)

    def put(self, technique: Technique, *, seen: str) -> Taught:
        """Keep a changed technique under its id; StaleTechnique where `seen` stands no more."""
        with alone_in(self.studio):
            self._own()
            path, text, block = self._fresh(technique.id, seen)
            new = changed_block(block, technique, at=path.name)
            self._write(path, text[: block.start] + new + text[block.end :], technique)
        return self.taught(technique.id)

    def remove(self, id: str, *, seen: str) -> None:
        """Take a technique out, and leave the comments around it. Stale as in `put`."""
        with alone_in(self.studio):
            self._own()
            path, text, block = self._fresh(id, seen)
            self._write(path, text[: block.start] + text[block.end :].lstrip("\r\n"))

    # ------------------------------------------------------------------ inside
    def _own(self) -> Path:
        """Return the studio's own folder; where it had none, with what it used until now."""
        if not self.folder.is_dir():
            for source in sorted((DATA / REPERTOIRE).glob("*.toml")):
                write_text(self.folder / source.name, source.read_text("utf-8"))
        return self.folder

    def _fresh(self, id: str, seen: str) -> tuple[Path, str, Block]:
        found = self._find(id)
        if found is None:
            raise StaleTechnique(None)
        path, text, block = found
        if block.digest != seen:
            kept = Taught(technique=block.technique, file=path.name, digest=block.digest)
            raise StaleTechnique(kept)
        return path, text, block

    def _find(self, id: str) -> tuple[Path, str, Block] | None:
        folder = self.folder if self.folder.is_dir() else DATA / REPERTOIRE
        for path in sorted(folder.glob("*.toml")):
            text = _text(path)
            names = [t.id for t in techniques_in(text, at=path.name)] if id in text else []
            if id in names:
                return path, text, blocks_of(text, at=path.name)[names.index(id)]
        return None

    def _write(self, path: Path, text: str, technique: Technique | None = None) -> None:
        """Write `text` after making sure that the craft is whole with it."""
        texts = {p: _text(p) for p in sorted(self.folder.glob("*.toml"))}
        texts[path] = text
        craft = _craft(texts)
        if not craft.techniques:
            raise BadInput(
                "this is the last technique of the studio; one has to stay", at=path.name
            )
        if technique is not None:
            for refused in (*unsaid(technique), *refusals(technique, craft)):
                raise BadInput(refused.says, at=refused.field)
        has_mark = path.is_file() and path.read_bytes().startswith(_MARK)
        write_bytes(path, (_MARK if has_mark else b"") + text.encode("utf-8"))


def _craft(texts: dict[Path, str]) -> Craft:
    known = builtin_craft()
    parts = (
        (path.name, technique)
        for path, text in sorted(texts.items())
        for technique in techniques_in(text, at=path.name)
    )
    return craft_from_parts(parts, known.regions, known.cautions)


def _text(path: Path) -> str:
    """Return the text with its line ends as they are; the mark at its front is left out."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInput("the file is not plain text; save it as text in UTF-8", at=path.name) from (
            error
        )
    except OSError as error:
        says = f"the file cannot be read ({error.strerror})"
        raise OutsideFailure(says, at=path.name) from error
