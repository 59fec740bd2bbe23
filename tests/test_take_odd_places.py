"""Takes of odd names, on full disks, that change meanwhile or have corrections of another."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import tempfile
from itertools import islice
from pathlib import Path

import pytest

from rondel.adapters import take_files
from rondel.adapters.seen_files import FilesBesideTake, seen_path, take_corrections_path
from rondel.adapters.take_files import TakeFiles
from rondel.adapters.take_place import films_in
from rondel.adapters.take_reading import Part
from rondel.app.progress import Silent
from rondel.cli.main import main
from rondel.model.errors import BadInput
from rondel.wiring_takes import watched_takes
from take_files_made import write_take
from take_motion import Kind, make_motion
from take_scenes import TakeScene, Trouble, frames


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    scene = TakeScene(motion=make_motion(21, 5.0, (Kind.ALTERNATE,)), trouble=Trouble())
    path = tmp_path_factory.mktemp("films") / "take.mp4"
    return write_take(path, islice(frames(scene), 110)).read_bytes()


@pytest.fixture
def takes(tmp_path: Path) -> Path:
    """The folder of takes of a studio."""
    (tmp_path / "studio.toml").write_text("", "utf-8")
    folder = tmp_path / "takes"
    folder.mkdir()
    return folder


def not_utf8(folder: Path) -> Path:
    """Return a name as an old disk left it: Latin-1, which is no text here."""
    return Path(os.fsdecode(os.fsencode(folder) + b"/h\xe4nde.mp4"))


def test_names_that_nothing_can_be_kept_beside_are_told_in_a_sentence(
    takes: Path, film: bytes, capsys: pytest.CaptureFixture[str]
) -> None:
    odd, long = not_utf8(takes), takes / ("h" * 240 + ".mp4")
    try:
        odd.write_bytes(film)
    except OSError:
        pytest.skip("this disk takes no such names")
    long.write_bytes(film)
    assert main(["watch", str(odd)]) == 2
    assert "a letter that this machine cannot read; give it another" in capsys.readouterr().err
    assert main(["watch", str(long)]) == 2
    assert "too long to keep anything beside it" in capsys.readouterr().err
    assert main(["watch", str(takes)]) == 1
    said = capsys.readouterr().out
    assert said.count("It is left out: the name of the file") == 2
    notes = watched_takes({p.name: p for p in (odd, long)}, progress=Silent()).notes
    assert "The take h?nde.mp4 is left out: the name" in notes[0].encode("utf-8").decode()
    assert "too long" in notes[1]


def test_a_terminal_of_another_alphabet_is_no_reason_to_fail(
    takes: Path, film: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    take = takes / "Hände.mp4"
    take.write_bytes(film)
    held = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(held, encoding="ascii"))
    assert main(["watch", str(take)]) == 0
    assert "H?nde.mp4\n  It lasts 0:04" in held.getvalue().decode("ascii")


def test_json_holds_every_letter_whatever_the_terminal_has(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    brief = tmp_path / "brief.toml"
    brief.write_text('title = "Hände"\nminutes = 4\nintention = "settle"\n', "utf-8")
    held = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(held, encoding="ascii"))
    assert main(["plan", str(brief), "--json"]) == 0
    assert json.loads(held.getvalue())["routine"]["title"] == "Hände"


def test_what_is_watched_in_the_background_is_not_stopped_with_the_terminal(
    takes: Path, film: bytes
) -> None:
    """A shell has what a script begins in the background ignore Ctrl-C, and so do its children."""
    (takes / "one.mp4").write_bytes(film)
    script = takes / "background.py"
    goes_on = "time.sleep(0.5); print(pool.submit(pow, 2, 3).result())"
    words = STOPPED.replace("WAIT", "asked.result()").replace("time.sleep(60)", goes_on)
    script.write_text(words, "utf-8")
    done = subprocess.run(
        ["sh", "-c", f"trap '' INT; exec '{sys.executable}' '{script}'"],
        capture_output=True,
        text=True,
        start_new_session=True,
        timeout=60,
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "8\n", "")


def test_a_take_on_a_full_disk_is_watched_all_the_same(
    takes: Path, film: bytes, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    take = takes / "hands.mp4"
    take.write_bytes(film)
    seen_path(take).write_text("of earlier corrections", "utf-8")

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(tempfile, "mkstemp", full)
    assert main(["watch", str(take)]) == 0
    assert "hand after hand" in capsys.readouterr().out
    assert sorted(p.name for p in takes.iterdir()) == ["hands.mp4"]
    # What a teacher says must not be lost, and neither what she asks to be kept.
    for more in (["--side", "left"], ["--out", str(takes.parent / "out")]):
        assert main(["watch", str(take), *more]) == 3
        assert "No space left on device" in capsys.readouterr().err


def test_a_folder_that_cannot_be_kept_in_is_told_before_anything_is_watched(
    takes: Path, film: bytes, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    take = takes / "hands.mp4"
    take.write_bytes(film)

    def never(*_: object) -> None:
        raise AssertionError("watched")

    monkeypatch.setattr(TakeFiles, "watched", never)
    assert main(["watch", str(take), "--out", str(take / "out")]) == 3
    assert "cannot be written to" in capsys.readouterr().err


def test_a_file_that_is_still_being_copied_is_not_taken_for_whole(
    takes: Path, film: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    take = takes / "hands.mp4"
    take.write_bytes(film)
    together = TakeFiles._parts

    def grows(self: TakeFiles, *words: object) -> list[Part]:
        found = together(self, *words)  # type: ignore[arg-type]
        with take.open("ab") as file:
            file.write(bytes(1000))
        return found

    monkeypatch.setattr(take_files.TakeFiles, "_parts", grows)
    with pytest.raises(BadInput, match="changed while it was watched"):
        TakeFiles(jobs=1).watched(take, Silent())


def test_corrections_of_another_take_are_told_as_such(
    takes: Path, film: bytes, capsys: pytest.CaptureFixture[str]
) -> None:
    take = takes / "hands.mp4"
    take.write_bytes(film)
    text = 'slips = ["0:20-0:25"]\n'
    take_corrections_path(take).write_text(text, "utf-8")
    for more in ([], ["--technique", "rope-hands"]):
        assert main(["watch", str(take), *more]) == 2
        told = capsys.readouterr().err
        assert "hands.mp4: what is put right in it names 0:25, and it ends at 0:04.4" in told
        assert "--forget-corrections" in told
        assert take_corrections_path(take).read_text("utf-8") == text
    # What is typed now is told as before, and what is taken back is in no way.
    again = ["watch", str(take), "--forget-corrections", "--landing-at"]
    assert main([*again, "0:50"]) == 2
    assert "0:50: the take ends at 0:04.4, and 0:50 is later" in capsys.readouterr().err
    assert main([*again, "0:02"]) == 0
    assert FilesBesideTake().corrections(take).landing == 2.0


STOPPED = """
import os, signal, time
from pathlib import Path
from rondel.adapters.take_files import _children
if __name__ == "__main__":
    try:
        with _children(Path("take.mp4"), 2) as pool:
            asked = pool.submit(pow, 2, 3)
            WAIT
            os.killpg(0, signal.SIGINT)
            time.sleep(60)
    except KeyboardInterrupt:
        print("stopped")
