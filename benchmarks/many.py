"""How well sessions side by side use a second core: from one worker to two.

    python benchmarks/many.py [--count 4] [--minutes 6] [--whole] [--dask] [--bound]

Makes the same sessions twice, in fresh folders: one after the other by one worker with one core,
and by two workers side by side; with `--dask` the workers are Dask's, started on loopback with
distributed's own commands. Prints the seconds of both, the efficiency T1 / (2 T2), the seconds of
processor that the making took, and what else the machine was doing, as /proc/stat tells. On a
machine that others use, the clock tells little. What is left to judge by is the efficiency within
the time that others left: the processor seconds that one worker needs, over the cores' seconds
while two worked less those of others. It falls where two workers need more processor than one, and
where a core idles while there is work; how long cores idled is printed beside it, for where others
would have used every idle moment, it cannot tell more than the processor seconds do.

What encodes and what mixes are processes of their own, and Dask has its scheduler: one worker still
lends from an idle second core. With `--bound` (Linux) all that is done for one worker is held to
one core, and all for two to two: that is the efficiency of cores, and without it that of workers.

Files are compared: both ways must give the same bytes. The video is a quick one, unless `--whole`
is given.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from rondel.adapters.craft_files import DATA
from rondel.adapters.local_workers import LocalWorkers
from rondel.app.make_many import make_many
from rondel.app.ports.workers import Event, Workers
from rondel.wiring import FilmAsked, SoundAsked
from rondel.wiring_many import CHILD, orders_for

CORES = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """Seconds by the clock, of processor by the work, and of processor by others meanwhile."""

    clock: float
    work: float
    others: float
    idle: float
    largest_mb: float


class NoWatch:
    def tell(self, number: int, event: Event) -> None: ...


def sources_in(folder: Path, count: int, minutes: float) -> list[Path]:
    """Write as many briefs, each with a title of its own: the same work for all."""
    text = (DATA / "demo" / "brief.toml").read_text("utf-8")
    lines = [
        f"minutes = {minutes}" if one.startswith("minutes") else one for one in text.split("\n")
    ]
    found = []
    for number in range(count):
        path = folder / f"{number}" / "brief.toml"
        path.parent.mkdir(parents=True)
        own = "\n".join(lines).replace('"Lamplight"', f'"Lamplight {number}"')
        path.write_text(own.replace("open_minutes = 0.5", "open_minutes = 0.0"), "utf-8")
        found.append(path)
    return found


def busy() -> tuple[float, float]:
    """Return the seconds of processor that the whole machine has used, and has idled: proc(5),
    /proc/stat."""
    words = Path("/proc/stat").read_text().split("\n", 1)[0].split()[1:9]
    user, nice, system, idle, waits, irq, softirq, _steal = (int(word) for word in words)
    tick = os.sysconf("SC_CLK_TCK")
    return (user + nice + system + irq + softirq) / tick, (idle + waits) / tick


def used() -> float:
    both = (resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(r.ru_utime + r.ru_stime for r in both)


def digests(folder: Path) -> dict[str, str]:
    files = (p for p in sorted(folder.rglob("*")) if p.is_file() and p.name != "made.json")
    return {
        p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in files
        if ".session-pieces" not in p.parts
    }


@contextmanager
def dask(count: int, folder: Path) -> Iterator[Workers]:
    """Give `count` Dask workers of one thread each."""
    from distributed import Client

    from rondel.adapters.dask_workers import DaskWorkers

    known = folder / "scheduler.json"
    plain = ("--host", "127.0.0.1", "--no-dashboard")
    commands: list[tuple[str, ...]] = [
        ("scheduler", *plain, "--port", "0", "--scheduler-file", str(known))
    ]
    worker = ("worker", "--scheduler-file", str(known), *plain, "--nthreads", "1", "--no-nanny")
    commands += [worker] * count
    processes = []
    try:
        for words in commands:
            processes.append(
                subprocess.Popen(
                    [sys.executable, "-m", "dask", *words],
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                )
            )
            while not (known.exists() and known.read_text()):
                time.sleep(0.1)
        address = json.loads(known.read_text())["address"]
        with Client(address, set_as_default=False) as client:
            client.wait_for_workers(count)
        yield DaskWorkers(address, CHILD)
    finally:
        for process in reversed(processes):
            process.terminate()
        for process in processes:
            process.wait()


@contextmanager
def local(count: int, folder: Path) -> Iterator[Workers]:
    yield LocalWorkers(CHILD, count, count)


def measure(count: int, sources: list[Path], folder: Path, asked: argparse.Namespace) -> Taken:
    """Make all with `count` workers into `folder`."""
    orders = orders_for(
        {source: folder / source.parent.name / "session" for source in sources},
        only=(),
        quick=not asked.whole,
        sound=SoundAsked(),
        film=FilmAsked(),
        is_elsewhere=False,
    )
    folder.mkdir()
    if asked.bound:
        os.sched_setaffinity(0, range(count))  # whatever is begun from here on keeps to these
    work, (machine, idle) = used(), busy()
    ways = dask if asked.dask else local
    with ways(count, folder) as workers:
        began = time.perf_counter()
        ended = make_many(orders, workers, NoWatch())
        clock = time.perf_counter() - began
    for one in ended:
        if one.made is None:
            raise SystemExit(one.says)
    work = used() - work
    largest = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    machine, idle = busy()[0] - machine, busy()[1] - idle
    others = max(0.0, machine - work)
    return Taken(clock=clock, work=work, others=others, idle=idle, largest_mb=largest)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=4)
    parser.add_argument("--minutes", type=float, default=6)
    parser.add_argument("--whole", action="store_true")
    parser.add_argument("--dask", action="store_true")
    parser.add_argument("--bound", action="store_true")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        home = Path(temporary)
        sources = sources_in(home / "studio", asked.count, asked.minutes)
        one = measure(1, sources, home / "one", asked)
        two = measure(2, sources, home / "two", asked)
        first, second = digests(home / "one"), digests(home / "two")
    for name, took in (("one worker", one), ("two workers", two)):
        print(
            f"{name}: {took.clock:.1f} s, {took.work:.1f} s of processor; others took "
            f"{took.others:.1f} s meanwhile ({took.others / took.clock:.2f} cores), and cores "
            f"idled for {took.idle:.1f} s"
        )
    names = {name for name in first if "scheduler" not in name}
    same = sum(first[name] == second.get(name) for name in names)
    print(f"files that are the same byte for byte: {same} of {len(names)}")
    print(f"largest process: {two.largest_mb:.0f} MB")
    print(f"efficiency by the clock: {one.clock / (2 * two.clock):.2f}")
    left = CORES * two.clock - two.others
    print(f"efficiency within the time that others left: {one.work / left:.2f}")
    print(f"processor seconds, one worker over two: {one.work / two.work:.2f}")


if __name__ == "__main__":
    main()
