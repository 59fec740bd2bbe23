"""Every standard and study that code or checks lean on stands in docs/sources.md."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCES = (ROOT / "docs" / "sources.md").read_text("utf-8")

#: How standards and studies are named.
NAMED = re.compile(
    r"EBU (?:R|Tech) \d+|ITU-R [A-Z]{2}\.\d+|BS\.1770|AES TD\d+|ISO(?:/IEC)? \d+(?:-\d+)?"
    r"|3GPP TS [\d.]+\d|WCAG \d\.\d|WebVTT|BBC subtitle|General MIDI|Standard MIDI File"
    r"|[A-Z][a-zö]+ et al\. \d{4}|Torcoli \d{4}|Repp \d{4}|Werner \d{4}|ANSUR II"
)


def named_in(folder: str) -> dict[str, str]:
    """Return every source named in the code of `folder`, with a file that names it."""
    found = {}
    for path in sorted((ROOT / folder).rglob("*.py")):
        if path != Path(__file__).resolve():
            for match in NAMED.finditer(path.read_text("utf-8")):
                found[match.group()] = path.name
    return found


@pytest.mark.parametrize("folder", ["src", "tests", "benchmarks"])
def test_every_source_named_in_the_code_is_listed(folder: str) -> None:
    named = named_in(folder)
    listed = " ".join(SOURCES.split())
    assert not {name: file for name, file in named.items() if name not in listed}


def test_the_code_does_name_sources() -> None:
    assert len(named_in("src")) > 10
    assert len(named_in("tests")) > 10
