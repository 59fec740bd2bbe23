"""The film of a reel, frame by frame: what its footage names, as planes of the frame."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np

from rondel.adapters.film_between import Between
from rondel.adapters.planes import Planes, mirrored
from rondel.adapters.take_pictures import TakePictures
from rondel.drawing.frames.reel import FilmedTake, Footage
from rondel.model.shots import is_made_up

#: Pictures further apart than this (seconds) were not filmed one after the other.
_FURTHEST_APART = 0.25
#: Places of one take that are read at once.
_READERS = 2


class FilmFrames:
    """Frames of `footage` as planes of (height x 3/2, width). `paper`: what stands beside film.

    `made_up` counts the pictures that were put between others.
    """

    def __init__(self, footage: Footage, frame: tuple[int, int], paper: Planes) -> None:
        self._footage, self._frame = footage, frame
        self._takes: dict[str, list[TakePictures]] = {}
        self._paper = paper
        self._between = Between(frame)
        self.made_up = 0

    def planes(self, number: int) -> Planes:
        """Return frame `number` of the reel. The array is not to be changed."""
        shown = self._footage.shown[number]
        one = self._picture(shown.take, shown.second, shown.speed)
        if shown.mix <= 0:
            return one
        other = self._picture(shown.other, shown.other_second, shown.other_speed)
        mixed = cv2.addWeighted(one, 1 - shown.mix, other, shown.mix, 0)
        return np.asarray(mixed, dtype=np.uint8)

    def close(self) -> None:
        for readers in self._takes.values():
            for reader in readers:
                reader.close()

    def _picture(self, number: int, second: float, speed: float) -> Planes:
        take = self._footage.takes[number]
        made = self._unmirrored(number, take, second, speed)
        return mirrored(made, self._frame) if take.is_mirrored else made

    def _unmirrored(self, number: int, take: FilmedTake, second: float, speed: float) -> Planes:
        pictures = self._reader(take.path, second)
        before, after = pictures.near(second)
        if before == after or second <= before:
            return pictures.planes(before)
        share = (second - before) / (after - before)
        nearer = before if share < 0.5 else after
        cut = next((cut for cut in take.cuts if before < cut <= after + 1e-6), None)
        if cut is not None:
            return pictures.planes(before if second < cut - 1e-6 else after)
        if not is_made_up(share, speed) or after - before > _FURTHEST_APART:
            return pictures.planes(nearer)
        self.made_up += 1
        one, two = pictures.planes(before), pictures.planes(after)
        return self._between.picture((number, before, after), one, two, share)

    def _reader(self, path: str, second: float) -> TakePictures:
        """Return a reader of a take that is near `second`; a dissolve may show two places."""
        readers = self._takes.setdefault(path, [])
        for reader in readers:
            if reader.is_ahead(second):
                return reader
        if len(readers) == _READERS:
            readers.append(readers.pop(0))
        else:
            fills, paper = self._footage.fills, self._paper
            readers.append(TakePictures(Path(path), self._frame, fills=fills, paper=paper))
        return readers[-1]
