"""Film in a session: which frames are film, what of the take each shows, and what is told."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import opentimelineio as otio
import pytest

from film_samples import CRAFT, PASSAGE, ROUTINE, film_of, fitted, source_of
from rondel.adapters.frame_shapes import set_anew
from rondel.app.fit_takes import made_up_share
from rondel.cli.main import main
from rondel.documents.cut_list import FilmedSpan, TakeMedia, cut_list
from rondel.drawing.frames.film import DISSOLVE_SECONDS, Film, chunk_starts
from rondel.drawing.frames.layout import FRAMES_PER_SECOND
from rondel.drawing.frames.script import Script, frames_of, nearest_frame
from rondel.drawing.frames.shapes import SETTINGS, SIZES, Shape
from rondel.drawing.frames.titles import CAPTIONS, SAFE, next_title, now_title
from rondel.model.codec.routine import routine_to_dict
from rondel.model.routine import Passage
from rondel.model.shots import FittedPassage, Shot, TimeMap, is_made_up

TAKE_SECONDS = 40.0


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A take of which no picture is looked at here."""
    path = tmp_path_factory.mktemp("takes") / "take.mp4"
    path.write_bytes(b"film")
    return path


def in_one_shot(
    passage: Passage, at: tuple[float, float], shows: tuple[float, float]
) -> FittedPassage:
    shot = Shot(take="take.mp4", map=TimeMap(at=at, shows=shows), beats=(), landings=())
    return FittedPassage(passage=passage.id, technique=passage.technique, beats=(), shots=(shot,))


def test_cards_and_last_words_stay_drawn_and_film_is_all_else_of_a_passage(take: Path) -> None:
    script = Script(ROUTINE, CRAFT)
    every = [
        in_one_shot(p, (ROUTINE.start_seconds(p), ROUTINE.end_seconds(p)), (1.0, 30.0))
        for p in ROUTINE.line
    ]
    film = Film(script, every, {"take.mp4": source_of(take, TAKE_SECONDS)})
    for shot, after in pairwise([*script.shots, None]):
        assert shot is not None
        past = after.first_frame if after else script.frames
        if shot.card is not None or shot.is_closing:
            assert not any(film.covers(frame) for frame in range(shot.first_frame, past))
    for one, two in pairwise(film.spans):
        assert one.past <= two.first
    starts = chunk_starts([s.first_frame for s in script.shots], film, FRAMES_PER_SECOND)
    assert set(film.edges) <= set(starts)
    for one_start, two_start in pairwise(starts):
        inside = {film.covers(frame) for frame in range(one_start, two_start)}
        assert len(inside) == 1


def two_shots(take: str = "take.mp4") -> tuple[FittedPassage, float]:
    """Return the passage as two shots that meet in its middle, and the second of that."""
    start, end = ROUTINE.start_seconds(PASSAGE), ROUTINE.end_seconds(PASSAGE)
    middle = (start + end) / 2
    shots = tuple(
        Shot(
            take=take,
            map=TimeMap(at=(a, b), shows=(shows, shows + (b - a) * 0.8)),
            beats=(a, b),
            landings=(shows, shows + (b - a) * 0.8),
        )
        for a, b, shows in ((start, middle, 2.0), (middle, end, 12.0))
    )
    return (
        FittedPassage(passage=PASSAGE.id, technique=PASSAGE.technique, beats=(), shots=shots),
        middle,
    )


def test_shots_dissolve_half_before_and_half_after_the_landing_where_they_meet(take: Path) -> None:
    passage, middle = two_shots()
    film = Film(Script(ROUTINE, CRAFT), [passage], {"take.mp4": source_of(take, TAKE_SECONDS)})
    (span,) = film.spans
    reel = film.reel(span.first, span.past)
    assert reel.footage is not None
    seconds = (span.first + np.arange(reel.frames)) / FRAMES_PER_SECOND
    mixes = np.array([shown.mix for shown in reel.footage.shown])
    inside = np.abs(seconds - middle) < DISSOLVE_SECONDS / 2
    assert np.all(mixes[~inside] == 0)
    assert np.all((mixes[inside] >= 0) & (mixes[inside] <= 0.5))
    assert mixes.max() > 0.4
    for shown, second in zip(reel.footage.shown, seconds, strict=True):
        if shown.mix:
            # What shows through goes on as its shot did, before its start or past its end.
            mine, other = (2.0, 12.0) if second < middle else (12.0, 2.0)
            start, end = ROUTINE.start_seconds(PASSAGE), middle
            base = {2.0: start, 12.0: end}
            assert shown.second == pytest.approx(mine + 0.8 * (second - base[mine]), abs=1e-6)
            assert shown.other_second == pytest.approx(
                other + 0.8 * (second - base[other]), abs=1e-6
            )


