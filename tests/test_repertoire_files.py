"""Techniques added, changed and taken out on disk: every other byte stays as it was."""

from __future__ import annotations

import json
import os
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rondel.adapters.craft_files import DATA, builtin_craft
from rondel.adapters.repertoire_blocks import blocks_of, changed_block
from rondel.adapters.repertoire_files import MINE, Repertoire, StaleTechnique
from rondel.adapters.routine_shelf import Shelf
from rondel.adapters.studio_files import craft_for, start_studio
from rondel.adapters.technique_uses import uses_of
from rondel.model.codec.craft import technique_to_dict
from rondel.model.errors import BadInput, OutsideFailure
from rondel.model.repertoire import Technique, Told
from rondel.model.words import Contact, Family, Landing, Language, Position, Trace
from rondel.rules.teachable import refusals, remarks, unsaid

CRAFT = builtin_craft()
RIVER = CRAFT.technique("slow-river")


@pytest.fixture
def studio(tmp_path: Path) -> Path:
    start_studio(tmp_path / "studio")
    return tmp_path / "studio"


def texts(studio: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in sorted((studio / "repertoire").glob("*.toml"))}


# ---- blocks -----------------------------------------------------------------------------------

SOURCES = [p.read_text("utf-8") for p in sorted((DATA / "repertoire").glob("*.toml"))]
PARTS = [b.text for source in SOURCES for b in blocks_of(source, at="x")]
#: Ways in which a hand might have written a text that looks like the head of a technique.
TRAPS = (
    'how = """\nPut it so:\n[[technique]]\nand "so\\""."""',
    "how = '''\n[[technique]] # not a head\n'''",
    'how = "A # sign, a \\" quote and [[technique]] in a row."',
)
comments = st.sampled_from(
    ["", "# A word of my own.\n", "\n# [[technique]]\n\n", "\n\n\n", "  # é\n"]
)
words = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), min_size=1, max_size=30
).map(str.strip)


@st.composite
def written(draw: st.DrawFn) -> tuple[str, list[str]]:
    """Draw a file as a hand may have written it, and the text of each technique in it."""
    places = draw(st.lists(st.integers(0, len(PARTS) - 1), min_size=1, max_size=5, unique=True))
    end = draw(st.sampled_from(["\n", "\r\n"]))
    text, parts = draw(comments), []
    for place in places:
        part = PARTS[place]
        trap = draw(st.sampled_from(["", *TRAPS]))
        if trap:
            part = "\n".join(trap if r.startswith("how = ") else r for r in part.split("\n"))
        remark = draw(st.sampled_from(["", "  # as I was taught"]))
        part = part.replace("\nlevel = ", "\n# how hard\nlevel = ", 1)
        part = "\n".join(r + remark if r.startswith("energy") else r for r in part.split("\n"))
        parts.append(part.replace("\n", end))
        text += part + draw(comments)
    text = text.replace("\n", end)
    return text, parts


@st.composite
def changes(draw: st.DrawFn, t: Technique) -> Technique:
    """Draw another technique of the same id; nothing here minds whether it is wise."""
    some = st.fractions(0, 100, max_denominator=1).map(lambda f: f / 10)
    told = (Told(language=Language.GERMAN, plain=draw(words), say=draw(words)),)
    wishes: dict[str, st.SearchStrategy[object]] = {
        "plain": words,
        "how": words,
        "say": words,
        "family": st.sampled_from(Family),
        "contact": st.sampled_from(Contact),
        "lateral": st.booleans(),
        "pressure": st.sampled_from([(1, 2), (0, 5), (3, 3)]),
        "cycle_seconds": some.map(lambda s: (s + Fraction(1, 2), s + 7)),
        "landing": st.sampled_from(Landing),
        "path_cm": some,
        "level": st.integers(1, 5),
        "energy": st.sampled_from([Fraction(-1), Fraction(3, 10), Fraction(1)]),
        "position": st.lists(st.sampled_from(Position), min_size=1, unique=True).map(tuple),
        "refrain": st.booleans(),
        "helps_turn": st.booleans(),
        "trace": st.sampled_from(Trace),
        "told": st.sampled_from([(), told]),
    }
    keys = draw(st.lists(st.sampled_from(sorted(wishes)), max_size=5, unique=True))
    return replace(t, **{key: draw(wishes[key]) for key in keys})  # type: ignore[arg-type]


@given(written())
def test_a_file_is_cut_into_the_techniques_as_they_were_written(
    file: tuple[str, list[str]],
) -> None:
    text, parts = file
    assert [b.text for b in blocks_of(text, at="x")] == parts


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_an_edit_leaves_every_other_byte_and_every_comment(data: st.DataObject) -> None:
    text, _ = data.draw(written())
    blocks = blocks_of(text, at="x")
    n = data.draw(st.integers(0, len(blocks) - 1))
    block = blocks[n]
    wanted = data.draw(changes(block.technique))
    new = changed_block(block, wanted, at="x")
    after = text[: block.start] + new + text[block.end :]
    # Read by the standard library alone: every other technique as before, this one as asked.
    was, now = (tomllib.loads(t)["technique"] for t in (text, after))
    assert [row for i, row in enumerate(now) if i != n] == [r for i, r in enumerate(was) if i != n]
    assert blocks_of(after, at="x")[n].technique == wanted
    assert after.startswith(text[: block.start])
    assert after.endswith(text[block.end :])
    for comment in ("# how hard", "# as I was taught"):
        assert new.count(comment) == block.text.count(comment)
    if wanted == block.technique:
        assert new == block.text
    untouched = {k for k, v in technique_to_dict(wanted).items() if was[n].get(k) == v}
    lines = block.text.splitlines()
    kept = [r for r in lines if r.split(" = ")[0] in untouched - {"how", "plain", "say"}]
    assert all(line in new.splitlines() for line in kept)


