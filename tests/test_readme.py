"""What the README tells a newcomer to type can be typed, and what it points to is there."""

from __future__ import annotations

import re
import shlex
import struct
from pathlib import Path

import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.cli.change import KINDS
from rondel.cli.main import COMMANDS, build_parser

ROOT = Path(__file__).resolve().parent.parent
PAGES = ("README.md", "CONTRIBUTING.md", *(f"docs/{p.name}" for p in (ROOT / "docs").glob("*.md")))
README = (ROOT / "README.md").read_text("utf-8")


def commands() -> list[list[str]]:
    """Return every `rondel` command of the README, in blocks and in lines, as words."""
    typed = re.findall(r"^    rondel (.+)$", README, re.M)
    said = re.findall(r"`rondel ([a-z][^`]*)`", README)
    return [shlex.split(c, comments=True) for c in (*typed, *(" ".join(s.split()) for s in said))]


@pytest.mark.parametrize("words", commands(), ids=" ".join)
def test_every_command_can_be_typed(words: list[str]) -> None:
    build_parser().parse_args(words)


def test_the_commands_of_the_work_are_all_told() -> None:
    told = {words[0] for words in commands()}
    # `demo` is told as bin/demo; `schema` in docs/brief.md.
    assert told == set(COMMANDS) - {"demo", "schema"}
    assert "bin/demo" in README


def test_every_way_to_change_a_passage_is_told_and_techniques_are_real() -> None:
    part = README[README.index("### Second thoughts") : README.index("### Your rules")]
    for kind in KINDS:
        assert re.search(rf"[` ]{kind}\b", part), kind
    learned = re.findall(r"--learned ([a-z-]+)", part)
    swapped = re.findall(r"swap [\d:]+ ([a-z-]+)", part)
    assert learned
    assert swapped
    assert all(builtin_craft().has_technique(t) for t in (*learned, *swapped))


@pytest.mark.parametrize("page", PAGES)
def test_what_a_page_links_to_is_there(page: str) -> None:
    path = ROOT / page
    links = re.findall(r"\]\(([^)#\s]+)\)", path.read_text("utf-8"))
    away = [link for link in links if "://" not in link and not (path.parent / link).exists()]
    assert away == []


def test_every_picture_of_the_desk_is_shown_with_words_wide_and_narrow() -> None:
    """Sizes are read where a PNG has them (PNG, W3C, 11.2.2: IHDR)."""
    there = sorted((ROOT / "docs" / "pictures" / "desk").glob("*.png"))
    told = (ROOT / "docs" / "desk.md").read_text("utf-8")
    shown = re.findall(r"!\[[^\]]+\]\(pictures/desk/([\w-]+\.png)\)", told)
    assert sorted(shown) == [path.name for path in there]
    leaves = {name.rsplit("-", 1)[0] for name in shown}
    assert {f"{leaf}-{kind}.png" for leaf in leaves for kind in ("wide", "narrow")} == set(shown)
    for path in there:
        width, height = struct.unpack(">II", path.read_bytes()[16:24])
        assert (width, height) == ((1280, 860) if path.stem.endswith("-wide") else (390, 844))
    assert leaves >= {"rules", "others", "levels"}
