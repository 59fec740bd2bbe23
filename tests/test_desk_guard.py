"""Who may speak to the desk, and what they may reach.

The rules are those of published standards: Origin (Fetch standard), Host (RFC 9110, 7.2), SameSite
and HttpOnly (RFC 6265bis), Content Security Policy Level 3.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import pytest

from desk_client import DeskClient, running_desk, studio_with_demo


@pytest.fixture(scope="module")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return studio_with_demo(tmp_path_factory.mktemp("guard"))


@pytest.fixture(scope="module")
def desk(studio: Path) -> Iterator[DeskClient]:
    with running_desk(studio) as client:
        yield client


def test_the_address_is_of_this_machine_only_and_holds_a_long_token(desk: DeskClient) -> None:
    assert desk.address.startswith("http://127.0.0.1:")
    assert len(desk.token) >= 32  # 24 bytes: 192 bits, more than the 128 of NIST SP 800-63B


def test_only_who_knows_the_token_comes_in(desk: DeskClient) -> None:
    without = desk.ask("/", headers={"Cookie": None})
    wrong = desk.ask("/?token=wrong", headers={"Cookie": None})
    forged = desk.ask("/", headers={"Cookie": f"rondel-{desk.port}=wrong"})
    right = desk.ask(f"/?token={desk.token}", headers={"Cookie": None})
    assert [a.status for a in (without, wrong, forged, right)] == [403, 403, 403, 303]
    cookie = right.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert desk.token not in right.headers["location"]
    assert desk.ask("/").status == 200


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost.evil.example:{port}", ""]
)
def test_a_name_that_is_not_ours_gets_nothing(desk: DeskClient, host: str) -> None:
    answer = desk.ask("/", headers={"Host": host.format(port=desk.port)})
    assert answer.status in (400, 421)
    assert b"Lamplight" not in answer.body


@pytest.mark.parametrize(
    "origin",
    [None, "null", "http://evil.example", "https://127.0.0.1:{port}", "http://127.0.0.1:1"],
)
def test_nothing_is_changed_from_a_page_that_is_not_ours(
    desk: DeskClient, origin: str | None
) -> None:
    named = origin.format(port=desk.port) if origin else None
    form = {"minutes": "5", "intention": "settle", "title": "Stolen"}
    answer = desk.ask("/new", form, headers={"Origin": named})
    assert answer.status == 403
    assert b"Stolen" not in desk.ask("/").body


def test_a_page_of_another_site_is_told_from_ours_by_its_browser_too(desk: DeskClient) -> None:
    form = {"language": "de"}
    assert desk.ask("/language", form, headers={"Sec-Fetch-Site": "cross-site"}).status == 403
    assert desk.ask("/language", form, headers={"Sec-Fetch-Site": "same-origin"}).status == 303


@pytest.mark.parametrize("path", ["/", "/r/lamplight/", "/nowhere", "/static/desk.css"])
def test_every_answer_lets_nothing_in_that_is_not_ours(desk: DeskClient, path: str) -> None:
    headers = desk.ask(path).headers
    policy = dict(
        part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";")
    )
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == "'self'"
    assert policy["style-src"] == "'self'"
    assert policy["frame-ancestors"] == "'none'"
    assert policy["base-uri"] == "'none'"
    assert policy["form-action"] == "'self'"
    assert headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("leaf", ["", "brief", "music", "takes", "voice", "session", "beside"])
def test_no_leaf_has_script_or_style_of_its_own_in_it(desk: DeskClient, leaf: str) -> None:
    text = desk.ask(f"/r/lamplight/{leaf}").text
    assert " style=" not in text
    assert "<style" not in text
    assert " onclick=" not in text
    assert "javascript:" not in text
    assert "http://" not in text.replace("http://www.w3.org/", "")  # names of SVG, no addresses


@pytest.mark.parametrize(
    "path",
    [
        "/r/../../etc/passwd",
        "/r/%2e%2e/%2e%2e/etc/",
        "/r/..%2f..%2fetc/",
        "/r/lamplight/files/session/../brief.toml",
        "/r/lamplight/files/session/%2e%2e/brief.toml",
        "/r/lamplight/files/%2e%2e/brief.toml",
        "/r/lamplight/files/session/..%2f..%2f..%2fstudio.toml",
        "/r/lamplight/files/session//etc/passwd",
        "/r/lamplight/files/session/%00.mp4",
        f"/r/lamplight/files/session/{'a' * 3000}.mp4",
        f"/r/lamplight/music/file/{'a' * 3000}.wav",
        "/r/lamplight/music/file/..%2fbrief.toml",
        "/r/lamplight/takes/picture/..%2f..%2fbrief.toml",
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/fonts/..%2f..%2fdesk/app.py",
    ],
)
def test_no_path_leads_out_of_the_studio(desk: DeskClient, path: str) -> None:
    answer = desk.ask(path)
    assert answer.status in (404, 422)
    for secret in (b"root:", b"intention", b"minutes =", b"from __future__"):
        assert secret not in answer.body


def test_a_link_that_leads_out_of_the_studio_is_not_followed(
    desk: DeskClient, studio: Path, tmp_path: Path
) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "brief.toml").write_text('title = "Secret"\nminutes = 5\nintention = "settle"\n')
    link = studio / "routines" / "linked"
    link.symlink_to(outside)
    try:
        assert desk.ask("/r/linked/").status == 422
        assert b"Secret" not in desk.ask("/").body
    finally:
        link.unlink()
    inside = studio / "routines" / "lamplight" / "session"
    inside.mkdir(exist_ok=True)
    (inside / "names.json").symlink_to("/etc/hostname")
    try:
        answer = desk.ask("/r/lamplight/files/session/names.json")
        assert answer.status == 422
        assert "leads out of the studio" in answer.text
    finally:
        (inside / "names.json").unlink()


def test_a_form_that_is_far_too_large_is_refused_before_it_is_read(desk: DeskClient) -> None:
    answer = desk.ask("/new", body=b"x" * (2 * 1024 * 1024))
    assert answer.status == 413
    assert desk.ask("/").status == 200


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("evil.exe", "a film"),
        ("../../studio.toml", "a film"),
        (".mp4", "a film"),
        ("", "a film"),
    ],
)
def test_what_is_no_film_is_not_taken_in(
    desk: DeskClient, studio: Path, name: str, says: str
) -> None:
    before = sorted(p.name for p in studio.rglob("*"))
    answer = desk.ask(f"/bring/lamplight/take?name={name}", body=b"data")
    assert answer.status == 422
    assert says in answer.text
    assert sorted(p.name for p in studio.rglob("*")) == before


def test_a_film_lands_in_the_folder_of_takes_whatever_its_name_says(
    desk: DeskClient, studio: Path
) -> None:
    answer = desk.ask("/bring/lamplight/take?name=..%2f..%2fhands%20one.mp4", body=b"no film")
    assert answer.status == 200
    takes = studio / "routines" / "lamplight" / "takes"
    assert [p.name for p in takes.iterdir() if p.is_file()] == ["hands one.mp4"]
    again = desk.ask("/bring/lamplight/take?name=hands%20one.mp4", body=b"another")
    assert again.text == '{"name":"hands one-2.mp4"}'
    for path in list(takes.glob("*.mp4")):
        path.unlink()


def test_an_empty_file_leaves_nothing(desk: DeskClient, studio: Path) -> None:
    answer = desk.ask("/bring/lamplight/track?name=quiet.wav", body=b"")
    assert answer.status == 422
    assert "empty" in answer.text
    assert list((studio / "routines" / "lamplight" / "music").iterdir()) == []


def test_a_hostile_file_ends_only_its_worker(desk: DeskClient, studio: Path) -> None:
    damaged = b"\x00\x00\x00\x20ftypisom" + os.urandom(20_000)
    assert desk.ask("/bring/lamplight/take?name=hostile.mp4", body=damaged).status == 200
    desk.ask("/r/lamplight/takes/watch", {"name": "hostile.mp4"})
    end = time.monotonic() + 60
    while 'class="trouble"' not in desk.ask("/r/lamplight/takes").text:
        assert time.monotonic() < end, "nobody says what is wrong with the film"
        time.sleep(0.2)
    assert desk.process.poll() is None
    assert desk.ask("/r/lamplight/takes/away", {"name": "hostile.mp4"}).status == 303
    assert not list((studio / "routines" / "lamplight" / "takes").glob("[!.]*"))
    assert desk.ask("/r/lamplight/takes/delete", {"name": "hostile.mp4"}).status == 303
    assert not list((studio / "routines" / "lamplight" / "takes" / ".away").iterdir())


@pytest.mark.parametrize(
    "word", ["1e99999999", "9" * 5000, "1/3", "nan", "inf", "-5", "0x10", "٣", "15;", "2.9", "121"]
)
def test_a_number_that_is_none_is_told_at_once(desk: DeskClient, word: str) -> None:
    began = time.monotonic()
    answer = desk.ask(f"/estimate?minutes={quote(word)}&intention=settle&level=1")
    assert answer.status == 200
    assert '<li data-field="minutes">A routine lasts from 3 to 120 minutes' in answer.text
    assert time.monotonic() - began < 5


def test_a_word_in_a_title_is_never_read_as_markup(desk: DeskClient) -> None:
    form = {"title": "<script>alert(1)</script>", "minutes": "5", "intention": "settle"}
    answer = desk.ask("/new", {**form, "level": "1"})
    assert answer.status == 303
    for path in (answer.headers["location"], "/"):
        text = desk.ask(path).text
        assert "<script>alert" not in text
        assert "&lt;script&gt;alert" in text