# ---- the repertoire ---------------------------------------------------------------------------


def test_a_changed_technique_stays_in_its_file_and_only_its_line_is_new(studio: Path) -> None:
    kept, before = Repertoire(studio), texts(studio)
    taught = kept.taught("slow-river")
    assert (taught.file, taught.technique) == ("home.toml", RIVER)
    kept.put(replace(taught.technique, plain="Wide River"), seen=taught.digest)
    after = texts(studio)
    assert after.pop("home.toml") == before.pop("home.toml").replace(
        b'"Slow River"', b'"Wide River"'
    )
    assert after == before
    assert craft_for(studio).technique("slow-river").plain == "Wide River"


def test_a_new_technique_goes_into_a_file_of_hers_and_nothing_else_changes(studio: Path) -> None:
    kept, before = Repertoire(studio), texts(studio)
    for n, name in enumerate(("Two Rivers", "Three Rivers")):
        made = replace(RIVER, id=name.lower().replace(" ", "-"), plain=name, told=())
        assert kept.add(made).technique == made
        assert len(craft_for(studio).techniques) == len(CRAFT.techniques) + n + 1
    after = texts(studio)
    assert after.pop(MINE).startswith(
        b"# Techniques that you added at the desk.\n\n[[technique]]\n"
    )
    assert after == before


def test_an_id_that_is_taken_is_refused_and_nothing_is_written(studio: Path) -> None:
    before = texts(studio)
    with pytest.raises(BadInput, match="stands twice"):
        Repertoire(studio).add(replace(RIVER, plain="Another River"))
    assert texts(studio) == before


def test_a_technique_taken_out_leaves_its_neighbours_and_their_comments(studio: Path) -> None:
    path = studio / "repertoire" / "home.toml"
    head = b'[[technique]]\nid = "drifting-log"'
    path.write_bytes(path.read_bytes().replace(head, b"# Logs and parcels.\n" + head))
    kept, before = Repertoire(studio), path.read_bytes()
    kept.remove("slow-river", seen=kept.taught("slow-river").digest)
    after = path.read_bytes()
    start = before.index(b'[[technique]]\nid = "slow-river"')
    end = before.index(b"# Logs and parcels.")
    assert after == before[:start] + before[end:]


def test_a_change_that_another_window_overtook_is_refused_with_what_stands(studio: Path) -> None:
    kept = Repertoire(studio)
    seen = kept.taught("slow-river").digest
    kept.put(replace(RIVER, level=2), seen=seen)
    before = texts(studio)
    with pytest.raises(StaleTechnique) as told:
        kept.put(replace(RIVER, level=3), seen=seen)
    assert told.value.kept is not None
    assert told.value.kept.technique.level == 2
    with pytest.raises(StaleTechnique):
        kept.remove("slow-river", seen=seen)
    assert texts(studio) == before


def test_a_change_to_a_technique_that_is_gone_is_refused(studio: Path) -> None:
    kept = Repertoire(studio)
    seen = kept.taught("slow-river").digest
    kept.remove("slow-river", seen=seen)
    with pytest.raises(StaleTechnique) as told:
        kept.put(RIVER, seen=seen)
    assert told.value.kept is None


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"plain": "Wide Wings"}, "could not tell them apart"),
        ({"say": "  "}, "needs a few words"),
        ({"pressure": (3, 3)}, "lay hand gives pressure 2"),
        ({"path_cm": Fraction(91)}, "too far"),
    ],
)
def test_what_may_not_be_taught_is_never_written(
    studio: Path, changed: dict[str, object], says: str
) -> None:
    kept, before = Repertoire(studio), texts(studio)
    with pytest.raises(BadInput, match=says):
        kept.put(replace(RIVER, **changed), seen=kept.taught("slow-river").digest)  # type: ignore[arg-type]
    assert texts(studio) == before


def test_a_studio_without_a_repertoire_gets_all_that_it_used(tmp_path: Path) -> None:
    (tmp_path / "studio.toml").write_text('name = "Bare"\n')
    kept = Repertoire(tmp_path)
    assert kept.taught("slow-river").technique == RIVER
    kept.put(replace(RIVER, level=2), seen=kept.taught("slow-river").digest)
    assert len(craft_for(tmp_path).techniques) == len(CRAFT.techniques)
    assert craft_for(tmp_path).technique("slow-river").level == 2


