"""What is hers stays hers at the desk: recordings, films, briefs, wishes, sessions."""

from __future__ import annotations

import html.parser
import os
import signal
import time
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import soundfile
from starlette.datastructures import FormData
from starlette.requests import Request

from desk_client import DeskClient, demo_routine, running_desk, studio_with_demo
from rondel.adapters.brief_beside import brief_text
from rondel.adapters.routine_shelf import Shelf
from rondel.adapters.set_aside import AWAY, bring_back, delete_aside, names_aside, set_aside
from rondel.adapters.studio_files import craft_for, read_brief, write_routine
from rondel.desk.asking import Ask
from rondel.desk.briefs import asked_for, brief_of
from rondel.desk.guard import NO_TOKEN, Guard, Key
from rondel.model.brief import Brief
from rondel.model.codec.brief import brief_to_dict
from rondel.model.errors import BadInput
from rondel.model.words import Contact, Intention, Language, MusicLayer, NamesShown, Position
from short_sessions import shelved


@pytest.fixture(scope="module")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return studio_with_demo(tmp_path_factory.mktemp("hers"))


@pytest.fixture(scope="module")
def desk(studio: Path) -> Iterator[DeskClient]:
    with running_desk(studio) as client:
        yield client


def hum(path: Path) -> bytes:
    """Return a second and a half of a low hum, as a recording would be."""
    rate = 48_000
    samples = 0.2 * np.sin(2 * np.pi * 180 * np.arange(int(1.5 * rate)) / rate)
    soundfile.write(path, samples.astype(np.float32), rate)
    return path.read_bytes()


# ------------------------------------------------------------------ taken away, and back
def test_what_is_taken_away_can_be_brought_back_with_all_beside_it(tmp_path: Path) -> None:
    take, beside = tmp_path / "clip.mp4", tmp_path / "clip.mp4.corrections.toml"
    take.write_bytes(b"film")
    beside.write_text("angle = 'above'")
    other = tmp_path / "clip.mov"
    other.write_bytes(b"another film")
    set_aside(take, (beside, tmp_path / "clip.mp4.strokes.json"))
    assert names_aside(tmp_path, (".mp4",)) == ("clip.mp4",)
    assert sorted(p.name for p in tmp_path.glob("[!.]*")) == ["clip.mov"]
    bring_back(tmp_path, "clip.mp4")
    assert take.read_bytes() == b"film"
    assert beside.read_text() == "angle = 'above'"
    set_aside(take, (beside,))
    take.write_bytes(b"a newer film")
    with pytest.raises(BadInput, match="is here now"):
        bring_back(tmp_path, "clip.mp4")
    assert take.read_bytes() == b"a newer film"
    delete_aside(tmp_path, "clip.mp4")
    assert list((tmp_path / AWAY).iterdir()) == []


@pytest.mark.parametrize("name", ["", "..", "../x.mp4", "a/b.mp4", "none.mp4", "x\0.mp4"])
def test_nothing_else_is_brought_back_or_deleted(tmp_path: Path, name: str) -> None:
    (tmp_path / "x.mp4").write_bytes(b"film")
    (tmp_path / AWAY).mkdir()
    for does in (bring_back, delete_aside):
        with pytest.raises(BadInput):
            does(tmp_path, name)
    assert (tmp_path / "x.mp4").is_file()


# ------------------------------------------------------------------ recordings
def test_a_recording_is_kept_in_a_routine_that_was_begun_at_the_desk(
    desk: DeskClient, studio: Path, tmp_path: Path
) -> None:
    form = {"title": "New one", "minutes": "4", "intention": "settle", "level": "1"}
    assert desk.ask("/new", form).headers["location"] == "/r/new-one/"
    cue = Shelf(studio).open("new-one").routine.cues[0].id
    sound = hum(tmp_path / "said.wav")
    answer = desk.ask(f"/bring/new-one/voice/{cue}", body=sound)
    assert answer.status == 200, answer.text
    kept = studio / "routines" / "new-one" / "voice" / f"{cue}.wav"
    assert kept.is_file()
    assert desk.ask("/r/new-one/voice/away", {"cue": cue}).status == 303
    assert not kept.exists()
    assert "Taken away, and still here" in desk.ask("/r/new-one/voice").text
    assert desk.ask("/r/new-one/voice/back", {"name": kept.name}).status == 303
    assert kept.is_file()


