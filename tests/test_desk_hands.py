"""The Hands leaf: cards, teaching within the body's limits, two windows, names by audience."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from desk_window import Answer, DeskWindow
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.name_trials_files import NAMES
from rondel.adapters.routine_shelf import Shelf
from rondel.adapters.studio_files import craft_for, read_brief, start_studio
from rondel.app.make_plan import make_plan
from rondel.desk import technique_form as form
from rondel.desk.leaves.hand_names import COUNT, DUEL
from rondel.desk.technique_form import fields_of, read
from rondel.model.routine import Routine

CRAFT = builtin_craft()
ALL = CRAFT.techniques
RIVER = CRAFT.technique("slow-river")


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Routine:
    brief = start_studio(tmp_path_factory.mktemp("plan") / "studio")
    routine = make_plan(read_brief(brief), CRAFT).routine
    assert routine is not None
    return routine


@pytest.fixture
def studio(tmp_path: Path) -> Path:
    start_studio(tmp_path / "studio")
    return tmp_path / "studio"


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A studio that many made-up forms are sent to."""
    studio = tmp_path_factory.mktemp("shared") / "studio"
    start_studio(studio)
    return studio


@pytest.fixture
def desk(studio: Path) -> DeskWindow:
    return DeskWindow(studio)


def keep(desk: DeskWindow, page: Answer, changed: Mapping[str, str | list[str]]) -> Answer:
    """Send off the form on `page`, with some fields changed, to where it says."""
    action = re.search(r'action="([^"]+)" id="teach"', page.text)
    assert action
    return desk.post(action[1], {**fields(page), **changed})