def test_a_file_in_another_form_is_left_alone_and_said_so(studio: Path) -> None:
    row = ", ".join(
        f"{k} = {json.dumps(v)}"
        for k, v in technique_to_dict(replace(RIVER, id="r", plain="R", told=())).items()
    )
    path = studio / "repertoire" / "odd.toml"
    path.write_text(f"technique = [{{ {row} }}]\n")
    kept = Repertoire(studio)
    with pytest.raises(BadInput, match=r"odd.toml.*by hand"):
        kept.taught("r")
    river = kept.taught("slow-river")
    kept.put(replace(RIVER, level=2), seen=river.digest)
    assert craft_for(studio).technique("slow-river").level == 2


def test_the_mark_of_utf8_and_the_line_ends_of_other_programs_stay(studio: Path) -> None:
    path = studio / "repertoire" / "home.toml"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    kept, before = Repertoire(studio), path.read_bytes()
    kept.put(replace(RIVER, level=2), seen=kept.taught("slow-river").digest)
    assert path.read_bytes()[:3] == b"\xef\xbb\xbf"
    after = path.read_bytes().split(b"\r\n")
    assert [(a, b) for a, b in zip(before.split(b"\r\n"), after, strict=True) if a != b] == [
        (b"level = 1", b"level = 2")
    ]


def test_a_write_that_fails_leaves_the_file_whole(
    studio: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, before = Repertoire(studio), texts(studio)
    taught = kept.taught("slow-river")

    def no_room(self: Path, data: bytes) -> int:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(Path, "write_bytes", no_room)
    with pytest.raises(OutsideFailure, match="free some space"):
        kept.put(replace(RIVER, level=2), seen=taught.digest)
    monkeypatch.undo()
    assert texts(studio) == before


# ---- uses -------------------------------------------------------------------------------------


def test_a_use_is_found_in_a_brief_and_a_file_that_cannot_be_read_counts_as_one(
    studio: Path,
) -> None:
    shelf, folder = Shelf(studio), studio / "routines" / "lamplight"
    assert uses_of(shelf, "slow-river") == ()
    brief = folder / "brief.toml"
    brief.write_text(brief.read_text() + '\n[[keep]]\ntechnique = "slow-river"\nat = "2:00"\n')
    (use,) = uses_of(shelf, "slow-river")
    assert (use.slug, use.passages, use.is_unread) == ("lamplight", 0, False)
    (folder / "routine.json").write_text("{")
    (use,) = uses_of(shelf, "wide-wings")
    assert use.is_unread


# ---- what may be taught -----------------------------------------------------------------------


def test_everything_that_rondel_brings_may_be_taught() -> None:
    for technique in CRAFT.techniques:
        assert refusals(technique, CRAFT) == ()
        assert unsaid(technique) == ()


def _cases() -> Iterator[tuple[str, dict[str, object], str, str]]:
    """(id of a built-in technique, what is changed, the field, words of the refusal)."""
    # regions.toml: neck 2 for a lay hand and 3 for a trained one, 10 cm; no percussion, friction.
    neck = {"region": "neck", "path_cm": Fraction(20)}
    yield "slow-river", {**neck, "pressure": (2, 3)}, "", ""
    yield "slow-river", {**neck, "pressure": (3, 3)}, "pressure", "lay hand gives pressure 2"
    yield "slow-river", {**neck, "pressure": (1, 4)}, "pressure", "trained hand gives pressure 3"
    yield "slow-river", {**neck, "path_cm": Fraction(21)}, "path_cm", "20 cm there and back"
    yield "slow-river", {**neck, "trace": Trace.ALTERNATE}, "path_cm", "10 cm one way"
    yield "slow-river", {**neck, "family": Family.FRICTION}, "family", "No friction on the"
    yield "slow-river", {**neck, "lateral": True}, "lateral", "no two sides"
    yield "slow-river", {"region": "moon"}, "region", "no such place"
    # rules.limits: a trained hand presses at 5 from level 4 on; shoulders bear 5 when trained.
    deep = {"region": "shoulders", "path_cm": Fraction(0), "pressure": (3, 5)}
    yield "slow-river", {**deep, "level": 4}, "", ""
    yield "slow-river", {**deep, "level": 3}, "pressure", "higher level"
    yield "slow-river", {"plain": "wide wings "}, "plain", "Wide Wings"


@pytest.mark.parametrize(("id", "changed", "field", "says"), list(_cases()))
def test_a_limit_is_told_beside_its_field(
    id: str, changed: dict[str, object], field: str, says: str
) -> None:
    found = refusals(replace(CRAFT.technique(id), **changed), CRAFT)  # type: ignore[arg-type]
    assert [r.field for r in found] == ([field] if field else [])
    assert all(says in r.says for r in found)


def test_a_glide_that_could_never_be_calm_is_remarked_upon_and_not_refused() -> None:
    # Löken et al. 2009: 1 to 10 cm a second. 80 cm in 2 to 4 seconds is 20 to 40.
    quick = replace(RIVER, cycle_seconds=(Fraction(2), Fraction(4)))
    (remark,) = remarks(quick)
    assert "20.0 to 40.0" in remark.says
    assert refusals(quick, CRAFT) == ()
    assert remarks(RIVER) == ()