"""


@pytest.mark.parametrize("wait", ["time.sleep(0.06)", "asked.result()"])
def test_children_that_are_stopped_by_the_terminal_go_without_a_word(
    wait: str, tmp_path: Path
) -> None:
    """Ctrl-C is sent to all processes of a command at once, also while a child is being loaded."""
    script = tmp_path / "stopped.py"
    script.write_text(STOPPED.replace("WAIT", wait), "utf-8")
    done = subprocess.run(
        [sys.executable, str(script)],
        capture_output=True,
        text=True,
        start_new_session=True,
        timeout=60,
        check=False,
    )
    assert (done.stdout, done.stderr) == ("stopped\n", "")


def test_a_command_that_is_stopped_while_it_is_loaded_says_so(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def stopped() -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("rondel.cli.main.build_parser", stopped)
    assert main(["watch", "take.mp4"]) == 130
    assert "stopped. Nothing was changed" in capsys.readouterr().err


def test_a_shot_that_is_no_number_is_told_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["fit", "routine.json", "take.mp4", "--shortest-shot", "long"])
    told = capsys.readouterr().err
    assert "long must be a number of seconds, as in 4 or 2.5" in told
    assert "float" not in told


def test_films_of_older_cameras_in_a_folder_are_not_passed_over(tmp_path: Path) -> None:
    names = ["a.MTS", "b.ts", "c.vob", "d.wmv"]
    for name in names:
        (tmp_path / name).write_bytes(b"film")
    assert [path.name for path in films_in(tmp_path)] == names
