"""How a session is made, as the desk asks it: the same wishes that the command line takes."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path

import pytest

from desk_client import studio_with_demo
from desk_window import DeskWindow
from rondel.app.session_stages import VIDEOS
from rondel.desk import worker
from rondel.desk.jobs import Jobs
from rondel.desk.leaves.session import SHAPED
from rondel.desk.making import MAKING, NUMBERS, YES_OR_NO, Making, kept_in, made_of
from rondel.desk.making_cost import cost_of
from rondel.drawing.frames.shapes import Shape
from rondel.model.errors import BadInput
from rondel.music.loudness_targets import TARGETS

LEAF, MAKE = "/r/lamplight/session", "/r/lamplight/session/make"
WISHED = {
    "making": "yes",
    "how": "quick",
    "shape": ["wide", "tall"],
    "loudness": "speech",
    "slowest": "0,7",
    "fastest": "1.2",
    "shortest": "6",
    "yes": ["drawn", "slips"],
}


@pytest.fixture
def studio(tmp_path: Path) -> Path:
    return studio_with_demo(tmp_path)


@pytest.fixture
def desk(studio: Path) -> DeskWindow:
    return DeskWindow(studio)


@pytest.fixture
def orders(monkeypatch: pytest.MonkeyPatch) -> list[Mapping[str, object]]:
    """What is ordered, in place of being done."""
    found: list[Mapping[str, object]] = []
    monkeypatch.setattr(Jobs, "start", lambda self, name, order: found.append(order))
    return found


def test_what_the_form_wishes_is_ordered_and_kept_for_the_next_time(
    desk: DeskWindow, studio: Path, orders: list[Mapping[str, object]]
) -> None:
    assert desk.post(MAKE, WISHED).status == 303
    making = Making(
        shapes=("wide", "tall"),
        loudness="speech",
        slowest=0.7,
        fastest=1.2,
        shortest=6.0,
        yes=("drawn", "slips"),
    )
    assert kept_in(studio / "routines" / "lamplight") == making
    wished = asdict(making)
    assert orders[-1]["making"] == wished
    page = desk.get(LEAF).text
    for tick in ('value="tall" checked', 'value="drawn" checked', 'value="speech" selected'):
        assert tick in page
    assert 'value="square" checked' not in page
    # A button elsewhere, which sends no wishes along, makes it as it was wished before.
    assert desk.post(MAKE, {"how": "whole"}).status == 303
    assert orders[-1]["making"] == wished


@pytest.mark.parametrize(
    ("slip", "says"),
    [
        ({"shape": []}, "Choose at least one shape"),
        ({"slowest": "soon"}, "“soon” is no number"),
        ({"slowest": "1.5"}, "The slowest speed lies between 0.1 and 1"),
        ({"fastest": "nan"}, "is no number"),
        ({"fastest": "inf"}, "the fastest between 1 and 4"),
        ({"slowest": "1", "fastest": "1"}, "they cannot be the same"),
        ({"shortest": "61"}, "0 to 60 seconds"),
        ({"loudness": "very"}, "is not a loudness known here"),
    ],
)
def test_a_slip_is_told_and_nothing_is_made_or_kept(
    desk: DeskWindow,
    studio: Path,
    orders: list[Mapping[str, object]],
    slip: dict[str, str | list[str]],
    says: str,
) -> None:
    answer = desk.post(MAKE, {**WISHED, **slip})
    assert answer.status == 422
    assert says in answer.text
    assert orders == []
    assert not (studio / "routines" / "lamplight" / MAKING).exists()


def test_what_she_typed_stays_with_the_sentence_beside_its_field(
    desk: DeskWindow, orders: list[Mapping[str, object]]
) -> None:
    """Each field points to its own sentence, and to no other (WCAG 2.2, 3.3.1 and 1.3.1)."""
    assert desk.post(MAKE, WISHED).status == 303
    slip = {"slowest": "soon", "fastest": "9", "shortest": "12", "shape": "square", "yes": "fills"}
    page = desk.post(MAKE, {**WISHED, **slip, "loudness": "broadcast"}).text
    fields = {n: re.search(rf'<input[^>]*name="{n}"[^>]*>', page) for n in NUMBERS}
    tags = {name: found[0] if found else "" for name, found in fields.items()}
    for name, word in (("slowest", "soon"), ("fastest", "9"), ("shortest", "12")):
        assert f'value="{word}"' in tags[name]
        is_wrong = name != "shortest"
        assert ('aria-invalid="true"' in tags[name]) is is_wrong
        assert (f'aria-describedby="why-{name}"' in tags[name]) is is_wrong
        assert page.count(f'id="why-{name}"') == is_wrong
    assert re.search(r'id="why-slowest">[^<]*“soon” is no number', page)
    assert re.search(r'id="why-fastest">[^<]*the fastest between 1 and 4', page)
    for there in ('value="square" checked', 'value="fills" checked', '"broadcast" selected'):
        assert there in page
    for gone in ('value="tall" checked', 'value="drawn" checked'):
        assert gone not in page
    assert '<details class="in-words" open>' in page
    again = desk.get(LEAF).text  # what was kept before is what is kept
    assert 'value="0.7"' in again
    assert "aria-invalid" not in again


@pytest.mark.parametrize("text", ["", "{", "[]", '{"shapes": 3}', '{"shapes": ["round"]}'])
def test_wishes_that_cannot_be_read_are_as_usual(tmp_path: Path, text: str) -> None:
    (tmp_path / MAKING).write_text(text, "utf-8")
    assert kept_in(tmp_path) == Making()


def test_the_worker_makes_it_so(monkeypatch: pytest.MonkeyPatch) -> None:
    import rondel.wiring

    seen: dict[str, object] = {}

    def make(source: Path, **asked: object) -> None:
        seen.update(asked)
        raise BadInput("enough is seen")

    monkeypatch.setattr(rondel.wiring, "make_from_file", make)
    wished = Making(shapes=("square",), loudness="broadcast", shortest=2.0, yes=YES_OR_NO)
    for order in ({"making": json.loads(json.dumps(asdict(wished)))}, {}):
        with pytest.raises(BadInput, match="enough"):
            worker._make({"source": "a.json", "out": "b", **order}, worker.Telling())
        film, sound = seen["film"], seen["asked"]
        assert isinstance(film, rondel.wiring.FilmAsked)
        assert isinstance(sound, rondel.wiring.SoundAsked)
        if order:
            assert film.shapes == (Shape.SQUARE,)
            assert film.fills
            assert film.is_drawn
            assert film.keeps_sound
            assert film.limits.mirrors
            assert film.limits.shows_slips
            assert film.limits.shortest_shot == 2.0
            assert (sound.loudness, sound.has_beat_marks) == ("broadcast", True)
        else:
            assert film == rondel.wiring.FilmAsked()
            assert sound == rondel.wiring.SoundAsked()


def test_all_that_there_is_can_be_wished(desk: DeskWindow) -> None:
    page = desk.get(LEAF).text
    for name in (*map(str, Shape), *TARGETS):
        assert f'value="{name}"' in page
    for name in set(YES_OR_NO) - {"marks"}:  # which is for brought tracks
        assert f'name="yes" value="{name}"' in page


# ---- what it will cost ------------------------------------------------------------------------
def kind(page: str, how: str) -> str:
    """Return the words that describe the button for one kind of making."""
    button = re.search(rf'<button [^>]*value="{how}" aria-describedby="(tells-{how})">', page)
    assert button
    told = re.findall(rf'<p class="small" id="{button[1]}">([^<]*)</p>', page)
    assert len(told) == 1
    return str(told[0])


def test_settings_stand_before_the_buttons_that_use_them(desk: DeskWindow) -> None:
    """WCAG 2.2, 1.3.2: whoever reads or tabs through comes by the settings first."""
    form = desk.get(LEAF).text.split('class="making">')[1].split("</form>")[0]
    last = max(form.index(f'name="{name}"') for name in (*NUMBERS, "shape", "loudness"))
    assert last < form.index('name="how" value="whole"') < form.index('name="how" value="quick"')


def test_each_kind_tells_how_large_and_how_long_it_will_be(desk: DeskWindow) -> None:
    page = desk.get(LEAF).text
    for how in ("whole", "quick"):
        cost = cost_of(15, quick=how == "quick")
        told = kind(page, how)
        assert f"The film is about {cost.film} MB" in told
        assert f"about {cost.rest} MB" in told
        assert f"{cost.low} to {cost.high} minutes" in told
    desk.cookie += "; rondel-language=de"
    assert "Der Film hat in jeder Form etwa" in kind(desk.get(LEAF).text, "quick")


@pytest.mark.parametrize("minutes", [3, 5, 15, 47.5, 120])
def test_the_small_one_is_smaller_and_a_longer_one_is_larger(minutes: float) -> None:
    whole, quick = (cost_of(minutes, quick=is_quick) for is_quick in (False, True))
    assert quick.film <= whole.film
    assert quick.low <= whole.low < whole.high
    assert quick.low < quick.high <= whole.high
    longer = cost_of(2 * minutes, quick=False)
    assert longer.film > whole.film
    assert longer.high > whole.high
    assert all(n >= 1 for n in (quick.film, quick.rest, quick.low))


def test_films_are_looked_for_where_they_are_made() -> None:
    others = {str(shape): name for shape, name in VIDEOS.items() if shape is not Shape.WIDE}
    assert others == SHAPED


def test_what_is_kept_is_what_was_wished() -> None:
    for name in YES_OR_NO:
        wished = Making(yes=(name,))
        assert made_of(json.loads(json.dumps(asdict(wished)))) == wished
