"""Walking through the desk in a real browser: pressing, typing, and looking for barriers."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

from chromium import Tab

ROOT = Path(__file__).resolve().parent.parent
AXE = ROOT / ".venv" / "axe-core.js"
#: The success criteria that axe-core looks at: WCAG 2.0, 2.1 and 2.2, levels A and AA.
TAGS = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
LEAVES = ("", "brief", "hands", "music", "takes", "voice", "session", "beside", "others", "levels")


def barriers(tab: Tab) -> list[str]:
    """Return what axe-core finds on the page that is shown, in words; the first place of each."""
    tab.run(AXE.read_text("utf-8") + "; true")
    found: list[dict[str, Any]] = tab.run(
        f"axe.run(document, {{runOnly: {{type: 'tag', values: {list(TAGS)!r}}}}})"
        ".then((r) => r.violations.map((v) => ({id: v.id, help: v.help, "
        "nodes: v.nodes.map((n) => n.html.slice(0, 160) + ' ' + (n.failureSummary || ''))})))"
    )
    return [f"{v['id']}: {v['help']} ({len(v['nodes'])}) {v['nodes'][0]}" for v in found]


def press(tab: Tab, selector: str) -> None:
    """Press what `selector` finds, as a pointer does: where it is, if it can be seen; a person
    waits until it moves no more."""
    tab.wait_for(f"document.querySelector({selector!r})")
    place = (
        f"(() => {{ const e = document.querySelector({selector!r}); "
        "{move} const b = e.getBoundingClientRect(); "
        "return [b.x + b.width / 2, b.y + b.height / 2]; })()"
    )
    was, here = None, tab.run(place.replace("{move}", "e.scrollIntoView({block: 'center'});"))
    end = time.monotonic() + 3
    while here != was and time.monotonic() < end:
        time.sleep(0.04)
        was, here = here, tab.run(place.replace("{move}", ""))
    x, y = here
    tab.tap(x, y)


def text_of(tab: Tab, selector: str) -> str:
    """Return the words of what `selector` finds."""
    return str(tab.run(f"document.querySelector({selector!r})?.textContent.trim() ?? ''"))


def choose(tab: Tab, selector: str, value: str) -> None:
    """Give a field a value, and tell the page so as the browser does."""
    tab.run(
        f"(() => {{ const e = document.querySelector({selector!r}); e.value = {value!r}; "
        "e.dispatchEvent(new Event('input', {bubbles: true})); "
        "e.dispatchEvent(new Event('change', {bubbles: true})); })()"
    )


def tab_to(tab: Tab, condition: str, most: int = 200) -> None:
    """Press Tab until the focus is where `condition` is true of `document.activeElement` (`e`)."""
    for _ in range(most):
        tab.press("Tab")
        if tab.run(f"((e) => Boolean({condition}))(document.activeElement)"):
            return
    raise AssertionError(f"no way there by keyboard: {condition}")
