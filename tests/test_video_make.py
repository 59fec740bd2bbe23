"""Making a video: what is kept, what is done again, and what is left after an interruption."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import av
import numpy as np
import pytest

from rondel.adapters.frame_paint import Art, FramePainter, colour_planes
from rondel.adapters.raster import ResvgRasteriser
from rondel.adapters.video import LibavVideoMaker
from rondel.app.make_video import LONGEST_CHUNK_FRAMES, VideoReport, make_video
from rondel.app.ports.raster import Rasteriser
from rondel.app.ports.video import EncodedChunk, Timed
from rondel.app.progress import Progress, Silent
from rondel.drawing.frames.cutting import cut_reel
from rondel.drawing.frames.reel import Reel
from rondel.drawing.frames.script import Script
from rondel.model.errors import OutsideFailure
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.words import Language
from video_samples import landing_seconds, look_at_mark, marked_landings, small_routine

#: One rasteriser and one maker, so that drawings are shared by all the makes below.
RASTER, MAKER = ResvgRasteriser(), LibavVideoMaker()


def short_routine() -> tuple[Routine, Craft]:
    """Return the last ten bars of the sample alone: 32 seconds at 75 beats a minute."""
    routine, craft = small_routine()
    passages = tuple(
        replace(p, start_bar=p.start_bar - 8) for p in routine.passages if p.start_bar >= 8
    )
    tempo = (replace(routine.tempo[1], bar=0),)
    return replace(routine, passages=passages, bars=10, tempo=tempo), craft


def make(
    routine: Routine,
    craft: Craft,
    folder: Path,
    progress: Progress | None = None,
    processes: int = 0,
) -> VideoReport:
    """Make a quick look of `routine`, in this process if nothing else is asked."""
    return make_video(
        routine,
        craft,
        (),
        None,
        folder / "session.mp4",
        folder / "work",
        RASTER,
        MAKER,
        progress or Silent(),
        quick=True,
        processes=processes,
    )


@dataclass
class StopsAfter:
    """Progress whose watcher gives up after some chunks."""

    chunks: int

    def begin(self, stage: str, total: float) -> None: ...

    def advance(self, done: float) -> None:
        self.chunks -= 1
        if self.chunks <= 0:
            raise KeyboardInterrupt

    def end(self) -> None: ...


def test_a_second_make_draws_nothing_and_gives_the_same_bytes(tmp_path: Path) -> None:
    routine, craft = short_routine()
    first = make(routine, craft, tmp_path)
    before = (tmp_path / "session.mp4").read_bytes()
    second = make(routine, craft, tmp_path)
    assert first["chunks_reused"] == 0
    assert second["chunks_reused"] == second["chunks"] == first["chunks"]
    assert (tmp_path / "session.mp4").read_bytes() == before


def test_two_processes_make_the_same_bytes_as_one(tmp_path: Path) -> None:
    routine, craft = short_routine()
    assert make(routine, craft, tmp_path / "one")["processes"] == 1
    assert make(routine, craft, tmp_path / "two", processes=2)["processes"] == 2
    one, two = (tmp_path / name / "session.mp4" for name in ("one", "two"))
    assert one.read_bytes() == two.read_bytes()


def test_a_machine_that_lends_no_shared_memory_makes_the_video_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A locked /dev/shm refuses the pool its semaphores; the whole make used to end there.
    def refuse(**_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("rondel.app.make_video.ProcessPoolExecutor", refuse)
    routine, craft = short_routine()
    assert make(routine, craft, tmp_path, processes=2)["frames"] > 0
    assert (tmp_path / "session.mp4").is_file()


@dataclass
class NamesChunks:
    """A maker that encodes nothing: it only notes which frames it was asked for."""

    asked: list[tuple[int, int]]

    def encode(
        self, reel: Reel, rasteriser: Rasteriser, out: Path, *, scale: float = 1.0
    ) -> EncodedChunk:
        self.asked.append((reel.first_frame, reel.first_frame + reel.frames))
        out.write_bytes(b"chunk")
        return EncodedChunk(frames=reel.frames, painting_seconds=0.0, encoding_seconds=0.0)

    def join(
        self,
        chunks: Sequence[Path],
        sound: Path | None,
        captions: Sequence[Timed],
        chapters: Sequence[Timed],
        out: Path,
        *,
        title: str,
        language: Language = Language.ENGLISH,
    ) -> None:
        out.write_bytes(b"".join(c.read_bytes() for c in chunks))


def test_an_edited_passage_redraws_only_what_shows_it(tmp_path: Path) -> None:
    """Twelve passages of 16 bars at 75 beats a minute are 51.2 s each. The seventh, 307.2 s to
    358.4 s, presses less. It is seen in its own frames, and as a line of the page in the stanza
    from 180 s to 360 s; never before 180 s and never after 360 s."""
    routine, craft = small_routine()
    one, knead = routine.tempo[1], routine.passages[1]
    row = tuple(replace(knead, id=f"p{n:02d}", start_bar=16 * n, bars=16) for n in range(12))
    long = replace(routine, passages=row, bars=192, tempo=(replace(one, bar=0),))
    maker = NamesChunks([])
    folder = tmp_path / "work", tmp_path / "session.mp4"

    def make_with_names(wanted: Routine) -> VideoReport:
        maker.asked.clear()
        return make_video(
            wanted, craft, (), None, folder[1], folder[0], RASTER, maker, Silent(), processes=0
        )

    first = make_with_names(long)
    assert maker.asked[0][0] == 0
    assert maker.asked[-1][1] == first["frames"] == round(192 * 3.2 * 25)
    softer = replace(row[6], pressure=1)
    second = make_with_names(replace(long, passages=(*row[:6], softer, *row[7:])))
    assert second["chunks_reused"] == second["chunks"] - len(maker.asked) > second["chunks"] / 2
    assert min(a for a, _ in maker.asked) >= 180 * 25 - LONGEST_CHUNK_FRAMES
    assert max(b for _, b in maker.asked) <= 360 * 25
    assert sum(b - a for a, b in maker.asked if a >= 307 * 25) >= 51 * 25
    assert len(list(folder[0].glob("*.mp4"))) == len(set(maker.asked)) + second["chunks_reused"]


def test_an_interrupted_make_keeps_its_chunks_and_leaves_no_half_video(tmp_path: Path) -> None:
    routine, craft = short_routine()
    with pytest.raises(KeyboardInterrupt):
        make(routine, craft, tmp_path, StopsAfter(3))
    assert not (tmp_path / "session.mp4").exists()
    assert len(list((tmp_path / "work").iterdir())) == 3
    assert make(routine, craft, tmp_path)["chunks_reused"] == 3


def test_left_overs_of_a_killed_make_are_cleared_away(tmp_path: Path) -> None:
    routine, craft = short_routine()
    work, out = tmp_path / "work", tmp_path / "session.mp4"
    work.mkdir()
    (work / ".part-abc.mp4").write_bytes(b"half")
    maker = NamesChunks([])
    make_video(routine, craft, (), None, out, work, RASTER, maker, Silent(), processes=0)
    assert not list(work.glob(".part-*"))
    assert out.exists()


def test_a_quick_look_has_half_the_size_and_the_same_landings(tmp_path: Path) -> None:
    routine, craft = short_routine()
    report = make(routine, craft, tmp_path)
    out = tmp_path / "session.mp4"
    with av.open(str(out)) as container:
        codec = container.streams.video[0].codec_context
        assert (codec.width, codec.height) == (640, 360)
        assert container.streams.video[0].frames == report["frames"] == 800
    assert report["quick"]
    marks = marked_landings(look_at_mark(out, 0.5))
    wanted = landing_seconds(routine)
    assert len(marks) == len(wanted)
    assert max(abs(a - b) for a, b in zip(marks, wanted, strict=True)) <= 0.02 + 1e-9


def test_frames_are_painted_alike_each_time_and_in_any_cut() -> None:
    """A frame drawn alone equals the same frame drawn after a hundred others."""
    routine, craft = small_routine()
    script = Script(routine, craft)

    def digest(first: int, past: int, wanted: int) -> str:
        painter = FramePainter(cut_reel(script, first, past), Art(RASTER))
        for number, planes in enumerate(painter.frames(), first):
            if number == wanted:
                return hashlib.sha256(planes.tobytes()).hexdigest()
        raise AssertionError("the frame was not painted")

    alone = digest(1150, 1151, 1150)
    assert digest(1150, 1151, 1150) == alone
    assert digest(1100, 1151, 1150) == alone


def test_colours_follow_bt_709() -> None:
    """ITU-R BT.709-6 at 8 bits: white is 235, black 16, grey has no colour differences, and the
    pure primaries reach the ends of Cb and Cr, 16 and 240."""
    rgb = np.array([[[255, 255, 255], [0, 0, 0], [0, 0, 255], [255, 0, 0]]], np.uint8)
    white, black, blue, red = np.round(colour_planes(rgb))[0].tolist()
    assert white == [235, 128, 128]
    assert black == [16, 128, 128]
    assert blue[1] == 240
    assert red[2] == 240
    # The luma coefficients: 16 + 219 × 0.0722 and 16 + 219 × 0.2126.
    assert (blue[0], red[0]) == (32, 63)


def test_a_folder_that_cannot_be_written_is_named_in_a_sentence(tmp_path: Path) -> None:
    reel = cut_reel(Script(*small_routine()), 0, 25)
    chunk, blocked = tmp_path / "chunk.mp4", tmp_path / "file"
    assert MAKER.encode(reel, RASTER, chunk, scale=0.25).frames == 25
    blocked.write_text("not a folder")
    with pytest.raises(OutsideFailure, match="cannot be written"):
        MAKER.join([chunk], None, (), (), blocked / "session.mp4", title="Blocked")
