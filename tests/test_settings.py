"""What a teacher changes in the rule book: how it is read, told, refused and obeyed."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.reading import brief_for, routine_from_rows, small_craft
from rondel.adapters.studio_files import STUDIO_TOML, craft_for, settings_of, start_studio
from rondel.checker.check import check
from rondel.cli.main import main
from rondel.model.errors import BadInput
from rondel.model.finding import Finding, Severity
from rondel.model.settings import UNCHANGED, Settings
from rondel.rules.book import BY_ID, RULES
from rondel.rules.changing import CHANGEABLE, may_change, own_number, settings_from_dict

#: Rules that keep people from harm, as the brief of the trade names them; none may be changed.
SAFETY = (
    *("limits", "cautions", "spare", "avoid", "range"),
    *("warm", "rest", "rise", "load", "level"),
)


def read(**rules: object) -> Settings:
    return settings_from_dict(rules, at="studio.toml: rules")


def refused(**rules: object) -> str:
    with pytest.raises(BadInput) as caught:
        read(**rules)
    return str(caught.value)


def found(rows: list[str], settings: Settings, rule: str, **brief: object) -> list[Finding]:
    """Return the findings of `rule` in six minutes of the cases' craft under `settings`."""
    craft = replace(small_craft(), settings=settings)
    wishes = brief_for(brief or None)
    return [f for f in check(routine_from_rows(rows), craft, wishes) if f.rule == rule]


# --- reading --------------------------------------------------------------------------------


def test_what_is_set_is_read_and_the_rest_stays_the_rule_s_own() -> None:
    settings = read(vary={"weight": 3}, focus={"min_share": 0.6})
    assert settings.weight("vary", 2.0) == 3
    assert settings.weight("focus", 8.0) == 8.0
    assert settings.number("focus", "min_share", 0.5) == 0.6
    assert BY_ID["focus"].number_in(settings, "min_share") == 0.6
    assert BY_ID["repeat"].number_in(settings, "max_times") == 3


def test_what_is_set_to_the_rule_s_own_number_is_no_change() -> None:
    assert read(vary={"weight": 2}, focus={"min_share": 0.5}) == UNCHANGED
    assert read() == UNCHANGED == read(vary={})


def test_settings_are_equal_whatever_the_order_they_stand_in() -> None:
    one = read(vary={"weight": 3}, repeat={"max_times": 4, "weight": 1})
    other = read(repeat={"weight": 1, "max_times": 4}, vary={"weight": 3})
    assert one == other
    assert hash(one) == hash(other)


def test_a_thing_is_changed_once() -> None:
    with pytest.raises(ValueError, match="once"):
        Settings(weights=(("vary", 1.0), ("vary", 2.0)))
    with pytest.raises(ValueError, match="once"):
        Settings(numbers=(("focus", "min_share", 0.3), ("focus", "min_share", 0.4)))


@pytest.mark.parametrize("id", CHANGEABLE)
@given(share=st.floats(0, 1))
def test_every_number_within_its_bounds_is_taken_and_one_beyond_refused(
    id: str, share: float
) -> None:
    for name, (low, high) in may_change(BY_ID[id]).items():
        number = low + (high - low) * share
        if isinstance(own_number(BY_ID[id], name), int):
            number = round(number)
        settings = read(**{id: {name: number}})
        changed = settings.of(id).get(name, own_number(BY_ID[id], name))
        assert changed == pytest.approx(number)
        for beyond in (low - 1, high + 1):
            says = refused(**{id: {name: beyond}})
            assert f"studio.toml: rules: {id}: {name}: is {beyond}, but must be from {low}" in says


# --- refusing -------------------------------------------------------------------------------


@pytest.mark.parametrize("id", SAFETY)
def test_what_keeps_people_from_harm_is_never_changed(id: str) -> None:
    says = refused(**{id: {"weight": 0}})
    assert says.startswith(f"studio.toml: rules: {id}: ")
    assert "must be kept and is the same in every studio" in says
    assert "may be changed: repeat, focus, filler" in says


