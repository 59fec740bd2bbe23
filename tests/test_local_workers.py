"""Those who make sessions side by side on this machine: none harms another, and all can be stopped.

The children do odd things in place of sessions (`odd_sessions`), so that this takes seconds.
"""

from __future__ import annotations

import os
import time
from contextlib import closing
from pathlib import Path

import pytest

from odd_sessions import order
from rondel.adapters import session_child
from rondel.adapters.local_workers import LocalWorkers, cores_here, usual_at_once
from rondel.app.make_many import make_many
from rondel.app.ports.workers import Ended, Event, StageBegan

CHILD = "odd_sessions"


class Kept:
    """Keeps all that is told."""

    def __init__(self) -> None:
        self.told: list[tuple[int, Event]] = []

    def tell(self, number: int, event: Event) -> None:
        self.told.append((number, event))

    def stages(self, number: int) -> list[str]:
        return [e.stage for n, e in self.told if n == number and isinstance(e, StageBegan)]


@pytest.fixture(autouse=True)
def tests_on_path(monkeypatch: pytest.MonkeyPatch) -> None:
    here = str(Path(__file__).parent)
    known = os.environ.get("PYTHONPATH")
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([here, known] if known else [here]))


def run(orders: list[bytes], at_once: int = 2, cores: int = 2) -> tuple[tuple[Ended, ...], Kept]:
    kept = Kept()
    return make_many(orders, LocalWorkers(CHILD, at_once, cores), kept), kept


def moments(folder: Path, what: str) -> list[float]:
    return sorted(float(path.read_text()) for path in folder.glob(f"{what}-*"))


def is_alive(pid: int) -> bool:
    """True for a process that runs; one that ended and was not fetched yet is not alive."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state not in "ZX"


def begun(folder: Path) -> list[int]:
    return [int(path.name.partition("-")[2]) for path in folder.glob("began-*")]


def wait_for_beginnings(folder: Path, count: int) -> None:
    end = time.monotonic() + 60
    while len(begun(folder)) < count:
        assert time.monotonic() < end, "the children did not begin"
        time.sleep(0.05)


def test_one_that_dies_or_fails_stops_no_other(tmp_path: Path) -> None:
    kinds = ["fine", "die", "fail", "break", "leave", "fine"]
    ended, _ = run([order(tmp_path, does) for does in kinds])
    assert [one.made is not None for one in ended] == [True, False, False, False, False, True]
    assert "perhaps for want of memory" in ended[1].says
    assert ended[2].says == "brief.toml: moons: there are too many moons"
    assert "ZeroDivisionError: one by none" in ended[3].says
    assert [one.exit_code for one in ended] == [0, 3, 2, 3, 3, 0]


def test_never_more_at_once_than_asked(tmp_path: Path) -> None:
    run([order(tmp_path, "wait", 0.4) for _ in range(5)], at_once=2)
    began, over = moments(tmp_path, "began"), moments(tmp_path, "ended")
    marks = sorted([(t, 1) for t in began] + [(t, -1) for t in over])
    now = most = 0
    for _, step in marks:
        now += step
        most = max(most, now)
    assert most == 2
    for folder in (tmp_path / "one",):
        folder.mkdir()
        run([order(folder, "wait", 0.1) for _ in range(2)], at_once=1)
        assert moments(folder, "ended")[0] <= moments(folder, "began")[1]


def test_cores_are_shared_and_go_to_those_who_are_left(tmp_path: Path) -> None:
    _, kept = run([order(tmp_path, "wait", 6.0), order(tmp_path, "wait", 0.0)], cores=4)
    assert kept.stages(0) == ["cores 2", "cores 4"]  # the other is done long before
    assert kept.stages(1) == ["cores 2", "cores 2"]
    _, alone = run([order(tmp_path, "wait")], cores=4)
    assert alone.stages(0) == ["cores 4", "cores 4"]
    _, crowded = run([order(tmp_path, "wait", 0.1) for _ in range(3)], at_once=3, cores=2)
    assert {stage for n in range(3) for stage in crowded.stages(n)[:1]} == {"cores 1"}


def test_linear_algebra_has_one_thread_whoever_begins_a_child(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("OPENBLAS_NUM_THREADS", raising=False)  # as a Dask worker may be begun
    run([order(tmp_path, "tell")])
    assert (tmp_path / "threads").read_text() == "1"


def test_when_the_parent_stops_its_children_stop_and_nobody_is_left(tmp_path: Path) -> None:
    workers = LocalWorkers(CHILD, 2, 2)
    began = time.monotonic()
    with closing(workers.run([order(tmp_path, "wait", 60) for _ in range(3)])) as events:
        for _ in range(2):
            next(events)
        wait_for_beginnings(tmp_path, 2)
    assert time.monotonic() - began < 40
    assert len(list(tmp_path.glob("stopped-*"))) == 2  # each was told, and had its time to tidy up
    assert len(begun(tmp_path)) == 2  # the third never began
    assert not any(is_alive(pid) for pid in begun(tmp_path))


def test_one_that_does_not_listen_is_ended_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(session_child, "GRACE_SECONDS", 0.5)
    with closing(LocalWorkers(CHILD, 1, 1).run([order(tmp_path, "hang", 60)])) as events:
        next(events)
        wait_for_beginnings(tmp_path, 1)
        time.sleep(0.2)
    assert not any(is_alive(pid) for pid in begun(tmp_path))


def test_a_child_whose_parent_is_gone_stops(tmp_path: Path) -> None:
    if not Path("/proc/self/stat").exists():
        pytest.skip("this system does not tell of its processes in /proc")
    parent = os.fork()
    if parent == 0:  # pragma: no cover - a parent that is killed in the middle
        try:
            for _ in LocalWorkers(CHILD, 1, 1).run([order(tmp_path, "wait", 60)]):
                pass
        finally:
            os._exit(0)
    wait_for_beginnings(tmp_path, 1)
    os.kill(parent, 9)
    os.waitpid(parent, 0)
    end = time.monotonic() + 10
    while any(is_alive(pid) for pid in begun(tmp_path)):
        assert time.monotonic() < end, "the child goes on without its parent"
        time.sleep(0.05)
    assert len(list(tmp_path.glob("stopped-*"))) == 1


def test_as_many_at_once_as_cores_and_memory_allow() -> None:
    assert 1 <= usual_at_once() <= cores_here()
    assert cores_here() == len(os.sched_getaffinity(0)) or not hasattr(os, "sched_getaffinity")
