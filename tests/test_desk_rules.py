"""The rule book at the desk: told, changed within the book's bounds, and obeyed from then on."""

from __future__ import annotations

import html
import json
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path

import pytest

from chromium import browser_tab, find_chromium
from desk_browser import AXE, barriers
from desk_client import demo_routine, running_desk
from desk_window import Answer, DeskWindow
from rondel.adapters.routine_shelf import Shelf
from rondel.adapters.studio_files import STUDIO_TOML, craft_for, settings_of, start_studio
from rondel.adapters.studio_rules import NOT_OURS, StaleRule, change_rule, digest_of
from rondel.checker.check import check
from rondel.cli.main import main
from rondel.model.errors import BadInput
from rondel.model.settings import UNCHANGED
from rondel.rules.book import RULES
from rondel.rules.changing import CHANGEABLE, KEEPS_FROM_HARM, may_change

HERS = """\
# Mine, since the winter.
name = "The Linden Room"   # over the bakery
bpm = 58
[rules.vary]
weight = 3   # more of it
[rules.focus]
# Iska asked for this.
min_share = 0.6
"""


@pytest.fixture
def studio(tmp_path: Path) -> Path:
    start_studio(tmp_path / "studio")
    return tmp_path / "studio"


@pytest.fixture
def desk(studio: Path) -> DeskWindow:
    return DeskWindow(studio)


def said(studio: Path) -> str:
    return (studio / "studio.toml").read_text("utf-8")


def entry(page: Answer, rule: str) -> str:
    """Return the marks of one rule on the leaf."""
    found = re.search(rf'<article class="rule" id="rule-{rule}".*?</article>', page.text, re.DOTALL)
    assert found, rule
    return html.unescape(found[0])


def fields(page: Answer, rule: str) -> dict[str, str]:
    """Return what a browser would send for one rule."""
    tags = re.findall(r"<input[^>]*>", entry(page, rule))
    pairs = [re.search(r'name="(\w+)" value="([^"]*)"', tag) for tag in tags]
    return {pair[1]: pair[2] for pair in pairs if pair}


def keep(desk: DeskWindow, rule: str, page: Answer | None = None, **words: str) -> Answer:
    """Send the form of a rule as `page` has it, with some words in place of others."""
    return desk.post(f"/rules/{rule}", {**fields(page or desk.get("/rules"), rule), **words})