def test_a_long_name_in_any_script_is_taken_in(desk: DeskClient, studio: Path) -> None:
    name = "%E5%A4%9C" * 110 + ".wav"
    answer = desk.ask(f"/bring/lamplight/track?name={name}", body=b"RIFF")
    assert answer.status == 200, answer.text
    there = list((studio / "routines" / "lamplight" / "music").glob("*.wav"))
    assert len(there) == 1
    assert len(f"{there[0].name}.corrections.toml".encode()) < 255
    there[0].unlink()


# ------------------------------------------------------------------ briefs
EVERY_WISH = Brief(
    title="Every wish",
    minutes=Fraction(31, 2),
    intention=Intention.CLOSENESS,
    level=3,
    refrains=3,
    main_regions=("shoulders",),
    avoid_regions=("feet",),
    spare=(Contact.THUMB,),
    stretch=False,
    positions=(Position.PRONE,),
    cautions=("pregnancy",),
    open_minutes=Fraction(1),
    seed=7,
    bpm=Fraction(62),
    names=NamesShown.BOTH,
    language=Language.GERMAN,
    character=Intention.SLEEP,
    without=(MusicLayer.DRUM,),
    trained=True,
)


class _Form(html.parser.HTMLParser):
    """Reads what a browser would send of the form with the id `brief`."""

    def __init__(self) -> None:
        super().__init__()
        self.sent: dict[str, list[str]] = {}
        self._inside, self._select = False, ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        name, value = found.get("name") or "", found.get("value") or ""
        if tag == "form":
            self._inside = found.get("id") == "brief"
        elif not self._inside:
            return
        elif tag == "input" and name:
            if found.get("type") not in ("checkbox", "radio") or "checked" in found:
                self.sent.setdefault(name, []).append(value)
        elif tag == "select":
            self._select = name
        elif tag == "option" and (self._select not in self.sent or "selected" in found):
            self.sent[self._select] = [value]


def test_every_wish_of_a_brief_survives_its_sentence(desk: DeskClient, studio: Path) -> None:
    """Filled in and sent as it stands, the sentence says what the brief said."""
    shelf = Shelf(studio)
    routine = replace(demo_routine(), title="Every wish", brief=EVERY_WISH)
    kept = shelf.add(routine, brief_text(EVERY_WISH), "Begun.")
    form = _Form()
    form.feed(desk.ask(f"/r/{kept.slug}/brief").text)
    sent = {k: v for k, v in form.sent.items() if k != "version"}
    pairs = [(name, value) for name, values in sent.items() for value in values]
    request = Request({"type": "http", "query_string": b"", "headers": []})
    ask = Ask(desk=None, request=request, form=FormData(pairs))  # type: ignore[arg-type]
    assert brief_to_dict(brief_of(asked_for(ask))) == brief_to_dict(EVERY_WISH)


def test_a_brief_changed_by_hand_is_told_and_can_be_taken_up(
    desk: DeskClient, studio: Path
) -> None:
    file = studio / "routines" / "lamplight" / "brief.toml"
    before = file.read_text()
    file.write_text(before.replace("minutes = 15", "minutes = 22"))
    told = desk.ask("/r/lamplight/brief").text
    assert "changed by another hand" in told
    assert 'value="15"' in told
    assert 'value="22"' in desk.ask("/r/lamplight/brief?beside=1").text
    file.write_text(before)
    assert "changed by another hand" not in desk.ask("/r/lamplight/brief").text


def test_signs_that_cannot_be_seen_stay_out_of_titles(desk: DeskClient, studio: Path) -> None:
    form = {"title": "Even\u202e\x1bing", "minutes": "4", "intention": "settle", "level": "1"}
    assert desk.ask("/new", form).headers["location"] == "/r/evening/"
    assert read_brief(studio / "routines" / "evening" / "brief.toml").title == "Evening"


