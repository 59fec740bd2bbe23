"""Files that a teacher brings: streamed to disk beside her routine, whole or not at all.

Nothing of them is opened here. What decodes them does so in a worker, so that a hostile file can
take down only that.
"""

from __future__ import annotations

import errno
import os
import re
import tempfile
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from rondel.adapters.take_place import SUFFIXES
from rondel.desk.desk import Desk
from rondel.model.errors import BadInput, RondelError

GIB = 2**30
TRACK_SUFFIXES = (
    *(".wav", ".flac", ".aiff", ".aif", ".ogg", ".oga", ".opus", ".mp3"),
    *(".m4a", ".aac", ".wma", ".caf", ".mp4"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What may be brought: to which folder of the routine, how large, and what it is called."""

    folder: str
    most_bytes: int
    suffixes: tuple[str, ...]
    says: str


KINDS = {
    "take": Kind(
        folder="takes", most_bytes=16 * GIB, suffixes=SUFFIXES, says="a film, such as .mp4 or .mov"
    ),
    "track": Kind(
        folder="music",
        most_bytes=4 * GIB,
        suffixes=TRACK_SUFFIXES,
        says="a sound file, such as .mp3, .flac or .wav",
    ),
}
#: So much must be left free on the disk after anything that is brought.
#: A file's name: of so many letters it is looked at, and kept with so many bytes. Disks take 255,
#: and `.corrections.toml`, or a number, may come behind it.
MOST_LETTERS, MOST_NAME_BYTES = 4000, 150
SPARE_BYTES = 256 * 2**20
_STRANGE = re.compile(r"[^\w .()+-]")


def safe_name(name: str, kind: Kind) -> str:
    """Return the file's own name without any folder or strange sign; BadInput for another kind.

    >>> safe_name("../../my take.MP4", KINDS["take"])
    'my take.MP4'
    """
    last = unicodedata.normalize("NFC", name[:MOST_LETTERS]).replace("\\", "/").rsplit("/", 1)[-1]
    plain = _short(_STRANGE.sub("-", last).strip(" .")).strip(" .-")
    stem, suffix = Path(plain).stem, Path(plain).suffix
    if suffix.lower() not in kind.suffixes or not stem:
        raise BadInput(f"this is not {kind.says}", at=last[:80] or "the file")
    return plain


def _short(name: str) -> str:
    """Return the end of `name`, as much as disks take with what is written beside it."""
    return name.encode("utf-8", "ignore")[-MOST_NAME_BYTES:].decode("utf-8", "ignore")


async def bring(request: Request) -> Response:
    """Take in one file from the body of the request, and say what it is called now."""
    desk: Desk = request.app.state.desk
    try:
        kind = KINDS.get(request.path_params["kind"])
        if kind is None:
            raise BadInput("this cannot be brought here", at=request.path_params["kind"][:40])
        folder = desk.shelf.folder(request.path_params["slug"]) / kind.folder
        name = safe_name(request.query_params.get("name", ""), kind)
        path = await take_in(request, folder, name, kind.most_bytes)
    except RondelError as error:
        return JSONResponse({"trouble": str(error)}, 422)
    except OSError as error:
        return JSONResponse({"trouble": not_kept(error)}, 507)
    return JSONResponse({"name": path.name})


def not_kept(error: OSError) -> str:
    """Return what became of a file that the disk did not take, in a sentence."""
    more = "; free some space and try again" if error.errno in (errno.ENOSPC, errno.EDQUOT) else ""
    return f"it could not be kept ({error.strerror}){more}"


async def take_in(request: Request, folder: Path, name: str, most: int) -> Path:
    """Stream the body of `request` into `folder`, under a name that is free. Raises BadInput where
    it is too large or empty or breaks off; nothing is left of it then."""
    folder.mkdir(parents=True, exist_ok=True)
    told = request.headers.get("content-length", "")
    _refuse_large(int(told) if told.isdecimal() else 0, most, folder, name)
    handle, part = tempfile.mkstemp(prefix=".part-", suffix=Path(name).suffix, dir=folder)
    try:
        with os.fdopen(handle, "wb") as out:
            size = 0
            async for chunk in request.stream():
                size += len(chunk)
                if size > most:
                    _refuse_large(size, most, folder, name)
                out.write(chunk)
        if size == 0:
            raise BadInput("the file is empty", at=name)
        path = _free(folder, name)
        Path(part).chmod(0o644)
        Path(part).rename(path)
        return path
    except ClientDisconnect as error:
        raise BadInput("it broke off before it was here", at=name) from error
    finally:
        Path(part).unlink(missing_ok=True)


def _refuse_large(size: int, most: int, folder: Path, name: str) -> None:
    if size > most:
        raise BadInput(f"the file is larger than {most / GIB:.2g} GB, the most taken here", at=name)
    disk = os.statvfs(folder)
    if size + SPARE_BYTES > disk.f_bavail * disk.f_frsize:
        raise BadInput("there is too little room on the disk for this file", at=name)


def _free(folder: Path, name: str) -> Path:
    stem, suffix, number = Path(name).stem, Path(name).suffix, 1
    # What was heard or seen is kept by the stem, so no two files may share one.
    taken = {p.stem.lower() for p in folder.iterdir() if not p.name.startswith(".")}
    word = stem
    while word.lower() in taken:
        number += 1
        word = f"{stem}-{number}"
    return folder / f"{word}{suffix}"


def own_file(folder: Path, name: str, suffixes: tuple[str, ...]) -> Path:
    """Return a file that lies right in `folder`; BadInput for any other."""
    path = folder / name
    is_plain = not any(c in name for c in "/\\\0") and not name.startswith(".")
    is_short = len(name.encode("utf-8", "replace")) < 256
    if (
        not (is_plain and is_short)
        or path.suffix.lower() not in suffixes
        or not path.is_file()
        or path.resolve().parent != folder.resolve()
    ):
        raise BadInput("there is no such file here", at=name[:80])
    return path


ROUTES = (Route("/bring/{slug}/{kind}", bring, methods=["POST"]),)