# ---- told -------------------------------------------------------------------------------------
def test_every_rule_is_told_as_the_command_tells_it(
    studio: Path, desk: DeskWindow, capsys: pytest.CaptureFixture[str]
) -> None:
    """`rondel rules --json` is the other way the book is told."""
    assert main(["rules", str(studio), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    page = desk.get("/rules")
    assert page.status == 200
    assert len(re.findall(r'<article class="rule"', page.text)) == len(told)
    for rule in told:
        words = entry(page, rule["id"])
        assert rule["name"] in words
        assert rule["says"] in words
        assert rule["source"] in words
        assert set(fields(page, rule["id"])) - {"seen"} == set(rule["may_change"])
        for detail in rule["details"]:
            assert detail in words


def test_safety_limits_are_shown_and_say_why_they_stay(desk: DeskWindow) -> None:
    page = desk.get("/rules")
    assert "These keep people from harm, so they are the same in every studio" in page.words
    start, end = (page.text.index(w) for w in ("What keeps people from harm", "What makes a rou"))
    for id in KEEPS_FROM_HARM:
        assert start < page.text.index(f'id="rule-{id}"') < end
        assert "<input" not in entry(page, id)
    assert "firmest pressure of a lay hand, by level: 1: 3; 2: 4" in entry(page, "limits")


@pytest.mark.parametrize("rule", [r.id for r in RULES if not may_change(r)])
def test_what_must_be_is_not_changed_by_a_form_made_by_hand(
    studio: Path, desk: DeskWindow, rule: str
) -> None:
    answer = desk.post(f"/rules/{rule}", {"seen": digest_of(UNCHANGED, rule), "weight": "0"})
    assert answer.status == 422
    assert "the same in every studio and cannot be changed" in answer.words
    assert said(studio) == STUDIO_TOML
    with pytest.raises(BadInput, match="must be kept"):
        change_rule(studio, rule, {"weight": 0}, seen=digest_of(UNCHANGED, rule))


def test_a_rule_that_is_not_there_is_told(desk: DeskWindow) -> None:
    answer = desk.post("/rules/gentle", {"weight": "1"})
    assert answer.status == 422
    assert "there is no such rule in the book" in answer.words
    assert desk.get("/rules/vary").headers["location"] == "/rules"


# ---- changed ----------------------------------------------------------------------------------
def test_a_weight_is_kept_and_everything_else_in_the_file_stays(
    studio: Path, desk: DeskWindow
) -> None:
    (studio / "studio.toml").write_text(HERS, encoding="utf-8")
    page = desk.get("/rules")
    assert fields(page, "focus")["min_share"] == "60"  # told in percent
    answer = keep(desk, "vary", weight="4.5")
    assert "Kept. Plans and findings go by it" in entry(desk.then(answer), "vary")
    assert said(studio) == HERS.replace("weight = 3 ", "weight = 4.5 ")
    keep(desk, "repeat", max_times="4")
    assert said(studio) == HERS.replace("weight = 3 ", "weight = 4.5 ") + (
        "\n[rules.repeat]\nmax_times = 4\n"
    )
    assert settings_of(studio).of("repeat") == {"max_times": 4}


def test_a_rule_goes_back_to_the_book(studio: Path, desk: DeskWindow) -> None:
    (studio / "studio.toml").write_text(HERS, encoding="utf-8")
    page = desk.get("/rules")
    assert "back to the book’s number" in entry(page, "vary")
    assert "back to the book’s number" not in entry(page, "speed")
    then = desk.then(keep(desk, "vary", own="yes"))
    assert "as the book has it again" in entry(then, "vary")
    assert fields(then, "vary")["weight"] == "2"
    assert said(studio) == HERS.replace("[rules.vary]\nweight = 3   # more of it\n", "")
    desk.then(keep(desk, "focus", own="yes"))
    assert "# Iska asked for this." in said(studio)  # comments are hers
    assert settings_of(studio) == UNCHANGED
    assert "Nothing is changed" in desk.get("/rules").words


def test_what_is_left_as_it_is_shown_is_exactly_what_it_was(studio: Path, desk: DeskWindow) -> None:
    text = HERS.replace("0.6", "0.33333333")
    (studio / "studio.toml").write_text(text, encoding="utf-8")
    assert fields(desk.get("/rules"), "focus")["min_share"] == "33.33"
    keep(desk, "focus", weight="9")
    assert settings_of(studio).of("focus") == {"weight": 9, "min_share": 0.33333333}


@pytest.mark.parametrize("id", CHANGEABLE)
def test_the_bounds_of_the_book_hold(studio: Path, desk: DeskWindow, id: str) -> None:
    rule = next(r for r in RULES if r.id == id)
    for name, (low, high) in may_change(rule).items():
        times = 100 if name.endswith("share") else 1
        for word in (f"{high * times + 1:g}", f"{low * times - 1:g}", "much", "", "1e9", "nan"):
            answer = keep(desk, id, None, **{name: word})
            assert answer.status == 422
            refused = f'<span class="refused" id="why-{id}-{name}">This has to be a'
            assert refused in entry(answer, id)
            assert f"from {low * times:g} to {high * times:g}" in entry(answer, id)
            assert fields(answer, id)[name] == word
        for number in (low, high):
            assert keep(desk, id, None, **{name: f"{number * times:g}"}).status == 303
            shown = desk.get("/rules")
            assert float(fields(shown, id)[name]) == pytest.approx(number * times)
    assert settings_of(studio).of(id)[name] == pytest.approx(high)


def test_a_whole_number_is_asked_for_where_one_is_needed(desk: DeskWindow) -> None:
    answer = keep(desk, "repeat", max_times="2.5")
    assert "This has to be a whole number from 1 to 10." in answer.words


def test_a_comma_is_read_and_written_at_a_german_desk(studio: Path, desk: DeskWindow) -> None:
    desk.cookie += "; rondel-language=de"
    page = desk.get("/rules")
    assert "Nie über dem sicheren Druck" in page.words
    keep(desk, "vary", page, weight="2,5")
    assert settings_of(studio).weight("vary", 2) == 2.5
    assert fields(desk.get("/rules"), "vary")["weight"] == "2,5"


# ---- two windows, broken files ----------------------------------------------------------------
def test_a_second_window_is_told_and_overwrites_nothing(studio: Path, desk: DeskWindow) -> None:
    page = desk.get("/rules")
    other = DeskWindow(studio)
    assert keep(other, "vary", weight="5").status == 303
    answer = keep(desk, "vary", page, weight="7")
    assert answer.status == 409
    assert "changed in another window" in entry(answer, "vary")
    assert "how much it counts: 5" in entry(answer, "vary")
    assert settings_of(studio).weight("vary", 2) == 5
    assert fields(answer, "vary")["weight"] == "7"  # hers still stands there
    assert keep(desk, "vary", answer).status == 303
    assert settings_of(studio).weight("vary", 2) == 7
    # Another rule is another matter.
    assert keep(desk, "speed", page, weight="1").status == 303
    with pytest.raises(StaleRule):
        change_rule(studio, "speed", {}, seen=digest_of(UNCHANGED, "speed"))


def test_a_file_that_cannot_be_read_is_told_and_left_alone(studio: Path, desk: DeskWindow) -> None:
    desk.get("/rules")
    broken = 'name = "half\n'
    (studio / "studio.toml").write_text(broken, encoding="utf-8")
    page = desk.get("/rules")
    assert "studio.toml" in page.words
    assert "cannot be understood" in page.words
    answer = keep(desk, "vary", page, weight="3")
    assert answer.status == 422
    assert said(studio) == broken


@pytest.mark.parametrize(
    "text",
    [
        "rules = {vary = {weight = 3}}\nname = 'x' # y\n",
        "rules.vary.weight = 3\nname = 'x' # y\n",
        "[rules]\nvary = {weight = 3}\n# z\nfocus.weight = 9\n",
        "name = 'x'\r\n[rules.vary]\r\nweight = 3\r\n",
        "\ufeff[rules.vary]\nweight = 3",
        "[rules]\n",
        "",
    ],
)
@pytest.mark.parametrize(
    ("rule", "numbers"), [("vary", {"weight": 4}), ("filler", {"last_share": 0.3}), ("vary", {})]
)
def test_whatever_form_she_writes_in_nothing_else_changes(
    studio: Path, text: str, rule: str, numbers: Mapping[str, float]
) -> None:
    """What is there afterwards is read with Python's own tomllib."""
    path = studio / "studio.toml"
    path.write_bytes(text.encode("utf-8"))
    before = tomllib.loads(text.removeprefix("\ufeff"))
    change_rule(studio, rule, numbers, seen=digest_of(settings_of(studio), rule))
    new = path.read_bytes().decode("utf-8")
    after = tomllib.loads(new.removeprefix("\ufeff"))
    assert after.get("rules", {}).get(rule, {}) == numbers
    for others in (before, after):
        others.get("rules", {}).pop(rule, None)
        if not others.get("rules"):
            others.pop("rules", None)
    assert after == before
    assert new.count("#") == text.count("#")
    assert new.startswith("\ufeff") == text.startswith("\ufeff")
    if "\r\n" in text:
        assert "\n" not in new.replace("\r\n", "")


def test_a_link_out_of_the_studio_is_not_followed(studio: Path, tmp_path: Path) -> None:
    outside = tmp_path / "elsewhere.toml"
    outside.write_text(HERS, encoding="utf-8")
    (studio / "studio.toml").unlink()
    (studio / "studio.toml").symlink_to(outside)
    with pytest.raises(BadInput, match="leads out of the studio"):
        change_rule(studio, "vary", {}, seen=digest_of(settings_of(studio), "vary"))
    assert outside.read_text("utf-8") == HERS
    assert NOT_OURS.endswith("by hand")


# ---- obeyed -----------------------------------------------------------------------------------
def test_findings_on_the_page_go_by_the_new_numbers(studio: Path, desk: DeskWindow) -> None:
    routine = demo_routine()
    Shelf(studio).add(routine, "", "Planned.", over="lamplight")
    here = [f for f in check(routine, craft_for(studio)) if f.rule == "focus"]
    assert keep(desk, "focus", min_share="90").status == 303
    now = [f for f in check(routine, craft_for(studio)) if f.rule == "focus"]
    assert not here
    assert now
    told = " ".join(
        desk.get("/r/lamplight/", {"p": p.id}).words for p in routine.line if p.technique
    )
    assert now[0].message in told
    assert keep(desk, "focus", own="yes").status == 303
    told = " ".join(
        desk.get("/r/lamplight/", {"p": p.id}).words for p in routine.line if p.technique
    )
    assert now[0].message not in told


def test_a_finding_leads_to_its_rule_in_the_book(studio: Path, desk: DeskWindow) -> None:
    routine = demo_routine()
    Shelf(studio).add(routine, "", "Planned.", over="lamplight")
    assert keep(desk, "focus", min_share="90").status == 303
    found = [f for f in check(routine, craft_for(studio)) if f.rule == "focus"]
    there = next(p for p in routine.line if found[0].at_bar in range(p.start_bar, p.end_bar))
    page = html.unescape(desk.get("/r/lamplight/", {"p": there.id}).text)
    row = page[page.index(found[0].message) :].split("</li>")[0]
    link = re.search(r'<a [^>]*href="/rules\?([^"#]*)#([^"]*)"[^>]*>(.*?)</a>', row)
    assert link
    name = re.sub(r"<[^>]+>", "", link[3])  # the name by which the link is told
    assert name == "In the rule book: Most work where it is wanted"
    assert desk.get(f"/rules?{link[1]}").text.count(f'id="{link[2]}"') == 1
    assert "Most work where it is wanted" in entry(desk.get("/rules"), "focus")


# ---- and back ---------------------------------------------------------------------------------
def ways_back(page: Answer) -> list[str]:
    """Return where the leaf leads back to, a routine's pages only."""
    found = re.findall(r'href="(/r/[^"]*)"', page.text)
    return list(dict.fromkeys(html.unescape(a) for a in found))


def test_there_is_a_way_back_to_the_finding_through_all_that_is_done(
    studio: Path, desk: DeskWindow
) -> None:
    routine = demo_routine()
    Shelf(studio).add(routine, "", "Planned.", over="lamplight")
    passage = routine.line[2].id
    came = f"/rules?from=lamplight&p={passage}"
    back = [f"/r/lamplight/?p={passage}"]
    page = desk.get(came)
    assert ways_back(page) == back
    assert "Back to “Lamplight”" in page.words
    assert "/r/" not in entry(page, "focus")
    led = desk.get(f"{came}&rule=focus")  # as the finding's link has it
    assert back[0] in entry(led, "focus")
    assert "/r/" not in entry(led, "vary")
    assert f'id="passage" data-p="{passage}"' in desk.get(back[0]).text

    action = re.search(r'action="(/rules/focus[^"]*)"', page.text)
    assert action
    there = html.unescape(action[1])
    refused = desk.post(there, {**fields(page, "focus"), "min_share": "none"})
    assert (refused.status, ways_back(refused)) == (422, back)
    assert back[0] in entry(refused, "focus")
    assert html.unescape(refused.value("back")) == came  # where another language is chosen
    kept = desk.post(there, {**fields(page, "focus"), "min_share": "41"})
    assert ways_back(desk.then(kept)) == back
    assert "Kept." in desk.then(kept).words
    assert back[0] in entry(desk.then(kept), "focus")
    overtaken = desk.post(there, {**fields(page, "focus"), "min_share": "42"})
    assert (overtaken.status, ways_back(overtaken)) == (409, back)
    own = desk.post(there, {**fields(desk.get(came), "focus"), "own": "yes"})
    assert ways_back(desk.then(own)) == back
    assert ways_back(desk.then(desk.get(there))) == back  # looked at again, once refused
    spoken = desk.post("/language", {"language": "de", "back": page.value("back")})
    assert ways_back(desk.then(spoken)) == back
    assert 'href="/rules?from=lamplight"' in desk.get("/r/lamplight/session").text
    assert ways_back(desk.get("/rules?from=lamplight")) == ["/r/lamplight/"]


@pytest.mark.parametrize(
    "word",
    ["", "no-such", "..", ".", "../lamplight", "//elsewhere.example", "javascript:1", "a/b", "\x00",
     "x" * 5000, '"><b>', "lamplight/../lamplight"],
)  # fmt: skip
def test_only_a_routine_that_is_here_is_led_back_to(
    studio: Path, desk: DeskWindow, word: str
) -> None:
    Shelf(studio).add(demo_routine(), "", "Planned.", over="lamplight")
    page = desk.get("/rules", {"from": word, "p": word})
    assert page.status == 200
    assert ways_back(page) == []
    assert "from=" not in page.text
    page = desk.get("/rules", {"from": "lamplight", "p": word})
    assert ways_back(page) == ["/r/lamplight/"]


def test_a_brief_that_is_not_planned_is_no_place_to_go_back_to(desk: DeskWindow) -> None:
    assert ways_back(desk.get("/rules?from=lamplight")) == []


@pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine")
def test_the_leaf_keeps_nobody_out_and_fits(studio: Path) -> None:
    with running_desk(studio) as desk, browser_tab() as tab:
        tab.open(desk.address)
        for width, height in ((320, 640), (1280, 860)):
            tab.open(f"{desk.base}/rules", width, height)
            tab.run("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
            assert tab.run("document.documentElement.scrollWidth <= window.innerWidth")
            if AXE.is_file():
                assert barriers(tab) == [], width
            tab.run("document.getElementById('focus-min_share').value = '99'")
            tab.run("document.querySelector('#rule-focus form .word').click()")
            tab.wait_for("document.querySelector('#rule-focus .refused')")
            assert tab.run("document.documentElement.scrollWidth <= window.innerWidth")
            if AXE.is_file():
                assert barriers(tab) == [], width
        assert all("422" in trouble for trouble in tab.troubles)  # what was refused, and no more