def fields(page: Answer) -> dict[str, str | list[str]]:
    """Return what a browser would send of the form on `page`, read from its marks alone."""
    marks = page.text[page.text.index(' id="teach"') :]
    marks = marks[: marks.index("</form>")]
    found: dict[str, str | list[str]] = {}
    for tag in re.findall(r"<input[^>]*>", marks):
        name, value = (re.search(rf'{k}="([^"]*)"', tag) for k in ("name", "value"))
        assert name
        assert value
        if 'type="checkbox"' not in tag:
            found[name[1]] = value[1]
        elif " checked" in tag:
            old = found.setdefault(name[1], [])
            assert isinstance(old, list)
            old.append(value[1])
    for name_, body in re.findall(r'<select name="(\w+)"[^>]*>(.*?)</select>', marks, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', body)
        assert chosen, name_
        found[name_] = chosen[1]
    area = re.search(r'<textarea name="how"[^>]*>(.*?)</textarea>', marks, re.DOTALL)
    assert area
    found["how"] = area[1]
    return found


NEW: dict[str, str | list[str]] = {
    "plain": "Moon Path", "anatomical": "Erector spinae, both sides", "how": "Glide up and home.",
    "say": "Up, and home.",
}  # fmt: skip


#: Every field of the form, and the two that name what is changed.
NEW_FIELDS = {*form.NEW, "id", "seen"}
HERE = "/hands/t/slow-river"


# ---- the cards --------------------------------------------------------------------------------


def test_every_technique_has_a_card_with_all_that_tells_it(desk: DeskWindow) -> None:
    page = desk.get("/hands")
    assert page.status == 200
    assert page.text.count('<li><a href="/hands/t/') == len(ALL)
    for technique in ALL:
        assert technique.plain in page.words
        assert technique.anatomical in page.words
    assert "the whole back · flat fingers" in page.words
    assert "pressure 1 to 2: as light as over sunburn, up to as if rubbing lotion in" in page.words


def test_cards_are_found_by_place_and_by_words_without_any_script(desk: DeskWindow) -> None:
    page = desk.get("/hands", {"region": "neck", "words": ""})
    assert page.text.count('<li><a href="/hands/t/') == sum(t.region == "neck" for t in ALL)
    page = desk.get("/hands", {"words": "RIVER slow"})
    assert re.findall(r'href="/hands/t/([\w-]+)"', page.text) == ["slow-river"]
    page = desk.get("/hands", {"words": "effleurage forearm", "region": ""})
    found = {t.id for t in ALL if t.family == "gliding" and "forearm" in str(t).lower()}
    assert set(re.findall(r'href="/hands/t/([\w-]+)"', page.text)) <= found
    assert "drifting-log" in page.text
    assert "No technique is told" in desk.get("/hands", {"words": "xyzzy"}).words


def test_a_card_has_its_drawing(desk: DeskWindow) -> None:
    page = desk.get("/hands", {"words": "slow river"})
    address = re.search(r'<img src="([^"]+)"', page.text)
    assert address
    picture = desk.get(address[1])
    assert picture.headers["content-type"].startswith("image/svg+xml")
    assert picture.body.startswith(b"<svg")


def test_an_open_card_has_the_moving_figure_and_all_facts(desk: DeskWindow) -> None:
    page = desk.get("/hands/t/slow-river")
    assert RIVER.how in page.words
    assert RIVER.say in page.words
    for words in ("80 cm, 10.5 to 24 seconds", "glide (effleurage)", "both sides together",
                  "face down, sitting, on their side", "where the hands turn", "-0.6",
                  "Never press on the spine itself"):  # fmt: skip
        assert words in page.words
    tracks = re.search(r'class="tracks">(.*?)</script>', page.text)
    assert tracks
    assert len(json.loads(tracks[1])) == 2
    assert desk.get("/hands/t/no-such").status == 422


def test_the_leaf_lies_in_the_book_of_a_routine(desk: DeskWindow, planned: Routine) -> None:
    kept = desk.app.state.desk.shelf.add(planned, "", "Planned.", over="lamplight")  # type: ignore[attr-defined]
    page = desk.get(f"/r/{kept.slug}/hands")
    assert 'href="/r/lamplight/hands" aria-current="page"' in page.text
    used = {p.technique for p in planned.passages if p.technique}
    assert page.words.count("in this routine") == len(used)
    page = desk.get(f"/r/{kept.slug}/hands", {"here": "yes"})
    assert set(re.findall(r'href="/r/lamplight/hands/t/([\w-]+)"', page.text)) == used
    assert desk.get(f"/r/lamplight/hands/t/{min(used)}").status == 200
    assert desk.get("/r/no-such/hands").status == 422


# ---- teaching ---------------------------------------------------------------------------------


@pytest.mark.parametrize("technique", ALL, ids=lambda t: t.id)
def test_what_the_form_says_of_a_technique_is_the_technique(technique: object) -> None:
    from rondel.model.repertoire import Technique

    assert isinstance(technique, Technique)
    assert read(fields_of(technique), technique.id, technique).technique == technique


def test_a_form_kept_as_it_was_changes_not_one_byte(desk: DeskWindow, studio: Path) -> None:
    before = {p.name: p.read_bytes() for p in (studio / "repertoire").iterdir()}
    for technique in ALL[::9]:
        page = desk.get(f"/hands/t/{technique.id}/edit")
        assert keep(desk, page, {}).status == 303
    assert {p.name: p.read_bytes() for p in (studio / "repertoire").iterdir()} == before


def test_a_technique_is_changed_in_its_file_and_keeps_its_id(
    desk: DeskWindow, studio: Path
) -> None:
    page = desk.get("/hands/t/slow-river/edit")
    sent: dict[str, str | list[str]] = {}
    sent |= {"plain": "Moon Path", "path_cm": "70,5", "position": ["prone", "side"]}
    page = desk.then(keep(desk, page, sent))
    assert "Moon Path is kept as you said it." in page.words
    now = craft_for(studio).technique("slow-river")
    assert (now.plain, float(now.path_cm), now.position) == ("Moon Path", 70.5, ("prone", "side"))
    assert now.told == RIVER.told


def test_a_new_technique_gets_its_id_from_its_name(desk: DeskWindow, studio: Path) -> None:
    page = desk.then(keep(desk, desk.get("/hands/new"), NEW))
    assert "Moon Path is among your hands now." in page.words
    (row,) = tomllib.loads((studio / "repertoire" / "mine.toml").read_text())["technique"]
    assert (row["id"], row["plain"]) == ("moon-path", "Moon Path")
    # The id stays when the name changes; the next of that name gets another.
    desk.then(keep(desk, desk.get("/hands/t/moon-path/edit"), {"plain": "Star Path"}))
    answer = keep(desk, desk.get("/hands/new"), NEW)
    assert answer.headers["location"] == "/hands/t/moon-path-2?said=added"
    assert craft_for(studio).technique("moon-path").plain == "Star Path"


@pytest.mark.parametrize(
    ("changed", "field", "says"),
    [
        ({"pressure_low": "3", "pressure_high": "3"}, "pressure", "a lay hand gives pressure 2"),
        ({"pressure_high": "4"}, "pressure", "even a trained hand gives pressure 3"),
        ({"pressure_low": "2", "pressure_high": "1"}, "pressure", "the lower first"),
        ({"path_cm": "91"}, "path_cm", "90.4 cm there and back"),
        ({"path_cm": "401"}, "path_cm", "must be from 0 to 400"),
        ({"path_cm": "long"}, "path_cm", "a number is expected"),
        ({"path_cm": "1e9999999"}, "path_cm", "a number is expected"),
        ({"family": "percussion"}, "family", "No percussion (tapotement) on the whole back"),
        ({"region": "neck", "path_cm": "5", "lateral": "yes"}, "lateral", "no two sides"),
        ({"quick": "20", "slow": "10"}, "cycle_seconds", "the faster first"),
        ({"plain": "wide wings"}, "plain", "could not tell them apart"),
        ({"say": " "}, "say", "It needs a few words"),
        ({"position": []}, "position", "at least one position"),
        ({"energy": "1.5"}, "energy", "must be from -1 to 1"),
        ({"contact": "elbow"}, "contact", "elbow"),
        ({"region": "moon"}, "region", "no such place"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field_and_nothing_is_kept(
    desk: DeskWindow, studio: Path, changed: dict[str, str], field: str, says: str
) -> None:
    before = {p.name: p.read_bytes() for p in (studio / "repertoire").iterdir()}
    page = desk.get("/hands/t/slow-river/edit")
    answer = keep(desk, page, changed)
    assert answer.status == 422
    beside = re.search(rf'id="why-{field}">(.*?)</span>', answer.text, re.DOTALL)
    assert beside
    assert says in beside[1]
    assert {p.name: p.read_bytes() for p in (studio / "repertoire").iterdir()} == before
    # The same is told while she types, before anything is sent off.
    told = desk.get("/hands/figure", {**fields(page), **changed})
    assert told.status == 200
    if field != "say":
        assert re.search(rf'data-field="{field}"[^>]*>[^<]*{re.escape(says)}', told.text)


def test_the_figure_follows_the_form(desk: DeskWindow) -> None:
    sent = fields(desk.get("/hands/new"))
    one = desk.get("/hands/figure", sent)
    assert "two palms glide along and back" in one.words
    two = desk.get("/hands/figure", sent | {"contact": "forearm", "trace": "outward"})
    assert "two forearms glide up, out and home round the edge" in two.words
    assert "It can be drawn" in desk.get("/hands/figure", sent | {"path_cm": ""}).words


def test_a_change_that_another_window_overtook_shows_both(desk: DeskWindow, studio: Path) -> None:
    here = there = desk.get("/hands/t/slow-river/edit")
    desk.then(keep(desk, there, {"level": "2"}))
    answer = keep(desk, here, {"plain": "Moon Path"})
    assert answer.status == 409
    assert "plain name Moon Path Slow River" in answer.words
    assert "level 1 2" in answer.words
    assert craft_for(studio).technique("slow-river").level == 2
    # What she typed still stands in the form, and may be kept knowingly.
    desk.then(keep(desk, answer, {}))
    now = craft_for(studio).technique("slow-river")
    assert (now.plain, now.level) == ("Moon Path", 1)


def test_a_change_to_a_technique_taken_out_meanwhile_may_be_kept_as_a_new_one(
    desk: DeskWindow, studio: Path
) -> None:
    page = desk.get("/hands/t/first-rain/edit")
    seen = desk.get("/hands/t/first-rain").value("seen")
    desk.then(desk.post("/hands/t/first-rain/remove", {"seen": seen}))
    answer = keep(desk, page, {})
    assert answer.status == 409
    assert "keep it as a new one" in answer.words
    desk.then(keep(desk, answer, {}))
    assert craft_for(studio).has_technique("first-rain")


def test_a_technique_in_use_cannot_be_taken_out_and_where_is_said(
    desk: DeskWindow, studio: Path, planned: Routine
) -> None:
    Shelf(studio).add(planned, "", "Planned.", over="lamplight")
    used = sorted({p.technique for p in planned.passages if p.technique})[0]
    page = desk.get(f"/hands/t/{used}")
    assert "Lamplight: " in page.words
    assert f'action="/hands/t/{used}/remove"' not in page.text
    answer = desk.post(f"/hands/t/{used}/remove", {"seen": ""})
    assert answer.status == 422
    assert "It is still used" in answer.words
    assert "Lamplight" in answer.words
    assert craft_for(studio).has_technique(used)
    # Put away it may come back, and needs its techniques then.
    Shelf(studio).put_away("lamplight", seen=Shelf(studio).open("lamplight").version)
    page = desk.get(f"/hands/t/{used}")
    assert "Lamplight (put away): " in page.words
    assert 'href="/#away"' in page.text
    assert 'id="away"' in desk.get("/").text
    assert f'action="/hands/t/{used}/remove"' not in page.text
    answer = desk.post(f"/hands/t/{used}/remove", {"seen": ""})
    assert answer.status == 422
    assert "Lamplight (put away)" in answer.words
    assert craft_for(studio).has_technique(used)
    free = next(t.id for t in ALL if t.id not in {p.technique for p in planned.passages})
    seen = desk.get(f"/hands/t/{free}").value("seen")
    assert desk.post(f"/hands/t/{free}/remove", {"seen": "0" * 24}).status == 409
    assert "taken out" in desk.then(desk.post(f"/hands/t/{free}/remove", {"seen": seen})).words
    assert not craft_for(studio).has_technique(free)


JUNK = st.one_of(
    st.text(max_size=12),
    st.sampled_from(
        ["", "0", "-1", "1e9", "NaN", "٣", "9" * 30, "<b>", "\x00", "../x", "yes", "5"]
    ),
)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(changed=st.dictionaries(st.sampled_from(sorted(NEW_FIELDS)), JUNK, min_size=1, max_size=4))
def test_nothing_that_comes_with_a_form_breaks_the_desk_or_a_file(
    shared: Path, changed: dict[str, str]
) -> None:
    desk, before = DeskWindow(shared), _files(shared)
    sent = {**fields(desk.get("/hands/t/slow-river/edit")), **changed}
    assert desk.get("/hands/figure", sent).status in (200, 422)
    answer = desk.post("/hands/t/slow-river/edit", sent)
    assert answer.status in (303, 409, 422), answer.words
    if answer.status != 303:
        assert _files(shared) == before
    assert len(craft_for(shared).techniques) >= len(ALL)


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(sent=st.dictionaries(st.sampled_from(sorted({*COUNT, *DUEL, "row"})), JUNK, max_size=5))
def test_nothing_that_comes_with_a_count_breaks_the_desk(
    shared: Path, sent: dict[str, str]
) -> None:
    desk = DeskWindow(shared)
    for what in ("count", "duel", "forget", "name"):
        page = desk.get(HERE)
        seen = {"names": page.value("names"), "seen": page.value("seen")}
        assert desk.post(f"{HERE}/{what}", {**sent, **seen}).status in (303, 409, 422)
    assert desk.get(HERE).status == 200


def _files(studio: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in sorted((studio / "repertoire").iterdir())}


def test_a_form_from_elsewhere_changes_nothing(desk: DeskWindow, studio: Path) -> None:
    sent = fields(desk.get("/hands/t/slow-river/edit")) | {"plain": "Taken Over"}
    answer = desk.post("/hands/t/slow-river/edit", sent, {"origin": "http://elsewhere.example"})
    assert answer.status == 403
    assert craft_for(studio).technique("slow-river") == RIVER


# ---- names by audience ------------------------------------------------------------------------


def enter(desk: DeskWindow, what: str, **sent: str) -> Answer:
    names = desk.get(HERE).value("names")
    return desk.post(f"{HERE}/{what}", {"names": names, "audience": "Tuesday couples", **sent})


def test_names_that_were_counted_are_drawn_and_told(desk: DeskWindow, studio: Path) -> None:
    desk.then(enter(desk, "count", name="Slow River", shown="10", laughed="2", remembered="3"))
    page = desk.then(enter(desk, "count", name="Honey", shown="10", remembered="9"))
    # Wilson's intervals of 9 of 10 and 3 of 10, by scipy in test_name_trials: 60 to 98, 11 to 60.
    assert (
        "Honey: 9 of 10 remembered it; likely between 60 and 98 in a hundred would." in page.words
    )
    assert "Slow River: 3 of 10 remembered it; likely between 11 and 60" in page.words
    assert "Honey is clearly better than Slow River." in page.words
    assert page.text.count('<svg xmlns="http://www.w3.org/2000/svg" class="plot"') == 2
    page = desk.then(enter(desk, "duel", one="Honey", other="Slow River", preferred="3", of="4"))
    assert "Honey or Slow River: too few to say." in page.words
    kept = json.loads((studio / NAMES).read_text())
    assert [row["name"] for row in kept["counts"]] == ["Slow River", "Honey"]


def test_audiences_are_kept_apart_and_may_be_seen_together(desk: DeskWindow) -> None:
    desk.then(enter(desk, "count", name="Honey", shown="10", remembered="9"))
    desk.then(enter(desk, "count", name="Honey", shown="8", remembered="1", audience="Our <guild>"))
    assert "9 of 10" in desk.get(HERE).words
    page = desk.get(HERE, {"audience": "Our <guild>"})
    assert "1 of 8" in page.words
    assert "<guild>" not in page.text
    page = desk.get(HERE, {"audience": "*"})
    assert "10 of 18" in page.words
    assert "Audiences differ" in page.words


@pytest.mark.parametrize(
    ("what", "sent", "says"),
    [
        (
            "count",
            {"name": "Honey", "shown": "5", "laughed": "6"},
            "laughed must be from 0 to the 5",
        ),
        ("count", {"name": "Honey", "shown": "5"}, "laughed or remembered must be counted"),
        ("count", {"name": "Honey", "shown": "", "laughed": "1"}, "of how many people"),
        ("count", {"name": "Honey", "shown": "-3", "laughed": "1"}, "whole number"),
        ("count", {"name": " ", "shown": "5", "laughed": "1"}, "name must be a word"),
        ("duel", {"one": "A", "other": "a", "preferred": "1", "of": "2"}, "another name"),
        ("duel", {"one": "A", "other": "B", "preferred": "3", "of": "2"}, "preferred must be"),
    ],
)
def test_a_count_that_cannot_be_is_refused_and_what_was_typed_stays(
    desk: DeskWindow, studio: Path, what: str, sent: dict[str, str], says: str
) -> None:
    answer = enter(desk, what, **sent)
    assert answer.status == 422
    assert says in answer.words
    if what == "count":
        assert answer.value("shown") == sent["shown"]
    assert not (studio / NAMES).exists()


def test_a_count_entered_in_two_windows_is_never_lost_or_overwritten(
    desk: DeskWindow, studio: Path
) -> None:
    seen = desk.get(HERE).value("names")
    row = {"audience": "Tuesday couples", "name": "Honey", "shown": "10", "remembered": "9"}
    desk.then(desk.post(f"{HERE}/count", {"names": seen, **row}))
    answer = desk.post(f"{HERE}/count", {"names": seen, **row, "shown": "4", "remembered": "0"})
    assert answer.status == 409
    assert "9 of 10" in answer.words
    assert answer.value("shown") == "4"
    assert len(json.loads((studio / NAMES).read_text())["counts"]) == 1


def test_an_entry_is_taken_back(desk: DeskWindow, studio: Path) -> None:
    page = desk.then(enter(desk, "count", name='Hon"ey', shown="10", remembered="9"))
    sent = {"names": page.value("names"), "row": page.value("row")}
    page = desk.then(desk.post(f"{HERE}/forget", sent))
    assert "Nothing was counted yet." in page.words
    assert desk.post(f"{HERE}/forget", {**sent, "names": page.value("names")}).status == 422
    assert desk.post(f"{HERE}/forget", {**sent, "row": "[" * 900}).status == 422


def test_one_button_makes_a_name_the_plain_name(desk: DeskWindow, studio: Path) -> None:
    page = desk.then(enter(desk, "count", name="Honey", shown="10", remembered="9"))
    assert "Call it Honey" in page.words
    sent = {"seen": page.value("seen", after=f"{HERE}/name"), "name": "Honey"}
    page = desk.then(desk.post(f"{HERE}/name", sent))
    assert "It is called Honey now." in page.words
    assert craft_for(studio).technique("slow-river").plain == "Honey"
    assert desk.post(f"{HERE}/name", {**sent, "name": "Slow River"}).status == 409
    sent["seen"] = desk.get(HERE).value("seen")
    answer = desk.post(f"{HERE}/name", {**sent, "name": "Wide Wings"})
    assert answer.status == 422
    assert "could not tell them apart" in answer.words


def test_who_comes_back_by_the_address_of_something_refused_finds_the_card(
    desk: DeskWindow,
) -> None:
    for what in ("remove", "name", "count", "duel", "forget"):
        assert desk.get(f"{HERE}/{what}").headers["location"] == HERE


def test_a_names_file_that_is_broken_is_told_in_a_sentence(desk: DeskWindow, studio: Path) -> None:
    (studio / NAMES).write_text("{")
    answer = desk.get(HERE)
    assert answer.status == 422
    assert "cannot be understood" in answer.words


# ---- fit to be seen by everyone ---------------------------------------------------------------


@pytest.mark.parametrize("path", ["/hands", HERE, f"{HERE}/edit", "/hands/new"])
def test_every_field_has_a_name_and_nothing_is_styled_or_scripted_in_the_page(
    desk: DeskWindow, path: str
) -> None:
    desk.then(enter(desk, "count", name="Honey", shown="10", remembered="9"))
    page = desk.get(path)
    assert "unsafe-inline" not in page.headers["content-security-policy"]
    assert not re.search(r'<style|\sstyle="|\son\w+="', page.text)
    assert all(
        "application/json" in s or " src=" in s for s in re.findall(r"<script[^>]*>", page.text)
    )
    ids = re.findall(r'\sid="([^"]+)"', page.text)
    assert len(ids) == len(set(ids))
    for listed in re.findall(r'aria-(?:describedby|labelledby)="([^"]+)"', page.text):
        assert set(listed.split()) <= set(ids)
    bare = re.sub(r"<label.*?</label>", "", page.text, flags=re.DOTALL)
    fields_left = re.findall(r"<(?:input|select|textarea)[^>]*>", bare)
    assert [f for f in fields_left if 'type="hidden"' not in f] == []
