"""`python -m rondel.desk.worker`: one piece of long work in a process of its own.

Reads an order as one line of JSON, tells its progress and its result as lines of JSON.
"""

from __future__ import annotations

import json
import os
import resource
import signal
import sys
import threading
import time
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path

from rondel.model.errors import RondelError

#: Limits on a worker that opens files from outside, in bytes of address space and seconds of
#: processor time (our choice: ten times what three hours of track, or a long 4K take, need).
MOST_BYTES, MOST_SECONDS = 12 * 2**30, 3 * 3600
#: How far long work stands back behind the leaves, and behind plans and sounds that are waited for.
GIVES_WAY = 10
#: As far stand back plans that she waits for: as all plans do.
WAITED_FOR, WAITED_GIVES_WAY = ("others", "levels"), 4
OFTEN = 0.1  # seconds between two lines on the same stage


class Telling:
    """Progress as lines of JSON."""

    def __init__(self) -> None:
        self._stage, self._total, self._done, self._last = "", 1.0, 0.0, 0.0

    def begin(self, stage: str, total: float) -> None:
        self._stage, self._total, self._done, self._last = stage, max(total, 1e-9), 0.0, 0.0
        self._tell(0.0)

    def advance(self, done: float) -> None:
        self._done += done
        if time.monotonic() - self._last >= OFTEN:
            self._tell(min(1.0, self._done / self._total))

    def end(self) -> None:
        self._tell(1.0)

    def _tell(self, share: float) -> None:
        self._last = time.monotonic()
        tell({"stage": self._stage, "share": round(share, 4)})


def tell(message: Mapping[str, object]) -> None:
    """Write one line for the desk."""
    sys.stdout.write(json.dumps(message, ensure_ascii=False) + "\n")
    sys.stdout.flush()


def _make(order: Mapping[str, object], progress: Telling) -> Mapping[str, object]:
    from rondel.desk.making import Making, made_of
    from rondel.drawing.frames.shapes import Shape
    from rondel.wiring import FilmAsked, SoundAsked, make_from_file

    wished = order.get("making")
    making = made_of(wished) if isinstance(wished, dict) else Making()
    made = make_from_file(
        Path(str(order["source"])),
        out=Path(str(order["out"])),
        only=(),
        quick=bool(order.get("quick")),
        progress=progress,
        asked=SoundAsked(loudness=making.loudness, has_beat_marks="marks" in making.yes),
        film=FilmAsked(
            shapes=tuple(Shape(name) for name in making.shapes),
            limits=making.limits,
            fills="fills" in making.yes,
            is_drawn="drawn" in making.yes,
            keeps_sound="sound" in making.yes,
        ),
    )
    return {"notes": list(made.notes), "reasons": list(made.outcome.reasons)}


def _listen(order: Mapping[str, object], progress: Telling) -> Mapping[str, object]:
    from rondel.app.hear_track import Asked
    from rondel.model.codec.corrections import corrections_from_dict
    from rondel.wiring_tracks import hear_from_file

    times, forget = order.get("times"), order.get("forget")
    asked = Asked(
        more=corrections_from_dict(tomllib.loads(str(order.get("more", "")))),
        times=None if times is None else float(str(times)),
        forget=tuple(str(kind) for kind in forget) if isinstance(forget, list) else (),
    )
    hear_from_file(Path(str(order["source"])), progress=progress, asked=asked)
    return {}


def _watch(order: Mapping[str, object], progress: Telling) -> Mapping[str, object]:
    from rondel.app.watch_take import AskedOfTake
    from rondel.model.codec.take_corrections import take_corrections_from_dict
    from rondel.wiring_takes import draw_seen_to, watch_from_file

    take, forget = Path(str(order["source"])), order.get("forget")
    asked = AskedOfTake(
        more=take_corrections_from_dict(tomllib.loads(str(order.get("more", "")))),
        forget=tuple(str(kind) for kind in forget) if isinstance(forget, list) else (),
    )
    found = watch_from_file(take, progress=progress, asked=asked)
    progress.begin("Drawing what was seen", 1)
    draw_seen_to(Path(str(order["picture"])), found.seen, take)
    progress.end()
    return {}


def _speak(order: Mapping[str, object], progress: Telling) -> Mapping[str, object]:
    """Make a recording of one cue of what the microphone gave, and tell how it is."""
    from rondel.adapters.recordings import take_recording

    progress.begin("Listening to the recording", 1)
    told = take_recording(Path(str(order["source"])), Path(str(order["out"])))
    progress.end()
    return told


def _others(order: Mapping[str, object], progress: Telling) -> Mapping[str, object]:
    from rondel.desk.ways_work import plan_others

    return plan_others(order, progress)


def _levels(order: Mapping[str, object], progress: Telling) -> Mapping[str, object]:
    from rondel.desk.ways_work import plan_levels

    return plan_levels(order, progress)


WORK: dict[str, Callable[[Mapping[str, object], Telling], Mapping[str, object]]] = {
    "make": _make,
    "listen": _listen,
    "watch": _watch,
    "speak": _speak,
    "others": _others,
    "levels": _levels,
}


def _end_with_the_desk() -> None:
    """Wait until the desk is gone, and go with it. Files are whole or not there at all."""
    while sys.stdin.readline():
        pass
    os.killpg(0, signal.SIGKILL)  # with all that draw or watch for this worker; it leads its group


def _limit() -> None:
    for kind, most in ((resource.RLIMIT_AS, MOST_BYTES), (resource.RLIMIT_CPU, MOST_SECONDS)):
        try:
            resource.setrlimit(kind, (most, most))
        except (ValueError, OSError):
            continue  # this system has no such limit


def main() -> int:
    """Do what the first line orders; 0 when it is done."""
    # A desk that a script began in the background has been told to ignore interrupts, and its
    # workers with it; but that is how they are asked to stop.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    order = json.loads(sys.stdin.readline())
    threading.Thread(target=_end_with_the_desk, daemon=True).start()
    os.nice(WAITED_GIVES_WAY if order["kind"] in WAITED_FOR else GIVES_WAY)
    _limit()
    try:
        tell({"result": WORK[order["kind"]](order, Telling())})
    except RondelError as error:
        tell({"trouble": str(error)})
        return error.exit_code
    except KeyboardInterrupt:
        return 130
    except MemoryError:
        tell({"trouble": "This needs more memory than any good file does; it was left alone."})
        return 3
    except OSError as error:
        tell({"trouble": f"A file cannot be read or written ({error.strerror})."})
        return 3
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
