"""Film in a session: which frames are film, what of the take each shows, and that hands land."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import av
import cv2
import numpy as np
import opentimelineio as otio
import pytest
from numpy.typing import NDArray

from film_samples import sample, seen_as, source_of
from rondel.adapters.film_between import Between
from rondel.adapters.film_frames import FilmFrames
from rondel.adapters.frame_shapes import paper_planes, set_anew, size_of
from rondel.adapters.planes import joined, split
from rondel.adapters.raster import ResvgRasteriser
from rondel.adapters.video import LibavVideoMaker
from rondel.app.fit_takes import made_up_share
from rondel.app.make_video import PictureWishes, make_video
from rondel.app.progress import Silent
from rondel.cli.main import main
from rondel.documents.cut_list import FilmedSpan, TakeMedia, cut_list
from rondel.drawing.frames.film import DISSOLVE_SECONDS, Film, chunk_starts
from rondel.drawing.frames.layout import FRAMES_PER_SECOND
from rondel.drawing.frames.reel import FilmedTake, Footage, Shown
from rondel.drawing.frames.script import Script, frames_of, nearest_frame
from rondel.drawing.frames.shapes import SETTINGS, SIZES, Shape
from rondel.drawing.frames.titles import CAPTIONS, SAFE, next_title, now_title
from rondel.fitting.named import NamedTake
from rondel.fitting.passages import fit_passage
from rondel.model.codec.routine import routine_to_dict
from rondel.model.routine import Passage
from rondel.model.shots import FittedPassage, Shot, TimeMap, is_made_up
from rondel.model.take import Seen
from take_files_made import write_take
from take_marks import marked, shown_seconds
from take_motion import Kind, Motion, make_motion
from take_scenes import TakeScene, Trouble, frames

ROUTINE, CRAFT, PASSAGE = sample()
TAKE_SECONDS = 40.0


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A take with marks in its colour that tell the second of every picture."""
    motion = make_motion(41, TAKE_SECONDS, (Kind.ALTERNATE,), jitter=0.15)
    path = tmp_path_factory.mktemp("takes") / "take.mp4"
    return marked(path, frames(TakeScene(motion=motion, trouble=Trouble())), TAKE_SECONDS)


@cache
def seen() -> Seen:
    """Return strokes that the passage can use, 12 percent off in time and uneven."""
    beats = [float(ROUTINE.clock.seconds_at(b)) for b in ROUTINE.landings(PASSAGE)]
    dice = np.random.default_rng(3)
    steps = float(np.median(np.diff(beats))) * 0.9 * (1 + 0.12 * dice.uniform(-1, 1, 60))
    landings = 1.0 + np.cumsum(steps)
    return seen_as(
        PASSAGE.technique, tuple(t for t in landings.tolist() if t < TAKE_SECONDS - 1), TAKE_SECONDS
    )


@cache
def fitted() -> FittedPassage:
    return fit_passage(ROUTINE, PASSAGE, [NamedTake(name="take.mp4", seen=seen())])


def film_of(take: Path, shape: Shape = Shape.WIDE, *, fills: bool = False) -> Film:
    sources = {"take.mp4": source_of(take, TAKE_SECONDS)}
    return Film(Script(ROUTINE, CRAFT), [fitted()], sources, shape=shape, fills=fills)


def in_one_shot(
    passage: Passage, at: tuple[float, float], shows: tuple[float, float]
) -> FittedPassage:
    shot = Shot(take="take.mp4", map=TimeMap(at=at, shows=shows), beats=(), landings=())
    return FittedPassage(passage=passage.id, technique=passage.technique, beats=(), shots=(shot,))


def test_hands_land_on_the_beat_in_the_encoded_film(take: Path, tmp_path: Path) -> None:
    """Strokes are given; how near their pictures come is read off the film's own colours."""
    film = film_of(take)
    (span,) = film.spans
    out = tmp_path / "film.mp4"
    LibavVideoMaker().encode(film.reel(span.first, span.past), ResvgRasteriser(), out, scale=0.5)
    shown = shown_seconds(out, TAKE_SECONDS)
    assert len(shown) == span.past - span.first
    off = []
    for shot in fitted().shots:
        for beat, landing in zip(shot.beats[1:-1], shot.landings[1:-1], strict=True):
            n = round(beat * FRAMES_PER_SECOND) - span.first
            if 5 <= n < len(shown) - 5:
                around = slice(n - 5, n + 6)
                times = (span.first + np.arange(n - 5, n + 6)) / FRAMES_PER_SECOND
                off.append(np.interp(landing, shown[around], times) - beat)
    assert len(off) >= 6
    assert np.median(np.abs(off)) <= 0.012
    assert np.percentile(np.abs(off), 95) <= 0.040


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
    film = film_of(take)
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