def test_a_filmed_passage_keeps_its_time_beside_another(take: Path) -> None:
    """Film that a passage has before its start and past its end is not shown in its neighbour's."""
    names = ["p06", "p07"]
    one, two = (next(p for p in ROUTINE.line if p.id == name) for name in names)
    every = [
        in_one_shot(
            p,
            (ROUTINE.start_seconds(p) - 3, ROUTINE.end_seconds(p) + 3),
            (shows, shows + ROUTINE.seconds_of(p) + 6),
        )
        for p, shows in ((one, 2.0), (two, 22.0))
    ]
    film = Film(Script(ROUTINE, CRAFT), every, {"take.mp4": source_of(take, TAKE_SECONDS)})
    first, last = film.spans
    assert first.past == last.first
    reel = film.reel(first.first, last.past)
    assert reel.footage is not None
    for n, shown in enumerate(reel.footage.shown):
        is_first = first.first + n < first.past
        assert (shown.second < 20.0) == is_first


def test_a_dissolve_never_reaches_over_a_cut_of_the_camera(take: Path) -> None:
    passage, _ = two_shots()
    cut = passage.shots[0].map.shows[-1] + 0.05
    source = source_of(take, TAKE_SECONDS, cuts=(cut, 12.0))
    film = Film(Script(ROUTINE, CRAFT), [passage], {"take.mp4": source})
    (span,) = film.spans
    reel = film.reel(span.first, span.past)
    assert reel.footage is not None
    for shown in reel.footage.shown:
        for second in (shown.second, shown.other_second if shown.mix else shown.second):
            assert second < cut or second >= 12.0


@pytest.mark.parametrize("shape", list(Shape))
def test_titles_keep_off_the_edges_and_out_of_the_place_of_captions(shape: Shape) -> None:
    width, height = SIZES[shape]
    for index in range(len(ROUTINE.line)):
        titles = [
            now_title(ROUTINE, index, CRAFT, shape),
            next_title(ROUTINE, index, CRAFT, shape, 9.0),
        ]
        for title in titles:
            if title is None:
                assert index == len(ROUTINE.line) - 1
                continue
            assert title.x - title.piece.width / 2 >= SAFE * width - 1
            assert title.x + title.piece.width / 2 <= (1 - SAFE) * width + 1
            assert title.y + title.piece.height / 2 <= (1 - CAPTIONS) * height + 1
            assert title.y - title.piece.height / 2 >= SAFE * height


def test_the_name_comes_first_and_what_is_next_before_the_end(take: Path) -> None:
    film = film_of(take, TAKE_SECONDS)
    (span,) = film.spans
    reel = film.reel(span.first, span.past)
    opacity = [max((p.opacity for p in moment.placed), default=0.0) for moment in reel.moments]
    assert max(opacity[:50]) == 1.0
    assert max(opacity[-50:]) == 1.0
    assert opacity[0] < 0.2
    if span.past - span.first > 20 * FRAMES_PER_SECOND:
        assert 0.0 in opacity


def test_drawn_parts_of_a_tall_frame_are_the_wide_ones() -> None:
    """The words of a tall frame are the pixels of the wide one, a square one holds all of it."""
    for shape in (Shape.TALL, Shape.SQUARE):
        for setting in SETTINGS[shape]:
            left, top, width, height = setting.box
            assert left >= 0
            assert top >= 0
            assert left + width <= SIZES[shape][0]
            assert top + height <= SIZES[shape][1]
            assert all(v % 2 == 0 for v in (*setting.part, *setting.box))
            ratio = setting.part.width / setting.part.height
            assert width / height == pytest.approx(ratio, rel=0.01)
    assert {s.part[2:] == s.box[2:] for s in SETTINGS[Shape.TALL]} == {True}
    dice = np.random.default_rng(2)
    wide = dice.integers(16, 235, (1080, 1280), dtype=np.uint8)
    (tall,) = set_anew([wide], Shape.TALL, 1.0)
    for setting in SETTINGS[Shape.TALL]:
        (x, y, w, h), (a, b, _, _) = setting.part, setting.box
        assert np.array_equal(tall[b : b + h, a : a + w], wide[y : y + h, x : x + w])
    (square,) = set_anew([np.full_like(wide, 77)], Shape.SQUARE, 1.0)
    assert square[540, 540] == 77
    assert square[10, 10] != 77


