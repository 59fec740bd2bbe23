"""Film in a session, made: hands land in the encoded film, and what a make shows is told."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from itertools import islice
from pathlib import Path

import av
import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from film_samples import CRAFT, PASSAGE, ROUTINE, film_of, fitted, source_of
from rondel.adapters.film_between import Between
from rondel.adapters.film_frames import FilmFrames
from rondel.adapters.frame_shapes import paper_planes, size_of
from rondel.adapters.planes import joined, split
from rondel.adapters.raster import ResvgRasteriser
from rondel.adapters.video import LibavVideoMaker
from rondel.app.make_video import PictureWishes, make_video
from rondel.app.progress import Silent
from rondel.cli.main import main
from rondel.drawing.frames.layout import FRAMES_PER_SECOND
from rondel.drawing.frames.reel import FilmedTake, Footage, Shown
from rondel.drawing.frames.script import frames_of
from rondel.drawing.frames.shapes import Shape
from rondel.model.codec.routine import routine_to_dict
from rondel.model.routine import Passage
from take_files_made import write_take
from take_marks import marked, shown_seconds
from take_motion import Kind, Motion, make_motion
from take_scenes import TakeScene, Trouble, frames

TAKE_SECONDS = 26.0


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A take with marks in its colour that tell the second of every picture."""
    motion = make_motion(41, TAKE_SECONDS, (Kind.ALTERNATE,), jitter=0.15)
    path = tmp_path_factory.mktemp("takes") / "take.mp4"
    drawn = frames(TakeScene(motion=motion, trouble=Trouble()))
    return marked(path, drawn, TAKE_SECONDS, preset="superfast")


def test_hands_land_on_the_beat_in_the_encoded_film(take: Path, tmp_path: Path) -> None:
    """Strokes are given; how near their pictures come is read off the film's own colours."""
    film = film_of(take, TAKE_SECONDS)
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
    (span,) = film_of(take, TAKE_SECONDS).spans
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
    write_take(home / "takes" / "not named.mp4", islice(frames(scene), 100))
    assert PASSAGE.technique is not None
    watch = ["watch", str(home / "takes" / "hands.mp4"), "--technique", PASSAGE.technique]
    assert main(watch) == 0, kind
    capsys.readouterr()
    words = ["make", str(routine), "--only", "video", "--quick", "--keep-sound"]
    assert main([*words, "--json"]) == 0
    made = json.loads(capsys.readouterr().out)
    (video,) = [part for part in made["parts"] if part["name"] == "video"]
    filmed = video["measured"]["filmed_passages"]
    assert filmed >= 1
    assert video["measured"]["film_frames"] > 0
    notes = " ".join(made["notes"])
    assert "The take broken.mp4 is left out" in notes
    assert "The take not named.mp4 is not shown, for nobody has said what it shows" in notes
    assert f"rondel watch '{home / 'takes' / 'not named.mp4'}' --technique ID" in notes
    assert "The sound of hands.mp4 is left out: there is no sound in this file." in notes
    cuts = json.loads((home / "session" / "cut.otio").read_text("utf-8"))
    pictures = cuts["tracks"]["children"][0]["children"]
    own = [clip for clip in pictures if "../takes/hands.mp4" in json.dumps(clip)]
    # What stays drawn for the cards of the opening is not told as film.
    assert filmed == len({clip["metadata"]["rondel"]["passage"] for clip in own})
    assert "stay drawn for the words to be read there" in video["measured"]["says"]
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
            motion = make_motion(seed, 18.0, (kind,), jitter=0.1)
            usual = float(np.median(np.diff(motion.landings)))
            if min(abs(np.log(usual / step)), abs(np.log(2 * usual / step))) < 0.1:
                return motion, kind
    raise AssertionError("no motion is like that")