def test_no_must_has_anything_that_may_be_changed() -> None:
    for rule in RULES:
        if rule.severity is Severity.MUST:
            assert not may_change(rule)
            assert not rule.changeable
        else:
            assert may_change(rule)["weight"] == (0, 10 * rule.weight)
    assert not set(SAFETY) & set(CHANGEABLE)


def test_settings_made_by_hand_reach_no_must_and_no_fixed_number() -> None:
    sly = Settings(
        weights=(("limits", 0.0),),
        numbers=(("warm", "seconds", 0), ("filler", "max_pressure", 5)),
    )
    assert BY_ID["limits"].weight_in(sly) > 0
    assert BY_ID["warm"].number_in(sly, "seconds") == 60
    assert BY_ID["filler"].number_in(sly, "max_pressure") == 2
    rows = ["bread-shoulders work both 90 5"]
    assert found(rows, sly, "limits") == found(rows, UNCHANGED, "limits") != []


@pytest.mark.parametrize(
    ("rules", "says"),
    [
        ({"focuss": {"weight": 1}}, "rules: focuss: there is no rule of this name; may be changed"),
        ({"focuss": {"weight": 1}}, 'did you mean "focus"?'),
        ({"focus": {"min_shar": 0.6}}, "may be changed: weight (0 to 80), min_share (0.2 to 0.9)"),
        ({"focus": {"min_shar": 0.6}}, 'did you mean "min_share"?'),
        ({"filler": {"max_pressure": 3}}, "filler: max_pressure: this number of the rule stays"),
        ({"vary": {"wieght": 1}}, 'did you mean "weight"?'),
        ({"vary": {"weight": "much"}}, 'weight: must be a number, not "much"'),
        ({"vary": {"weight": True}}, "weight: must be a number, not true"),
        ({"vary": {"weight": 21}}, "is 21, but must be from 0 to 20"),
        ({"vary": {"weight": float("nan")}}, "must be a number"),
        ({"repeat": {"max_times": 2.5}}, "max_times: must be a whole number, not 2.5"),
        ({"vary": 3}, "rules: vary: here a table of keys and values is expected"),
    ],
)
def test_a_slip_is_told_with_what_may_be_changed(rules: dict[str, object], says: str) -> None:
    assert says in refused(**rules)


def test_rules_that_are_no_table_are_told_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "studio.toml").write_text("rules = 3\n", encoding="utf-8")
    with pytest.raises(BadInput, match=r"studio\.toml: rules: here a table"):
        settings_of(tmp_path)


# --- a studio -------------------------------------------------------------------------------


@pytest.fixture
def studio(tmp_path: Path) -> Path:
    """A studio that minds variety more, wants more work where it is wanted, and no new place."""
    start_studio(tmp_path / "studio")
    changed = (
        "[rules.vary]\nweight = 3\n[rules.focus]\nmin_share = 0.6\n[rules.filler]\nweight = 0\n"
    )
    (tmp_path / "studio" / "studio.toml").write_text(STUDIO_TOML + changed, encoding="utf-8")
    return tmp_path / "studio"


def test_the_craft_of_a_studio_carries_what_it_changes(studio: Path) -> None:
    settings = Settings(
        weights=(("filler", 0), ("vary", 3)), numbers=(("focus", "min_share", 0.6),)
    )
    assert craft_for(studio / "routines" / "lamplight" / "brief.toml").settings == settings
    for path in (studio / "repertoire").glob("*.toml"):
        path.unlink()
    (studio / "repertoire").rmdir()
    assert craft_for(studio).settings == settings  # the built-in techniques, her rules
    assert craft_for(studio.parent).settings == UNCHANGED


def test_a_new_studio_changes_nothing_and_shows_how(tmp_path: Path) -> None:
    start_studio(tmp_path / "studio")
    assert settings_of(tmp_path / "studio") == UNCHANGED
    told = STUDIO_TOML.replace("# [", "[").replace("# weight", "weight").replace("# min_", "min_")
    (tmp_path / "studio" / "studio.toml").write_text(told, encoding="utf-8")
    settings = settings_of(tmp_path / "studio")  # the example, uncommented, is right
    assert settings.of("vary") == {"weight": 3}
    assert settings.of("focus") == {"min_share": 0.6}


