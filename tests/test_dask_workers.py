"""Sessions over Dask workers: a scheduler and two workers on loopback, started with Dask's own
commands."""

from __future__ import annotations

import importlib.util
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from odd_sessions import order
from rondel.adapters.session_folder import program_digest
from rondel.app.make_many import make_many
from rondel.app.ports.workers import Ended, Event, StageBegan
from rondel.cli.main import main
from rondel.model.errors import BadInput, OutsideFailure
from short_sessions import routine_file
from test_make_many import brief, digests

HAS_DASK = importlib.util.find_spec("distributed") is not None
needs_dask = pytest.mark.skipif(
    not HAS_DASK, reason="the extra `workers` (distributed) is not installed"
)
HERE = Path(__file__).parent


class Cluster:
    """A scheduler and its workers, each a process of its own."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._env = {**os.environ, "PYTHONPATH": os.pathsep.join([str(HERE), *sys.path])}
        self.processes: list[subprocess.Popen[bytes]] = []
        known = folder / "scheduler.json"
        self._start(
            "scheduler",
            *("--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--no-jupyter"),
            *("--scheduler-file", str(known)),
        )
        wait_for(known.exists)
        wait_for(lambda: bool(known.read_text()))
        self.address = str(json.loads(known.read_text())["address"])

    def add_worker(self, *words: str) -> subprocess.Popen[bytes]:
        usual = ("--nthreads", "1", "--no-dashboard", "--host", "127.0.0.1")
        return self._start("worker", self.address, *usual, *words)

    def _start(self, *words: str) -> subprocess.Popen[bytes]:
        log = (self._folder / f"{words[0]}-{len(self.processes)}.log").open("wb")
        with log:
            process = subprocess.Popen(
                [sys.executable, "-m", "dask", *words],
                stdout=log,
                stderr=log,
                env=self._env,
                cwd=self._folder,
            )
        self.processes.append(process)
        return process

    def close(self) -> None:
        for process in reversed(self.processes):
            process.terminate()
        for process in self.processes:
            try:
                process.wait(timeout=5)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def wait_for(holds: object, seconds: float = 60.0) -> None:
    assert callable(holds)
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, "it took too long"
        time.sleep(0.05)


@pytest.fixture
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    made = Cluster(tmp_path_factory.mktemp("cluster"))
    try:
        yield made
    finally:
        made.close()


class Kept:
    """Keeps all that is told."""

    def __init__(self) -> None:
        self.told: list[tuple[int, Event]] = []

    def tell(self, number: int, event: Event) -> None:
        self.told.append((number, event))


def run(cluster: Cluster, orders: list[bytes]) -> tuple[tuple[Ended, ...], Kept]:
    from rondel.adapters.dask_workers import DaskWorkers

    kept = Kept()
    return make_many(orders, DaskWorkers(cluster.address, "odd_sessions"), kept), kept


def begun(folder: Path) -> list[Path]:
    return list(folder.glob("began-*"))


@needs_dask
def test_both_workers_work_and_one_that_fails_stops_no_other(
    cluster: Cluster, tmp_path: Path
) -> None:
    cluster.add_worker("--no-nanny")
    cluster.add_worker()  # with a nanny, as usual
    wait_for(lambda: workers_of(cluster) == 2)
    kinds = ["wait", "wait", "fail", "break", "die once", "die"]
    ended, kept = run(cluster, [order(tmp_path, does, 1.5) for does in kinds])
    assert [one.made is not None for one in ended] == [True, True, False, False, True, False]
    assert ended[2].says == "brief.toml: moons: there are too many moons"
    assert "ZeroDivisionError" in ended[3].says
    assert "want of memory" in ended[5].says
    stages = [e.stage for n, e in kept.told if n == 0 and isinstance(e, StageBegan)]
    assert stages == ["cores 1", "cores 1"]
    began = sorted(float(p.read_text()) for p in begun(tmp_path))
    over = sorted(float(p.read_text()) for p in tmp_path.glob("ended-*"))
    assert began[1] < over[0]  # two at once


def workers_of(cluster: Cluster) -> int:
    from distributed import Client

    with Client(cluster.address, set_as_default=False) as client:
        return len(client.nthreads())


@needs_dask
def test_a_worker_lost_in_the_middle_loses_no_result(cluster: Cluster, tmp_path: Path) -> None:
    first = cluster.add_worker("--no-nanny")
    from rondel.adapters.dask_workers import DaskWorkers

    wait_for(lambda: workers_of(cluster) == 1)
    orders = [order(tmp_path, "wait", seconds) for seconds in (0.0, 3.0, 3.0)]
    ended: dict[int, Ended] = {}
    lost: list[Path] = []
    for number, event in DaskWorkers(cluster.address, "odd_sessions").run(orders):
        if isinstance(event, Ended):
            ended[number] = event
        if len(ended) == 1 and len(begun(tmp_path)) == 2 and not lost:
            lost = list(tmp_path.glob("ended-*"))
            cluster.add_worker("--no-nanny")
            first.send_signal(signal.SIGKILL)
    assert lost  # the first was done, the second under way
    assert len(ended) == 3
    assert all(one.made is not None for one in ended.values())
    assert len(begun(tmp_path)) == 4  # only what was under way was begun again
    wait_for(lambda: len(list(tmp_path.glob("stopped-*"))) == 1)  # and nobody goes on unseen


@needs_dask
def test_when_the_teacher_stops_the_workers_stop_too(cluster: Cluster, tmp_path: Path) -> None:
    from rondel.adapters.dask_workers import DaskWorkers

    cluster.add_worker()
    wait_for(lambda: workers_of(cluster) == 1)
    events = DaskWorkers(cluster.address, "odd_sessions").run(
        [order(tmp_path, "wait", 60) for _ in range(4)]
    )
    began = time.monotonic()
    next(events)
    events.close()
    assert time.monotonic() - began < 30
    assert len(list(tmp_path.glob("stopped-*"))) == len(begun(tmp_path)) >= 1
    time.sleep(2)
    assert len(begun(tmp_path)) < 4  # those in the queue were dropped


@needs_dask
def test_when_the_scheduler_or_all_workers_are_lost_it_ends_in_a_sentence(
    cluster: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from rondel.adapters import dask_workers

    monkeypatch.setattr(dask_workers, "PATIENCE_SECONDS", 3)
    worker = cluster.add_worker("--no-nanny")
    wait_for(lambda: workers_of(cluster) == 1)
    for lost in (worker, cluster.processes[0]):
        if lost is not worker:
            cluster.add_worker("--no-nanny")
            wait_for(lambda: workers_of(cluster) == 1)
        events = dask_workers.DaskWorkers(cluster.address, "odd_sessions").run(
            [order(tmp_path, "wait", 60)]
        )
        next(events)
        lost.kill()
        began = time.monotonic()
        says = ""
        try:
            for _, event in events:
                says = event.says if isinstance(event, Ended) else says
        except OutsideFailure as error:
            says = str(error)
        assert "what is finished is kept" in says
        assert time.monotonic() - began < 50
    wait_for(lambda: len(list(tmp_path.glob("stopped-*"))) == len(begun(tmp_path)))


@needs_dask
def test_sessions_over_workers_are_the_same_as_here(
    cluster: Cluster, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for _ in range(2):
        cluster.add_worker()
    sources = [brief(tmp_path / "a" / "brief.toml"), routine_file(tmp_path / "b" / "routine.json")]
    missing = brief(tmp_path / "c" / "brief.toml")
    wait_for(lambda: workers_of(cluster) == 2)
    for source in sources:
        words = ["make", str(source), "--out", str(source.parent / "here")]
        assert main([*words, "--only", "page,words"]) == 0
    missing.write_text('title = "Odd"\nminutes = "many"\n', "utf-8")
    words = ["make", *map(str, [*sources, missing]), "--workers", cluster.address]
    assert main([*words, "--only", "page,words", "--json"]) == 2
    rows = json.loads(capsys.readouterr().out.partition("\n[")[2].join(["[", ""]))
    assert "minutes" in rows[2]["error"]
    for source in sources:
        assert digests(source.parent / "session") == digests(source.parent / "here")
    assert main([*words, "--only", "page,words", "--json"]) == 2
    again = json.loads(capsys.readouterr().out)
    assert all(part["fresh"] for row in again[:2] for part in row["parts"])


@needs_dask
def test_without_workers_or_a_scheduler_a_sentence_says_so(
    cluster: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from rondel.adapters import dask_workers

    with pytest.raises(OutsideFailure, match="no worker has joined"):
        run(cluster, [order(tmp_path, "wait")])
    monkeypatch.setattr(dask_workers, "CONNECT_SECONDS", 1)
    gone = dask_workers.DaskWorkers("tcp://127.0.0.1:9", "odd_sessions")
    with pytest.raises(OutsideFailure, match="no scheduler answers"):
        next(gone.run([order(tmp_path, "wait")]))
    odd = dask_workers.DaskWorkers("somewhere over there", "odd_sessions")
    with pytest.raises(OutsideFailure, match="no scheduler answers"):
        next(odd.run([order(tmp_path, "wait")]))


def test_a_worker_with_another_rondel_or_without_the_files_refuses(tmp_path: Path) -> None:
    from rondel.app.progress import Silent
    from rondel.wiring import FilmAsked, SoundAsked
    from rondel.wiring_many import Order, order_bytes, perform

    def asked(program: str) -> bytes:
        return order_bytes(
            Order(
                source=tmp_path / "not-here.toml",
                out=tmp_path / "session",
                only=(),
                quick=True,
                sound=SoundAsked(),
                film=FilmAsked(),
                program=program,
                is_elsewhere=True,
            )
        )

    with pytest.raises(BadInput, match="another Rondel"):
        perform(asked("0" * 64), Silent(), lambda: 1)
    with pytest.raises(BadInput, match="under the same path"):
        perform(asked(program_digest()), Silent(), lambda: 1)


def test_without_the_extra_a_sentence_says_what_to_install(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    source = brief(tmp_path / "brief.toml")
    assert main(["make", str(source), "--workers", "tcp://127.0.0.1:8786"]) == 2
    assert "pip install -e '.[workers]'" in capsys.readouterr().err


def test_dask_is_loaded_only_where_it_is_asked_for() -> None:
    code = (
        "import sys, rondel.cli.main as m, rondel.wiring_many as w\n"
        "m.build_parser(); w.workers_for(2, None, 2)\n"
        "print([n for n in sys.modules if n.split('.')[0] in ('distributed', 'dask')])"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert said.stdout.strip() == "[]", said.stderr
