"""Where many sessions meet those who make them; run as a program, it makes one for its parent."""

from __future__ import annotations

import pickle
import platform
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from rondel.adapters.local_workers import LocalWorkers, usual_at_once
from rondel.adapters.session_child import serve
from rondel.adapters.session_folder import program_digest
from rondel.app.make_session import Made
from rondel.app.ports.workers import Workers
from rondel.app.progress import Progress
from rondel.model.errors import BadInput
from rondel.wiring import FilmAsked, SoundAsked, make_from_file

CHILD = "rondel.wiring_many"


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """One session to be made, with all that was asked of it. `program` is the digest of the Rondel
    that asks; `is_elsewhere`: it may be made on another machine."""

    source: Path
    out: Path
    only: tuple[str, ...]
    quick: bool
    sound: SoundAsked
    film: FilmAsked
    program: str
    is_elsewhere: bool = False


def order_bytes(order: Order) -> bytes:
    """Return an order as it is handed to a worker."""
    return pickle.dumps(order)


def workers_for(at_once: int | None, address: str | None, count: int) -> tuple[Workers, str]:
    """Return those who make `count` sessions, and a sentence that says who they are.

    Raises BadInput where Dask workers at `address` cannot be had.
    """
    if address is None:
        many = min(at_once or usual_at_once(), count)
        return LocalWorkers(CHILD, many), f"{count} sessions, {many} at once"
    from rondel.adapters.dask_workers import DaskWorkers

    return DaskWorkers(address, CHILD), f"{count} sessions, over the workers at {address}"


def orders_for(
    outs: dict[Path, Path],
    *,
    only: Sequence[str],
    quick: bool,
    sound: SoundAsked,
    film: FilmAsked,
    is_elsewhere: bool,
) -> tuple[bytes, ...]:
    """Return an order for every source; all its paths are whole, for a worker may be elsewhere."""
    return tuple(
        order_bytes(
            Order(
                source=source.absolute(),
                out=out.absolute(),
                only=tuple(only),
                quick=quick,
                sound=sound,
                film=film,
                program=program_digest(),
                is_elsewhere=is_elsewhere,
            )
        )
        for source, out in outs.items()
    )


def perform(order: bytes, progress: Progress, cores: Callable[[], int]) -> Made:
    """Make the session of one order. Raises what `make_from_file` does, and BadInput where this
    is another Rondel than the one that asks, or does not see its files."""
    asked = pickle.loads(order)
    assert isinstance(asked, Order)
    here = f"the worker on {platform.node()}"
    if asked.is_elsewhere and asked.program != program_digest():
        raise BadInput(f"{here} has another Rondel than yours; install the same one there")
    if asked.is_elsewhere and not asked.source.exists():
        raise BadInput(
            f"{here} does not see this file; workers must see your studio under the same path",
            at=str(asked.source),
        )
    progress.begin("Planning", 1)
    return make_from_file(
        asked.source,
        out=asked.out,
        only=asked.only,
        quick=asked.quick,
        progress=progress,
        asked=asked.sound,
        film=asked.film,
        cores=cores,
    )


if __name__ == "__main__":
    # As a module it is another than as a program, and orders are of the module's own kind.
    from rondel.wiring_many import perform as work

    serve(work)