def test_a_number_that_is_none_leaves_the_sentence_as_it_was(desk: DeskClient) -> None:
    form = {"title": "Kept words", "minutes": "many", "intention": "sleep", "level": "1"}
    answer = desk.ask("/new", form)
    assert answer.status == 422
    assert 'value="Kept words"' in answer.text


# ------------------------------------------------------------------ hands that are gone
def test_a_routine_with_hands_that_nobody_teaches_any_more_says_so(
    desk: DeskClient, studio: Path
) -> None:
    kept = Shelf(studio).add(replace(demo_routine(), title="Old hands"), "", "Begun.")
    first = kept.routine.passages[0].technique
    passages = tuple(
        replace(p, technique="long-forgotten" if p.technique == first else p.technique)
        for p in kept.routine.passages
    )
    write_routine(kept.folder / "routine.json", replace(kept.routine, passages=passages))
    answer = desk.ask("/r/old-hands/")
    assert answer.status == 422
    assert "long-forgotten" in answer.text
    assert "not among your hands" in answer.text


def test_an_earlier_version_can_stand_again_and_nothing_between_is_lost(
    desk: DeskClient, studio: Path
) -> None:
    shelf = Shelf(studio)
    kept = shelf.add(replace(demo_routine(), title="Once more"), "", "Begun.")
    first = kept.version
    for number in (1, 2):
        changed = replace(kept.routine, title=f"Once more {number}")
        kept = shelf.put(kept.slug, changed, f"Step {number}.", seen=kept.version)
    form = {"version": kept.version, "with": first}
    assert desk.ask("/r/once-more/again", form).status == 303
    assert desk.ask("/r/once-more/again", form).status == 409  # stale now
    now = shelf.open(kept.slug)
    assert now.routine.title == "Once more"
    assert len(now.history.steps) == 4
    assert shelf.back(kept.slug, seen=now.version).routine.title == "Once more 2"
    unknown = {"version": now.version, "with": "0" * 24}
    assert desk.ask("/r/once-more/again", unknown).status == 422


def test_what_was_learned_is_brought_into_the_routine_and_the_hands_are_told_their_load(
    desk: DeskClient, studio: Path
) -> None:
    shelf = Shelf(studio)
    kept = shelf.add(replace(demo_routine(), title="Learning"), "", "Begun.")
    text = desk.ask("/r/learning/hands").text
    assert "What this routine asks of your hands" in text
    assert "They do not say what is good or bad for you" in text
    there = {p.technique for p in kept.routine.passages}
    craft = craft_for(studio)
    for technique in craft.techniques:
        if technique.id in there or technique.level > 2:
            continue
        form = {"version": kept.version}
        answer = desk.ask(f"/r/learning/hands/t/{technique.id}/grow", form)
        assert answer.status in (303, 422)
        if answer.status == 303:
            now = shelf.open("learning")
            assert technique.id in {p.technique for p in now.routine.passages}
            assert now.history.now.moved
            break
        assert 'class="trouble"' in answer.text
    else:
        raise AssertionError("no technique could be brought in")
    assert desk.ask(f"/r/learning/hands/t/{technique.id}/grow", form).status == 409


# ------------------------------------------------------------------ sessions
def test_a_session_is_not_packed_while_it_is_made_and_a_recording_makes_it_stale(
    desk: DeskClient, studio: Path, tmp_path: Path
) -> None:
    shelved(studio, "Packed")
    assert desk.ask("/r/packed/session/make", {"how": "quick"}).status == 303
    folder = studio / "routines" / "packed" / "session-quick"
    refused = False
    end = time.monotonic() + 240
    while "Made." not in desk.ask("/r/packed/session").text:
        assert time.monotonic() < end
        answer = desk.ask("/r/packed/session.zip?which=session-quick")
        refused = refused or (answer.status == 422 and (folder / "made.json").is_file())
        time.sleep(0.3)
    assert refused
    assert not (studio / "routines" / "packed" / "session").exists()
    told = desk.ask("/r/packed/session").text
    assert "too small to publish" in told
    assert "was changed since" not in told
    packed = desk.ask("/r/packed/session.zip?which=session-quick")
    assert packed.body.startswith(b"PK")
    assert b".part-" not in packed.body
    heard = desk.ask("/r/packed/sound?from=0&seconds=1")
    assert heard.headers["x-hearing"] == "finished"
    cue = Shelf(studio).open("packed").routine.cues[0].id
    assert desk.ask(f"/bring/packed/voice/{cue}", body=hum(tmp_path / "said.wav")).status == 200
    assert "was changed since" in desk.ask("/r/packed/session").text
    assert desk.ask("/r/packed/sound?from=0&seconds=1").headers["x-hearing"] == "quick"