def one_reel(take: Path, shown: list[Shown], *, cuts: tuple[float, ...] = ()) -> Footage:
    filmed = FilmedTake(path=str(take), digest="x", cuts=cuts)
    return Footage(takes=(filmed,), shown=tuple(shown))


def seconds_of(planes: NDArray[np.uint8], size: tuple[int, int], folder: Path) -> float:
    """Return which second the marks of one frame tell, by way of an encoded picture of it."""
    path = folder / "one.mp4"
    with av.open(str(path), "w") as file:
        stream = file.add_stream("libx264", rate=25, options={"crf": "5"})
        stream.width, stream.height, stream.pix_fmt = *size, "yuv420p"
        file.mux(stream.encode(av.VideoFrame.from_ndarray(planes, format="yuv420p")))
        file.mux(stream.encode(None))
    return float(shown_seconds(path, TAKE_SECONDS)[0])


def test_pictures_are_made_up_only_where_film_is_slowed_and_never_across_a_cut(
    take: Path, tmp_path: Path
) -> None:
    size = (640, 360)
    shown = [Shown(0, 7.018, 0.7), Shown(0, 7.018, 1.0), Shown(0, 7.002, 0.7)]
    for cuts, expected in (((), (7.018, 7.0, 7.0)), ((7.03,), (7.0, 7.0, 7.0))):
        film = FilmFrames(one_reel(take, shown, cuts=cuts), size, paper_planes(size))
        told = [seconds_of(film.planes(n).copy(), size, tmp_path) for n in range(3)]
        film.close()
        assert told == pytest.approx(expected, abs=0.003)
        assert film.made_up == (0 if cuts else 1)


def test_a_take_of_the_other_side_is_shown_as_in_a_mirror(take: Path) -> None:
    size = (640, 360)
    plain = one_reel(take, [Shown(0, 7.0, 1.0)])
    turned = replace(plain, takes=(replace(plain.takes[0], is_mirrored=True),))
    one, two = (FilmFrames(reel, size, paper_planes(size)) for reel in (plain, turned))
    straight, other = (split(film.planes(0), size)[0] for film in (one, two))
    one.close()
    two.close()
    assert np.array_equal(other, straight[:, ::-1])
    assert not np.array_equal(other, straight)


@pytest.mark.parametrize("kind", list(Kind))
def test_made_up_pictures_are_nearer_to_the_truth_than_a_mixture(kind: Kind) -> None:
    """The generator draws the moment in between, too: that is the truth."""
    motion = make_motion(71, 4.0, (kind,))
    scene = TakeScene(motion=motion, trouble=Trouble(noise=0.5, flicker=0.0), fps=50.0)
    drawn = [picture for _, picture in frames(scene)]
    size = (640, 360)
    plain = np.full((180, 320), 128, np.uint8)
    between, made_error, mixed_error = Between(size), 0.0, 0.0
    for n in range(20, 150, 10):
        one, truth, two = drawn[n : n + 3]
        planes = [joined((picture, plain, plain)) for picture in (one, two)]
        made = split(between.picture((0, n, n + 2), planes[0], planes[1], 0.5), size)[0]
        mixed = cv2.addWeighted(one, 0.5, two, 0.5, 0)
        made_error += float(np.mean((made.astype(float) - truth) ** 2))
        mixed_error += float(np.mean((mixed.astype(float) - truth) ** 2))
    # Hands that press hardly move between two pictures: there both are the same.
    assert made_error < mixed_error * (1.05 if kind is Kind.PRESS else 0.95)


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


def test_a_video_with_film_is_made_and_only_what_changed_is_made_again(
    take: Path, tmp_path: Path
) -> None:
    picture = PictureWishes(fitted=(fitted(),), sources={"take.mp4": source_of(take, TAKE_SECONDS)})

    def make(wishes: PictureWishes) -> tuple[int, int, int]:
        report = make_video(
            ROUTINE,
            CRAFT,
            (),
            None,
            tmp_path / "session.mp4",
            tmp_path / "work",
            ResvgRasteriser(),
            LibavVideoMaker(),
            Silent(),
            quick=True,
            processes=0,
            picture=wishes,
        )
        return report["chunks"], report["chunks_reused"], report["film_frames"]

    chunks, reused, film_frames = make(picture)
    assert reused == 0
    (span,) = film_of(take).spans
    assert film_frames == span.past - span.first
    assert make(picture) == (chunks, chunks, film_frames)
    with av.open(str(tmp_path / "session.mp4")) as file:
        assert sum(1 for _ in file.decode(video=0)) == frames_of(ROUTINE)
    drawn, _, none = make(PictureWishes())
    assert none == 0
    assert drawn >= 1
    tall = replace(picture, shape=Shape.TALL)
    assert make(tall)[2] == film_frames
    with av.open(str(tmp_path / "session.mp4")) as file:
        stream = file.streams.video[0]
        assert (stream.width, stream.height) == size_of(Shape.TALL, 0.5)


