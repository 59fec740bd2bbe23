"""Progress of many sessions in one display: a bar for all, and a line for each under way."""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from types import TracebackType

from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, TaskID, TextColumn, TimeElapsedColumn
from rich.progress import Progress as RichProgress

from rondel.app.ports.workers import Ended, Event, StageAdvanced, StageBegan
from rondel.model.time import as_minutes

#: Said before the reason why a session was not made.
NOT_MADE = "not made. "
_NAME, _STAGE = 20, 24  # characters of a session's name, and of what is done


class ManyBars:
    """The port `Watch` on a terminal; on a pipe, a line when a session is over."""

    def __init__(self, names: Sequence[str]) -> None:
        self._names = names
        self._console = Console(file=sys.stderr, highlight=False)
        self._bars = RichProgress(
            TextColumn("{task.description}"),
            BarColumn(bar_width=18, style="default", complete_style="bold", finished_style="bold"),
            TextColumn("{task.percentage:>3.0f} %"),
            TimeElapsedColumn(),
            console=self._console,
        )
        self._whole = self._bars.add_task("", total=len(names))
        self._lines: dict[int, TaskID] = {}
        self._began: dict[int, float] = {}
        self._over = 0
        self._say_how_many()

    def __enter__(self) -> ManyBars:
        if self._console.is_terminal:
            self._bars.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        for line in self._lines.values():
            self._bars.remove_task(line)
        if self._console.is_terminal:
            self._bars.stop()

    def tell(self, number: int, event: Event) -> None:
        self._began.setdefault(number, time.monotonic())
        if isinstance(event, Ended):
            self._end(number, event)
        elif isinstance(event, StageBegan):
            says = escape(
                f"{self._names[number][-_NAME:]:<{_NAME}} {event.stage[:_STAGE]:<{_STAGE}}"
            )
            if number in self._lines:
                self._bars.remove_task(self._lines[number])
            self._lines[number] = self._bars.add_task(says, total=event.total)
        elif number in self._lines:
            if isinstance(event, StageAdvanced):
                self._bars.advance(self._lines[number], event.done)
            else:
                self._bars.remove_task(self._lines.pop(number))

    def _end(self, number: int, event: Ended) -> None:
        if number in self._lines:
            self._bars.remove_task(self._lines.pop(number))
        self._over += 1
        self._say_how_many()
        self._bars.advance(self._whole, 1)
        where = f"{self._over} of {len(self._names)}: {self._names[number]}"
        took = as_minutes(time.monotonic() - self._began[number])
        self._console.print(
            escape(f"{where}: {what_became(event) or f'made in {took}'}"), soft_wrap=True
        )

    def _say_how_many(self) -> None:
        says = f"{self._over} of {len(self._names)} sessions"
        self._bars.update(self._whole, description=f"{says:<{_NAME + _STAGE + 1}}")


def what_became(event: Ended) -> str:
    """Return why a session was not made, in a sentence; nothing where it was."""
    if event.made is None:
        return f"{NOT_MADE}{event.says}"
    return "" if event.made.outcome.routine else "there is no routine for this brief yet."