# ------------------------------------------------------------------ who comes in
def test_the_address_of_the_browser_that_is_started_opens_one_only(studio: Path) -> None:
    """It stands in the list of processes, which everybody on the machine can read."""
    guard = Guard(lambda *_: None, Key(token="t" * 32, port=9, once="o" * 32))  # type: ignore[arg-type]

    def enters(query: str) -> int:
        scope = {"type": "http", "path": "/", "method": "GET", "query_string": query.encode()}
        answer = guard._answer({**scope, "headers": [(b"host", b"127.0.0.1:9")]})
        return 200 if answer is None else answer.status_code

    assert enters("once=" + "x" * 32) == 403
    assert enters("once=") == 403
    assert enters("once=" + "o" * 32) == 303
    assert enters("once=" + "o" * 32) == 403
    assert enters("once=") == 403
    assert enters("token=" + "t" * 32) == 303
    assert "printed" in NO_TOKEN


@pytest.mark.parametrize("site", ["same-site", "cross-site"])
def test_pages_of_other_ports_and_places_read_nothing(desk: DeskClient, site: str) -> None:
    """Cookies know no ports (RFC 6265, 8.5); Sec-Fetch-Site tells (Fetch Metadata, W3C)."""
    told = {"Sec-Fetch-Site": site, "Sec-Fetch-Mode": "cors"}
    assert desk.ask("/r/lamplight/", headers=told).status == 403
    visit = {"Sec-Fetch-Site": site, "Sec-Fetch-Mode": "navigate"}
    assert desk.ask("/", headers=visit).status == 200
    assert desk.ask("/r/lamplight/session.zip", headers=visit).status == 403


# ------------------------------------------------------------------ a disk that gives nothing
@pytest.mark.skipif(os.geteuid() == 0, reason="everything may be written by root")
def test_a_studio_that_cannot_be_written_to_can_be_looked_at(tmp_path: Path) -> None:
    studio = studio_with_demo(tmp_path)
    folders = [p for p in studio.rglob("*") if p.is_dir()]
    for folder in folders:
        folder.chmod(0o555)
    try:
        with running_desk(studio) as desk:
            assert desk.ask("/r/lamplight/").status == 200
    finally:
        for folder in folders:
            folder.chmod(0o755)


def test_a_desk_that_is_told_to_end_ends_at_once_with_all_that_works_for_it(
    tmp_path: Path,
) -> None:
    from test_desk_life import children

    studio = studio_with_demo(tmp_path)
    shelved(studio, "Ending")
    with running_desk(studio) as desk:
        desk.ask("/r/ending/session/make", {"how": "whole"})
        picture = "Drawing"
        end = time.monotonic() + 240  # 5 s where nothing else runs
        while picture not in desk.ask("/r/ending/session/state").text:
            assert time.monotonic() < end
            time.sleep(0.3)
        below = children(desk.process.pid)
        began = time.monotonic()
        os.kill(desk.process.pid, signal.SIGTERM)
        desk.process.wait(20)
        assert time.monotonic() - began < 15  # a second or two where nothing else runs
        end = time.monotonic() + 15
        while any(Path(f"/proc/{pid}").exists() for pid in below) and time.monotonic() < end:
            time.sleep(0.1)
        assert [pid for pid in below if Path(f"/proc/{pid}").exists()] == []
