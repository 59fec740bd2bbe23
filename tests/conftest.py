"""What every run of the tests has: a word at its end on what could not be looked at."""

from __future__ import annotations

import os
import signal
from functools import cache
from typing import Any

import pytest

import rondel.app.make_plan
import rondel.wiring
from chromium import find_chromium
from desk_browser import AXE
from rondel.model.brief import Brief
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft

# Desks and makes are processes of their own, and there are many: none compiles Rondel anew.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# A shell that runs the tests in the background has them ignore interrupts, and all that they begin.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

_make_plan = rondel.app.make_plan.make_plan


@cache
def _planned(brief: Brief, craft: Craft) -> Outcome:
    return _make_plan(brief, craft)


@pytest.fixture
def plans_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Plan each brief once for all tests of commands that ask for this, as `make_plan` does."""

    def kept(brief: Brief, craft: Craft, **more: Any) -> Outcome:
        is_plain = all(value is None for value in more.values())
        return _planned(brief, craft) if is_plain else _make_plan(brief, craft, **more)

    monkeypatch.setattr("rondel.app.make_plan.make_plan", kept)
    monkeypatch.setattr("rondel.wiring.make_plan", kept)


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Say, where it cannot be overlooked, that nobody walked through the desk."""
    if find_chromium() is None:
        terminalreporter.section("no browser", sep="!", red=True, bold=True)
        terminalreporter.line(
            "The desk and the follow-along page were not walked through, because there is no "
            "Chromium. On Debian: apt-get install chromium (as root). On macOS: put a Chromium "
            "called chromium on the PATH. Then run bin/test again."
        )
    elif not AXE.is_file():
        terminalreporter.section("no axe-core", sep="!", red=True, bold=True)
        terminalreporter.line(
            "The desk was not looked at for barriers, because axe-core is not here. bin/axe "
            "fetches it from the npm registry or from PyPI."
        )
