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
from rondel.desk.aside_work import warm_hearing, warm_planner
from rondel.desk.asides import Aside
from rondel.desk.guard import Key
from rondel.desk.jobs import Jobs
from rondel.model.errors import BadInput, OutsideFailure
from rondel.model.repertoire import Craft

T = TypeVar("T")

#: How long the first page has the machine for itself, seconds.
MOMENT = 0.5


class Recent:
    """The last few things that were worked out, by what they were worked out from."""

    def __init__(self, most: int) -> None:
        self._most, self._lock = most, threading.Lock()
        self._kept: OrderedDict[Hashable, object] = OrderedDict()

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """Return what was kept under `key`, or make it now."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]  # type: ignore[return-value]
        made = make()
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return made

    def find(self, key: Hashable) -> Any:
        """Return what is kept under `key`, or None."""
        with self._lock:
            return self._kept.get(key)


@dataclass(kw_only=True)
class Desk:
    """One studio, served to one person, perhaps in several windows."""

    studio: Path
    key: Key
    shelf: Shelf = field(init=False)
    jobs: Jobs = field(default_factory=Jobs)
    recent: Recent = field(default_factory=lambda: Recent(48))
    planner: Aside = field(default_factory=Aside)
    player: Aside = field(default_factory=Aside)
    craft_trouble: str = field(default="", init=False)
    _good_craft: Craft | None = field(default=None, init=False)
    _is_hearing_awake: bool = field(default=False, init=False)
    _lock: threading.Lock = field(default_factory=threading.Lock, init=False)

    def __post_init__(self) -> None:
        self.shelf = Shelf(self.studio)

    def warm_up(self) -> None:
        """Wake the planner, so that nobody waits for it later."""
        _aside(self.planner, warm_planner, 0.0)

    def wake_hearing(self) -> None:
        """Wake voice and instruments a moment after a page was first asked for.

        Not as the desk opens: planner and sound together would take both cores from the first leaf.
        """
        with self._lock:
            is_awake, self._is_hearing_awake = self._is_hearing_awake, True
        if not is_awake:
            _aside(self.player, warm_hearing, MOMENT)

    def close(self) -> None:
        """End all work that is under way."""
        self.jobs.stop_all()
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
        return self.recent.get((slug, self._stamp(slug)), lambda: self.shelf.open(slug))

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


def _aside(aside: Aside, work: Callable[[], None], wait: float) -> None:
    """Have `work` done there after `wait` seconds, without waiting for it."""

    def wake() -> None:
        time.sleep(wait)
        with suppress(OutsideFailure):  # the desk was closed before it was awake
            aside.do(work)

    threading.Thread(target=wake, daemon=True).start()
