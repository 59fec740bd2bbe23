"""How quick the desk is, in a real browser: `benchmarks/desk.py`.

Prints, against the goals of the desk: a page of 60 minutes shown (reference: the same bytes as a
plain file from Python's own web server), an edit of a routine of 15 minutes until it is redrawn
(reference: the plan alone, through the use case), the first sound after pressing, and the memory of
the server while a session is made. The planner's and the voice's own time is in all of these.
"""

from __future__ import annotations

import argparse
import functools
import http.server
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "tests"))

from chromium import Tab, browser_tab  # noqa: E402
from rondel.adapters.routine_shelf import Shelf  # noqa: E402
from rondel.adapters.studio_files import craft_for, demo_brief, start_studio  # noqa: E402
from rondel.app.change_plan import change_plan  # noqa: E402
from rondel.app.edit_words import edit_of  # noqa: E402
from rondel.app.make_plan import make_plan  # noqa: E402

SHOWN = """(() => {
  const [nav] = performance.getEntriesByType("navigation");
  const paint = performance.getEntriesByName("first-contentful-paint")[0];
  return [nav.loadEventEnd, paint ? paint.startTime : -1];
})()"""


@contextmanager
def desk(studio: Path) -> Iterator[tuple[str, int]]:
    """Give the address of a desk of its own, and the number of its process."""
    command = [sys.executable, "-m", "rondel.cli.main", "desk", str(studio), "--no-browser"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    try:
        yield process.stdout.readline().strip(), process.pid
    finally:
        process.terminate()
        process.wait(20)


@contextmanager
def plain(folder: Path) -> Iterator[str]:
    """Give the address of Python's own web server on `folder`."""
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), _Quiet.on(folder)) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_address[1]}"
        server.shutdown()


class _Quiet(http.server.SimpleHTTPRequestHandler):
    """Serves a folder without a word."""

    @classmethod
    def on(cls, folder: Path) -> functools.partial[_Quiet]:
        return functools.partial(cls, directory=str(folder))

    def log_message(self, *_: object) -> None:
        return


def shown_ms(tab: Tab, address: str, times: int) -> list[float]:
    """Return how long the page took to be loaded whole, in ms, `times` over."""
    found = []
    for _ in range(times):
        tab.open(address)
        tab.wait_for("performance.getEntriesByType('navigation')[0].loadEventEnd > 0")
        found.append(float(tab.run(SHOWN)[0]))
    return found


def edit_seconds(tab: Tab, base: str, count: int, *, takes_back: bool) -> list[float]:
    """Return how long edits took in the browser, from pressing until the page is redrawn.

    With `takes_back` each is of the plan as it was first made; else of what the last one left, so
    that more and more is insisted on.
    """
    tab.open(f"{base}/r/lamplight/")
    tab.run("document.getElementById('page').focus()")
    first = tab.run("document.getElementById('page').dataset.version")
    found = []
    for n in range(count):
        ids = tab.run("JSON.parse(document.getElementById('rows').textContent).map((r) => r.id)")
        wanted = ids[(5 * n + 2) % len(ids)]
        tab.run(f"document.querySelector('a[data-p=\"{wanted}\"]').click()")
        tab.wait_for(f"document.getElementById('passage').dataset.p === '{wanted}'")
        what = ("lengthen", "shorten", "side", "keep")[n % 4]
        button = f"document.querySelector('#edits [value={what}]')"
        if not tab.run(f"Boolean({button})"):
            continue
        before = tab.run("document.querySelector('.news').textContent")
        tab.run(
            f"window.was = document.getElementById('passage'); window.began = performance.now(); "
            f"window.took = null; {button}.click(); "
            "(function look() { if (document.getElementById('passage') !== window.was) "
            "requestAnimationFrame(() => { window.took = performance.now() - window.began; }); "
            "else requestAnimationFrame(look); })()"
        )
        tab.wait_for("window.took !== null", 30)
        assert before is not None
        found.append(float(tab.run("window.took")) / 1000)
        if takes_back and tab.run("document.getElementById('page').dataset.version") != first:
            tab.run("document.getElementById('back').click()")
            tab.wait_for(f"document.getElementById('page').dataset.version === {first!r}")
    return found


def plan_seconds(studio: Path, count: int) -> list[float]:
    """Return how long edits of the first plan take by themselves, without desk or browser."""
    craft = craft_for(studio)
    routine = make_plan(demo_brief(), craft).routine
    assert routine is not None
    found = []
    for n in range(count):
        line = routine.line
        passage = line[(5 * n + 2) % len(line)]
        what = ("lengthen", "shorten", "side", "keep")[n % 4]
        began = time.perf_counter()
        changed = change_plan(routine, edit_of(what, passage.id, None), craft)
        found.append(time.perf_counter() - began)
        assert changed.outcome.routine is not None or changed.outcome.reasons
    return found


