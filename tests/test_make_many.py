"""`rondel make` with several sources: a session each, and one that fails stops no other."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from rondel.adapters.craft_files import DATA
from rondel.cli.main import main
from rondel.cli.make import outs_of
from rondel.model.errors import BadInput


def brief(path: Path, minutes: float = 3) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    text = (DATA / "demo" / "brief.toml").read_text("utf-8")
    lines = [
        f"minutes = {minutes}" if line.startswith("minutes") else line for line in text.split("\n")
    ]
    path.write_text("\n".join(lines).replace("open_minutes = 0.5", "open_minutes = 0.0"), "utf-8")
    return path


def test_every_source_has_a_session_of_its_own(tmp_path: Path) -> None:
    one, two = brief(tmp_path / "a" / "brief.toml"), brief(tmp_path / "b" / "brief.toml")
    also = brief(tmp_path / "b" / "dusk.toml")
    assert list(outs_of([one, two, also], None).values()) == [
        tmp_path / "a" / "session",
        tmp_path / "b" / "session",
        tmp_path / "b" / "session-dusk",
    ]
    out = tmp_path / "all"
    assert list(outs_of([one, two, also], out).values()) == [out / "a", out / "b", out / "dusk"]
    again = tmp_path / "c" / "a"
    shutil.copytree(tmp_path / "a", again)
    with pytest.raises(BadInput, match="where that of"):
        outs_of([one, again / "brief.toml"], out)
    with pytest.raises(BadInput, match="no such file"):
        outs_of([one, tmp_path / "none.toml"], None)


def test_one_that_cannot_be_made_is_told_and_the_others_are_made(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good = brief(tmp_path / "good" / "brief.toml", 6)
    odd = tmp_path / "odd" / "brief.toml"
    odd.parent.mkdir()
    odd.write_text('title = "Odd"\nminutes = "many"\n', "utf-8")
    last = brief(tmp_path / "last" / "brief.toml", 7)
    words = ["make", str(good), str(odd), str(last), "--only", "page"]
    assert main(words) == 2
    told = capsys.readouterr()
    assert "minutes" in told.err
    assert "2 of 3" in told.err
    assert "Traceback" not in told.err
    assert (good.parent / "session" / "page.pdf").exists()
    assert (last.parent / "session" / "page.pdf").exists()
    assert not (odd.parent / "session").exists()
    assert main([*words, "--json"]) == 2
    rows = json.loads(capsys.readouterr().out)
    assert [Path(row["source"]).parent.name for row in rows] == ["good", "odd", "last"]
    assert "minutes" in rows[1]["error"]
    assert all(part["fresh"] for row in (rows[0], rows[2]) for part in row["parts"])
