"""Many sessions over Dask workers (the optional extra `workers`): asked for with an address only.

This is the one place that talks to other machines, and only to the scheduler that the teacher
names. A worker gets the paths of a session and what was asked of it, and makes it where they lie.
"""

from __future__ import annotations

import queue
import time
import uuid
from collections.abc import Callable, Generator, Mapping, Sequence
from contextlib import closing, suppress
from multiprocessing.connection import wait
from typing import TYPE_CHECKING, Any

from rondel.adapters.session_child import DIED, GRACE_SECONDS, STOPPED, Child
from rondel.app.failed import OUTSIDE
from rondel.app.ports.workers import Ended, Event, StageAdvanced, StageBegan, StageEnded
from rondel.model.errors import BadInput, OutsideFailure

if TYPE_CHECKING:
    from distributed import Client, Future

CONNECT_SECONDS = 10
#: A worker asks so often whether it is to stop, and tells so often how far it is.
ASK_EVERY = 1.0
#: Without any worker for so long, nothing more is waited for.
PATIENCE_SECONDS = 60
#: A session whose worker failed in the middle is given to another one so many times.
RETRIES = 3

_MISSING = (
    "this needs the extra `workers`: in Rondel's folder, here and where the workers are, type "
    ".venv/bin/pip install -e '.[workers]'"
)


class DaskWorkers:
    """The port `Workers` over the scheduler at `address`; each thread of its workers makes one
    session at a time, in a child process that runs `module`."""

    def __init__(self, address: str, module: str) -> None:
        try:
            import distributed  # noqa: F401
        except ImportError as error:
            raise BadInput(_MISSING, at="--workers") from error
        self._address = address
        self._module = module

    def run(self, orders: Sequence[bytes]) -> Generator[tuple[int, Event], None, None]:
        client = _client(self._address)
        with closing(client):
            if not client.nthreads():
                says = f"no worker has joined; start one with: dask worker {self._address}"
                raise OutsideFailure(says, at=self._address)
            with closing(_Run(client, self._module)) as run:
                run.submit(orders)
                yield from run.events()


class _Run:
    """One run over the workers: what it has handed out, and what it hears of it."""

    def __init__(self, client: Client, module: str) -> None:
        from distributed import Event as Flag

        self._client, self._module = client, module
        self._name = f"rondel-{uuid.uuid4().hex}"
        self._stop = Flag(self._name, client=client)
        self._heard: queue.Queue[tuple[int, Event]] = queue.Queue()
        self._left: dict[int, Future] = {}
        client.subscribe_topic(self._name, self._hear)

    def submit(self, orders: Sequence[bytes]) -> None:
        for number, order in enumerate(orders):
            self._left[number] = self._client.submit(
                make_one,
                self._module,
                order,
                number,
                self._name,
                key=f"{self._name}-{number}",
                pure=False,
                retries=RETRIES,
            )
        for number, future in list(self._left.items()):
            future.add_done_callback(self._done(number))

    def events(self) -> Generator[tuple[int, Event], None, None]:
        silent = 0.0
        while self._left:
            try:
                number, event = self._heard.get(timeout=ASK_EVERY)
            except queue.Empty:
                silent = silent + ASK_EVERY if not self._has_workers() else 0.0
                if silent >= PATIENCE_SECONDS:
                    says = "all workers are gone; what is finished is kept: start some, and again"
                    raise OutsideFailure(says) from None
                continue
            silent = 0.0
            if number not in self._left:
                continue  # a late word of one that is over
            if isinstance(event, Ended):
                del self._left[number]
            yield number, event

    def close(self) -> None:
        """Let all that is under way stop where it is safe to, and wait for that."""
        with suppress(OSError, RuntimeError):  # the scheduler is gone: nobody can be told
            self._client.unsubscribe_topic(self._name)
            if self._left:
                self._stop_all(list(self._left.values()))

    def _stop_all(self, left: list[Future]) -> None:
        self._stop.set()
        under_way = {key for keys in self._client.processing().values() for key in keys}
        self._client.cancel([future for future in left if future.key not in under_way])
        stopping = [future for future in left if future.key in under_way]
        end = time.monotonic() + GRACE_SECONDS
        while any(future.status == "pending" for future in stopping) and time.monotonic() < end:
            time.sleep(0.1)

    def _has_workers(self) -> bool:
        with suppress(Exception):
            return bool(self._client.nthreads())
        return False

    def _hear(self, event: tuple[Any, dict[str, Any]]) -> None:
        """Take what a worker told, in the thread of the client."""
        _, told = event
        self._heard.put((int(told["number"]), _event_of(told)))

    def _done(self, number: int) -> Callable[[Future], None]:
        return lambda future: self._heard.put((number, _ended(future)))


def _client(address: str) -> Client:
    from distributed import Client

    try:
        return Client(address, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError) as error:
        says = "no scheduler answers there; an address is like tcp://127.0.0.1:8786"
        raise OutsideFailure(says, at=address) from error


def _ended(future: Future) -> Ended:
    """Return how a task ended; also where it failed too often, or Dask gave it up."""
    if future.status == "finished":
        ended = future.result()
        assert isinstance(ended, Ended)
        return ended
    says = "the workers did not finish this session"
    with suppress(Exception):
        error = future.exception(timeout=1)
        if error is not None:
            says = f"{says} ({type(error).__name__}: {error})"
    return Ended(says=f"{says}; make it again: what is finished is kept.", exit_code=OUTSIDE)


def make_one(module: str, order: bytes, number: int, name: str) -> Ended:
    """Make one session in a child of this worker; runs there, in one of its threads.

    What happens is told under the topic `name`; when the flag of that name is set, the child is
    stopped. A child's death is an error of this task, so that another worker takes it up.
    """
    from distributed import Event as Flag
    from distributed import get_worker

    worker, flag = get_worker(), Flag(name)
    if flag.is_set():
        return STOPPED
    child, asked, done = Child(module, order, 1), time.monotonic(), 0.0
    try:
        while True:
            if time.monotonic() - asked >= ASK_EVERY:
                if flag.is_set():
                    return STOPPED
                if done:
                    worker.log_event(name, {"number": number, "done": done})
                asked, done = time.monotonic(), 0.0
            if not wait([child.told], timeout=ASK_EVERY):
                continue
            event = child.next_event()
            if event == DIED:
                raise OutsideFailure(DIED.says)
            if isinstance(event, Ended):
                return event
            if isinstance(event, StageAdvanced):
                done += event.done
                continue
            done = 0.0
            worker.log_event(name, {"number": number, **_told_of(event)})
    finally:
        child.finish()


def _told_of(event: StageBegan | StageEnded) -> dict[str, object]:
    """Return an event as plain data, for what travels between machines."""
    if isinstance(event, StageBegan):
        return {"stage": event.stage, "total": event.total}
    return {}


def _event_of(told: Mapping[str, Any]) -> Event:
    """Return the event that was told."""
    if "stage" in told:
        return StageBegan(stage=str(told["stage"]), total=float(told["total"]))
    return StageAdvanced(done=float(told["done"])) if "done" in told else StageEnded()