def test_the_cut_list_with_film_reads_back_equal_and_lands_where_the_film_does(take: Path) -> None:
    film = film_of(take)
    spans = [
        FilmedSpan(passage=PASSAGE.id, first=s.first, past=s.past, shots=s.shots)
        for s in film.spans
    ]
    text = cut_list(
        ROUTINE,
        CRAFT,
        rate=FRAMES_PER_SECOND,
        frames=frames_of(ROUTINE),
        frame_at=nearest_frame,
        filmed=spans,
        media={"take.mp4": TakeMedia(address="../takes/take.mp4", seconds=TAKE_SECONDS)},
    )
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


def test_takes_beside_a_routine_are_shown_and_what_cannot_be_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    studio = tmp_path / "studio"
    home = studio / "routines" / "evening"
    assert main(["start", str(studio)]) == 0
    (home / "takes").mkdir(parents=True)
    routine = home / "routine.json"
    routine.write_text(json.dumps(routine_to_dict(ROUTINE)), "utf-8")
    slower = next(p for p in ROUTINE.line if p.id == "p06")  # two beats a stroke, after the cards
    motion, kind = _motion_for(slower)
    scene = TakeScene(motion=motion, trouble=Trouble())
    write_take(home / "takes" / "hands.mp4", frames(scene))
    (home / "takes" / "broken.mp4").write_bytes(b"no film" * 100)
    write_take(home / "takes" / "not named.mp4", list(frames(scene))[:100])
    assert PASSAGE.technique is not None
    watch = ["watch", str(home / "takes" / "hands.mp4"), "--technique", PASSAGE.technique]
    assert main(watch) == 0, kind
    capsys.readouterr()
    words = ["make", str(routine), "--only", "video", "--quick", "--keep-sound"]
    assert main([*words, "--json"]) == 0
    made = json.loads(capsys.readouterr().out)
    (video,) = [part for part in made["parts"] if part["name"] == "video"]
    assert video["measured"]["filmed_passages"] >= 1
    assert video["measured"]["film_frames"] > 0
    notes = " ".join(made["notes"])
    assert "The take broken.mp4 is left out" in notes
    assert "The take not named.mp4 is not shown, for nobody has said what it shows" in notes
    assert f"rondel watch '{home / 'takes' / 'not named.mp4'}' --technique ID" in notes
    assert "The sound of hands.mp4 is left out: there is no sound in this file." in notes
    cuts = json.loads((home / "session" / "cut.otio").read_text("utf-8"))
    assert "../takes/hands.mp4" in json.dumps(cuts)
    assert main([*words, "--json"]) == 0
    again = json.loads(capsys.readouterr().out)
    assert all(part["fresh"] for part in again["parts"])
    tall = _stale_tall_video(home / "session")
    assert main([*words, "--drawn", "--shape", "wide,square", "--json"]) == 0
    drawn = json.loads(capsys.readouterr().out)
    assert [part["name"] for part in drawn["parts"]][-2:] == ["video", "video-square"]
    assert "filmed_passages" not in drawn["parts"][-1]["measured"]
    square = home / "session" / "session-square.mp4"
    assert square.exists()
    assert not tall.exists()
    assert "session-tall.mp4 was of an earlier make and is taken away" in " ".join(drawn["notes"])
    assert main([*words, "--drawn", "--json"]) == 0  # what is as it should be stays, asked or not
    assert square.exists()
    assert not [note for note in json.loads(capsys.readouterr().out)["notes"] if "taken" in note]


def _stale_tall_video(session: Path) -> Path:
    """Leave what a make of an earlier routine in another shape would have left."""
    tall = session / "session-tall.mp4"
    tall.write_bytes(b"of an earlier routine")
    made = json.loads((session / "made.json").read_text("utf-8"))
    digest = hashlib.sha256(tall.read_bytes()).hexdigest()
    made["stages"]["video-tall"] = {"inputs": "earlier", "files": {tall.name: digest}}
    (session / "made.json").write_text(json.dumps(made), "utf-8")
    return tall


def _motion_for(passage: Passage) -> tuple[Motion, Kind]:
    beats = [float(ROUTINE.clock.seconds_at(b)) for b in ROUTINE.landings(passage)]
    step = float(np.median(np.diff(beats)))
    for seed in range(500):
        for kind in (Kind.ALTERNATE, Kind.GLIDE):
            motion = make_motion(seed, 30.0, (kind,), jitter=0.1)
            usual = float(np.median(np.diff(motion.landings)))
            if min(abs(np.log(usual / step)), abs(np.log(2 * usual / step))) < 0.1:
                return motion, kind
    raise AssertionError("no motion is like that")


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
