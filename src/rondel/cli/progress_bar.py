"""Progress that a person can watch: a bar with the time left, or on a pipe plain lines."""

from __future__ import annotations

import sys
import time
from types import TracebackType

from rich.console import Console
from rich.progress import BarColumn, TaskID, TextColumn, TimeRemainingColumn
from rich.progress import Progress as RichProgress

from rondel.app.progress import Progress


class Bars:
    """Bars on a terminal, one line a stage; on a pipe, a line when a stage is finished."""

    def __init__(self) -> None:
        self._console = Console(file=sys.stderr, highlight=False)
        self._bars = RichProgress(
            TextColumn("{task.description:<28}"),
            BarColumn(bar_width=28, style="default", complete_style="bold", finished_style="bold"),
            TextColumn("{task.percentage:>3.0f} %"),
            TimeRemainingColumn(compact=True, elapsed_when_finished=True),
            console=self._console,
        )
        self._task: TaskID | None = None
        self._stage = ""
        self._began = 0.0

    def __enter__(self) -> Progress:
        if self._console.is_terminal:
            self._bars.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._console.is_terminal:
            self._bars.stop()

    def begin(self, stage: str, total: float) -> None:
        self._stage, self._began = stage, time.monotonic()
        self._task = self._bars.add_task(stage, total=total)

    def advance(self, done: float) -> None:
        if self._task is not None:
            self._bars.advance(self._task, done)

    def end(self) -> None:
        if self._task is None:
            return
        task = self._bars.tasks[self._bars.task_ids.index(self._task)]
        self._bars.update(self._task, completed=task.total)
        if not self._console.is_terminal:
            seconds = time.monotonic() - self._began
            print(f"  {self._stage}: {seconds:.1f} s", file=sys.stderr, flush=True)
        self._task = None