def test_the_rules_of_a_studio_are_told_with_what_is_changed(
    studio: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert main(["rules", str(studio)]) == 0
    printed = capsys.readouterr().out
    assert "[vary, mind, weight 3]" in printed
    assert "May be changed: weight (0 to 80), min_share (0.2 to 0.9)." in printed
    assert "Changed in this studio: min_share 0.6 in place of 0.5." in printed
    assert "Changed in this studio: weight 0 in place of 3; so the rule is not minded." in printed
    monkeypatch.chdir(studio / "routines")
    assert main(["rules"]) == 0
    assert capsys.readouterr().out == printed
    assert main(["rules", "--json"]) == 0
    rules = {r["id"]: r for r in json.loads(capsys.readouterr().out)}
    assert rules["focus"]["changed"] == {"min_share": 0.6}
    assert rules["focus"]["may_change"] == {"weight": [0, 80], "min_share": [0.2, 0.9]}
    assert rules["warm"]["may_change"] == rules["warm"]["changed"] == {}


def test_a_folder_that_is_no_studio_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["rules", str(tmp_path)]) == 2
    assert "this is no studio" in capsys.readouterr().err


# --- obeyed by the checker ------------------------------------------------------------------


def test_a_rule_without_weight_is_not_minded() -> None:
    rows = ["popcorn work both 90 2 stroke=1"]
    assert found(rows, UNCHANGED, "filler")
    assert not found(rows, read(filler={"weight": 0}), "filler")
    assert found(rows, read(filler={"weight": 0.1}), "filler")


def test_focus_asks_for_the_share_that_is_set() -> None:
    """Opening 90 s, close 60 s: of 210 s between, 110 s (bars 22.5 to 50) go to the shoulders."""
    rows = ["bread-shoulders work both 50 2", "wide-wings work both 40 2"]
    wish = {"main_regions": ["shoulders"]}
    assert not found(rows, UNCHANGED, "focus", **wish)
    (told,) = found(rows, read(focus={"min_share": 0.6}), "focus", **wish)
    assert (
        "Only 52% of the work goes to the tops of the shoulders; give at least 60% there."
        in told.message
    )
    assert not found(rows, read(focus={"min_share": 0.52}), "focus", **wish)


def test_repeat_counts_to_the_number_and_in_the_minutes_that_are_set() -> None:
    """Popcorn starts at bars 0, 20, 40 and 60: 240 s from the first to the fourth."""
    row = ["popcorn work both 10 2 stroke=1", "wide-wings work both 10 2"]
    rows = [*row, *row, *row, *row, "wide-wings close both 10 1"]

    def told(settings: Settings) -> list[str]:
        found_ = found(rows, settings, "repeat")
        return [f.message for f in found_ if f.message.startswith("Popcorn comes")]

    (usual,) = told(UNCHANGED)
    assert "more than 3 times in 15 minutes, from 0:00 to 4:00" in usual
    assert not told(read(repeat={"max_times": 4}))
    often, again = told(read(repeat={"max_times": 1, "per_minutes": 5}))  # spans do not overlap
    assert "more than once in 5 minutes, from 0:00 to 1:20" in often
    assert "from 2:40 to 4:00" in again


def test_filler_has_the_room_that_is_set() -> None:
    """A new place at bar 60 of 90: two thirds of the time, in the last half, not quarter."""
    rows = [
        *("wide-wings work both 60 2", "milk-path work left 8 2"),
        *("milk-path work right 8 2", "wide-wings close both 14 1"),
    ]
    assert found(rows, UNCHANGED, "filler")
    assert not found(rows, read(filler={"last_share": 0.4}), "filler")


def test_small_areas_are_small_beside_strokes_of_the_length_that_is_set() -> None:
    """Rope hands go 10 cm, the milk path 30 cm: with 10 cm as long, nothing there is small."""
    rows = ["rope-hands work left 45 2", "milk-path work left 45 2"]
    assert found(rows, UNCHANGED, "small_areas")
    assert not found(rows, read(small_areas={"long_cm": 10}), "small_areas")
    assert not found(rows, read(small_areas={"long_cm": 40}), "small_areas")  # none is long
