"""What every run of the tests has: a word at its end on what could not be looked at."""

from __future__ import annotations

from typing import Any

from chromium import find_chromium
from desk_browser import AXE


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
