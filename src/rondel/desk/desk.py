"""What is open on the desk: the studio, its craft, its routines, and what was drawn of them."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from rondel.adapters.routine_shelf import Kept, Shelf
from rondel.adapters.studio_files import craft_for
from rondel.adapters.track_place import refuse_track_outside
from rondel.desk.aside_work import warm_hearing, warm_planner
from rondel.desk.asides import Aside
from rondel.desk.guard import Key
from rondel.desk.jobs import Jobs
from rondel.desk.readying import Readying
from rondel.model.errors import BadInput, OutsideFailure
from rondel.model.repertoire import Craft

T = TypeVar("T")

#: Planner and player are ended when they were not used for so long: they hold half a gigabyte and
#: more each, and are there again within two seconds.
REST_SECONDS = 900.0
#: So long the first leaf has one of two cores for itself, once the planner is awake, seconds.
WHILE = 1.5


#: Of what is needed of every routine at once, on the first leaf, so many are kept.
MOST_ROUTINES = 300
MANY = ("open", "little")


class Recent:
    """The last few things of each kind that were worked out, by what they were worked out from.

    A key begins with its kind.
    """

    def __init__(self, most: int) -> None:
        self._most, self._lock = most, threading.Lock()
        self._kept: dict[str, OrderedDict[Hashable, object]] = {}

    def get(self, key: tuple[Hashable, ...], make: Callable[[], T]) -> T:
        """Return what was kept under `key`, or make it now."""
        kind = str(key[0])
        with self._lock:
            shelf = self._kept.setdefault(kind, OrderedDict())
            if key in shelf:
                shelf.move_to_end(key)
                return shelf[key]  # type: ignore[return-value]
        made = make()
        with self._lock:
            shelf[key] = made
            while len(shelf) > (MOST_ROUTINES if kind in MANY else self._most):
                shelf.popitem(last=False)
        return made

    def find(self, key: tuple[Hashable, ...]) -> Any:
        """Return what is kept under `key`, or None."""
        with self._lock:
            shelf = self._kept.get(str(key[0]))
            return None if shelf is None else shelf.get(key)


@dataclass(kw_only=True)
class Desk:
    """One studio, served to one person, perhaps in several windows."""

    studio: Path
    key: Key
    shelf: Shelf = field(init=False)
    jobs: Jobs = field(default_factory=Jobs)
    recent: Recent = field(default_factory=lambda: Recent(24))
    planner: Aside = field(default_factory=Aside)
    player: Aside = field(default_factory=Aside)
    readying: Readying = field(default_factory=Readying)
    craft_trouble: str = field(default="", init=False)
    _good_craft: Craft | None = field(default=None, init=False)

    def __post_init__(self) -> None:
        self.shelf = Shelf(self.studio)

    def warm_up(self) -> None:
        """Wake planner and player, so that nobody waits for them later; let all rest that is not
        used."""
        threading.Thread(target=self._wake, daemon=True).start()
        threading.Thread(target=self._keep_house, daemon=True).start()

    def _wake(self) -> None:
        """One after the other and the second in a while: together they would take both cores from
        the first leaf."""
        with suppress(OutsideFailure):  # the desk was closed before they were awake
            self.planner.do(warm_planner)
            time.sleep(WHILE)
            self.player.do(warm_hearing)

    def _keep_house(self) -> None:
        while True:
            time.sleep(REST_SECONDS / 10)
            self.planner.rest(REST_SECONDS)
            self.player.rest(REST_SECONDS)

    def close(self) -> None:
        """End all work that is under way."""
        self.jobs.stop_all()
        self.readying.stop()
        self.planner.close()
        self.player.close()

    def craft(self) -> Craft:
        """Return the studio's craft as its files are now.

        Where they will not do, as they last did: `craft_trouble` says so. BadInput where they never
        did since the desk was opened.
        """
        key = ("craft", self.craft_stamp())
        try:
            found = self.recent.get(key, lambda: craft_for(self.studio))
        except BadInput as error:
            if self._good_craft is None:
                raise
            self.craft_trouble = str(error)
            return self._good_craft
        self._good_craft, self.craft_trouble = found, ""
        return found

    def craft_stamp(self) -> Hashable:
        """Return what changes when a file of the studio's craft does."""
        paths = [self.studio / "studio.toml", *sorted((self.studio / "repertoire").glob("*.toml"))]
        return tuple(
            (p.name, s.st_mtime_ns, s.st_size) for p in paths if p.is_file() and (s := p.stat())
        )

    def open(self, slug: str) -> Kept:
        """Return a routine as it stands; read again only where its files changed."""
        return self.recent.get(("open", slug, self._stamp(slug)), lambda: self._opened(slug))

    def _opened(self, slug: str) -> Kept:
        kept = self.shelf.open(slug)
        refuse_track_outside(kept.routine.music.path, kept.folder, self.studio)
        return kept

    def _stamp(self, slug: str) -> Hashable:
        folder = self.shelf.folder(slug)
        stamps = []
        for path in (folder / "routine.json", folder / "versions" / "history.json"):
            try:
                found = path.stat()
            except OSError:
                stamps.append((0, 0, 0))
                continue
            stamps.append((found.st_mtime_ns, found.st_size, found.st_ino))
        return tuple(stamps)
