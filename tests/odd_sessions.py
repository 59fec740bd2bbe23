"""A child that makes no session but does as its order says: for tests of those who look after it.

Run by `Child` as the module `odd_sessions`, with the folder of tests on PYTHONPATH.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

from rondel.adapters.session_child import serve
from rondel.app.make_session import Made
from rondel.app.progress import Progress
from rondel.model.errors import BadInput
from rondel.model.finding import Outcome


def order(folder: Path, does: str, seconds: float = 0.0) -> bytes:
    """Return an order to do something in `folder`; what is begun and ended is written there."""
    return json.dumps({"folder": str(folder), "does": does, "seconds": seconds}).encode()


def _work(asked: bytes, progress: Progress, cores: Callable[[], int]) -> Made:
    told = json.loads(asked)
    folder, does = Path(told["folder"]), told["does"]
    print("words that a library says by itself")
    try:
        (folder / f"began-{os.getpid()}").write_text(repr(time.monotonic()))
        progress.begin(f"cores {cores()}", 10)
        _do(does, told["seconds"], folder)
    except KeyboardInterrupt:
        (folder / f"stopped-{os.getpid()}").touch()
        raise
    progress.end()
    progress.begin(f"cores {cores()}", 1)
    (folder / f"ended-{os.getpid()}").write_text(repr(time.monotonic()))
    return Made(outcome=Outcome(routine=None), folder=folder)


def _do(does: str, seconds: float, folder: Path) -> None:
    if does == "die":
        os.kill(os.getpid(), signal.SIGKILL)
    elif does == "die once" and not (folder / "died").exists():
        (folder / "died").touch()
        os.kill(os.getpid(), signal.SIGKILL)
    elif does == "fail":
        raise BadInput("there are too many moons", at="brief.toml: moons")
    elif does == "break":
        raise ZeroDivisionError("one by none")
    elif does == "hang":
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    elif does == "tell":
        (folder / "threads").write_text(os.environ.get("OPENBLAS_NUM_THREADS", "not told"))
    elif does == "leave":
        sys.exit(7)
    time.sleep(seconds)


if __name__ == "__main__":
    serve(_work)