def test_the_share_of_made_up_pictures_is_told() -> None:
    slow = Shot(take="a", map=TimeMap(at=(0.0, 40.0), shows=(0.0, 28.0)), beats=(), landings=())
    as_filmed = replace(slow, map=TimeMap(at=(0.0, 40.0), shows=(0.0, 40.0)))
    assert made_up_share([as_filmed], {"a": 25.0}) == 0.0
    # 0.7 of a picture a frame: tenths of a picture, evenly; those at .0, .1 and .9 are near enough.
    assert made_up_share([slow], {"a": 25.0}) == pytest.approx(0.7, abs=0.01)
    assert made_up_share([slow], {}) == 0.0
    assert not is_made_up(0.5, 1.0)
    assert is_made_up(0.5, 0.7)
    assert not is_made_up(0.05, 0.7)


def cuts_with(spans: list[FilmedSpan], way: str) -> str:
    """Return the cut list of the routine with film that lies at `way`."""
    return cut_list(
        ROUTINE,
        CRAFT,
        rate=FRAMES_PER_SECOND,
        frames=frames_of(ROUTINE),
        frame_at=nearest_frame,
        filmed=spans,
        media={"take.mp4": TakeMedia(address=way, seconds=TAKE_SECONDS)},
    )


def test_the_cut_list_with_film_reads_back_equal_and_lands_where_the_film_does(take: Path) -> None:
    film = film_of(take, TAKE_SECONDS)
    spans = [
        FilmedSpan(passage=PASSAGE.id, first=s.first, past=s.past, shots=s.shots)
        for s in film.spans
    ]
    text = cuts_with(spans, "../takes/take.mp4")
    timeline = otio.adapters.read_from_string(text, "otio_json")
    assert isinstance(timeline, otio.schema.Timeline)
    again = otio.adapters.read_from_string(timeline.to_json_string(), "otio_json")
    assert again.is_equivalent_to(timeline)
    past, own = 0, []
    for clip in timeline.tracks[0]:
        assert clip.range_in_parent().start_time.value == past
        past += clip.source_range.duration.value
        if clip.media_reference.target_url.endswith("take.mp4"):
            own.append(clip)
    assert past == frames_of(ROUTINE)
    kept = [clip.metadata["rondel_take"] for clip in own if "rondel_take" in clip.metadata]
    for one, shot in zip(kept, fitted().shots, strict=True):
        # The library reads numbers to the last bit but one.
        assert list(one["at"]) == pytest.approx(shot.map.at, abs=1e-9)
        assert list(one["shows"]) == pytest.approx(shot.map.shows, abs=1e-9)
    for clip in own:
        (warp,) = clip.effects
        assert isinstance(warp, otio.schema.LinearTimeWarp)
        at = clip.range_in_parent().start_time.to_seconds()
        lasts = clip.source_range.duration.to_seconds()
        shows = clip.source_range.start_time.to_seconds()
        shot = next(s for s in fitted().shots if s.map.at[0] - 0.05 <= at < s.map.at[-1])
        assert shows == pytest.approx(shot.map.shown(at), abs=1e-6)
        end = shot.map.shown(at + lasts)
        assert shows + lasts * warp.time_scalar == pytest.approx(end, abs=1e-6)


def test_a_take_of_any_name_is_found_by_its_address_in_the_cut_list(take: Path) -> None:
    (span,) = film_of(take, TAKE_SECONDS).spans
    way = "../takes/Hände #1? 100%.mp4"
    spans = [FilmedSpan(passage=PASSAGE.id, first=span.first, past=span.past, shots=span.shots)]
    text = cuts_with(spans, way)
    timeline = otio.adapters.read_from_string(text, "otio_json")
    own = [clip for clip in timeline.tracks[0] if "takes" in clip.media_reference.target_url]
    assert own
    for clip in own:
        assert otio.url_utils.filepath_from_url(clip.media_reference.target_url) == way
        assert clip.media_reference.name == way


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--shape", "round"], "is not a shape"),
        (["--shape", ","], "name at least one"),
        (["--speeds", "fast"], "not two numbers"),
        (["--speeds", "2-3"], "slowest speed lies between"),
        (["--shortest-shot", "-1"], "0 to 60 seconds"),
    ],
)
def test_odd_wishes_are_refused_in_a_sentence(
    words: list[str], says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    routine = tmp_path / "routine.json"
    routine.write_text(json.dumps(routine_to_dict(ROUTINE)), "utf-8")
    assert main(["make", str(routine), *words]) == 2
    assert says in capsys.readouterr().err
    assert not (tmp_path / "session").exists()