def first_sounds(tab: Tab, base: str, count: int) -> list[float]:
    """Return how long the first sound took after pressing, in ms, in a routine not heard yet."""
    found = []
    for n in range(count):
        tab.open(f"{base}/r/lamplight/")
        ids = tab.run("JSON.parse(document.getElementById('rows').textContent).map((r) => r.id)")
        tab.run(f"document.querySelector('a[data-p=\"{ids[(7 * n) % len(ids)]}\"]').click()")
        tab.wait_for(
            f"document.getElementById('page').dataset.chosen === '{ids[(7 * n) % len(ids)]}'"
        )
        tab.run("document.getElementById('hear').click()")
        tab.wait_for("document.getElementById('hear').dataset.firstSound", 30)
        found.append(float(tab.run("document.getElementById('hear').dataset.firstSound")))
        tab.run("document.getElementById('hear').click()")
    return found


def most_megabytes(tab: Tab, base: str, process: int) -> tuple[float, float]:
    """Return the most memory, in MB, of the server and of it with all workers, while making."""
    tab.open(f"{base}/r/lamplight/session")
    tab.run("document.querySelector('[value=quick]').click()")
    most = [0.0, 0.0]
    end = time.monotonic() + 600
    while time.monotonic() < end:
        own = _resident(process)
        whole = own + sum(_resident(child) for child in _below(process))
        most = [max(most[0], own), max(most[1], whole)]
        is_done = tab.run("document.getElementById('state')?.dataset.running === 'no'")
        if is_done and most[1] > most[0] + 1:
            return most[0], most[1]
        time.sleep(0.2)
    raise RuntimeError("the session was not made in ten minutes")


def _resident(process: int) -> float:
    try:
        text = Path(f"/proc/{process}/status").read_text()
    except OSError:
        return 0.0
    line = next((row for row in text.splitlines() if row.startswith("VmRSS")), "VmRSS: 0 kB")
    return int(line.split()[1]) / 1024


def _below(process: int) -> list[int]:
    try:
        text = Path(f"/proc/{process}/task/{process}/children").read_text()
    except OSError:
        return []
    children = [int(word) for word in text.split()]
    for thread in Path(f"/proc/{process}/task").glob("*/children"):
        try:
            children += [int(w) for w in thread.read_text().split()]
        except OSError:
            continue
    children = list(dict.fromkeys(children))
    return children + [one for child in children for one in _below(child)]


def p95(values: list[float]) -> float:
    return sorted(values)[max(0, round(0.95 * len(values)) - 1)]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=40, help="so many edits")
    parser.add_argument("--no-making", action="store_true", help="leave out making a session")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as name, browser_tab() as tab:
        studio = Path(name) / "studio"
        start_studio(studio)
        craft, shelf = craft_for(studio), Shelf(studio)
        short = make_plan(demo_brief(), craft).routine
        long = make_plan(
            replace(demo_brief(), title="Long", minutes=Fraction(60), refrains=None, trained=True),
            craft,
        ).routine
        assert short is not None
        assert long is not None
        shelf.add(short, "", "Planned.", over="lamplight")
        shelf.add(long, "", "Planned.")
        with desk(studio) as (address, process):
            base = address.split("/?")[0]
            tab.open(address)
            first = shown_ms(tab, f"{base}/r/long/", 1)[0]
            again = shown_ms(tab, f"{base}/r/long/", 10)
            text = tab.run("document.documentElement.outerHTML")
            page = Path(name) / "plain"
            page.mkdir()
            (page / "index.html").write_text(text, "utf-8")
            with plain(page) as other:
                reference = shown_ms(tab, f"{other}/index.html", 10)
            print(
                f"page of 60 minutes: first time {first:.0f} ms, then median "
                f"{statistics.median(again):.0f} ms (goal 300); the same bytes as a plain file "
                f"{statistics.median(reference):.0f} ms; ratio "
                f"{statistics.median(again) / statistics.median(reference):.2f}"
            )
            sounds = first_sounds(tab, base, 12)
            print(
                f"first sound: first time {sounds[0]:.0f} ms, median "
                f"{statistics.median(sounds):.0f} ms, at most {max(sounds):.0f} ms (goal 1000)"
            )
            edits = edit_seconds(tab, base, arguments.count, takes_back=True)
            alone = plan_seconds(studio, arguments.count)
            print(
                f"{len(edits)} edits of a plan of 15 minutes until redrawn: median "
                f"{statistics.median(edits):.2f} s, p95 {p95(edits):.2f} s (goal 1); the change "
                f"alone, without desk: median {statistics.median(alone):.2f} s, p95 "
                f"{p95(alone):.2f} s; ratio of medians "
                f"{statistics.median(edits) / statistics.median(alone):.2f}"
            )
            chain = edit_seconds(tab, base, arguments.count, takes_back=False)
            print(
                f"{len(chain)} edits one upon the other, nothing taken back: median "
                f"{statistics.median(chain):.2f} s, p95 {p95(chain):.2f} s"
            )
            if not arguments.no_making:
                own, whole = most_megabytes(tab, base, process)
                print(
                    f"memory while making: the server {own:.0f} MB (goal 400), with its workers "
                    f"{whole:.0f} MB"
                )
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
