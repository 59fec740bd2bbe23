"""`rondel listen` as a teacher meets it: what is heard, what she puts right, what is kept, and when
a track is heard again."""

from __future__ import annotations

import json
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator

import rondel.app.hear_track as hear_track_module
from ambient_tracks import make_track
from rondel.adapters.beat_weights import builtin_network
from rondel.adapters.heard_files import (
    FilesBesideTrack,
    corrections_path,
    heard_path,
)
from rondel.adapters.listened_files import ListenedFiles
from rondel.adapters.loudness import R128Meter
from rondel.adapters.track_files import TrackFiles
from rondel.app.hear_track import Asked, HeardTrack, HearTools, hear_track
from rondel.app.ports.sound import Loudness
from rondel.app.progress import Progress, Silent
from rondel.cli.heard import offers_of
from rondel.cli.main import STOPPED, main
from rondel.listening.corrections import with_presence
from rondel.listening.features import Features
from rondel.model.codec.moments import span_of
from rondel.model.codec.schema import schema
from rondel.model.corrections import NONE, Corrections, Moved
from rondel.model.errors import BadInput
from rondel.model.track import Heard, Span
from track_sounds import ticks, write_coded, write_plain

GOOD, NOT_GOOD, BAD_INPUT, OUTSIDE = 0, 1, 2, 3
EVERY = 0.8  # seconds: 75 beats a minute
FIRST = 0.25
SECONDS = 30.0
RATE = 22_050


def evening(path: Path, *, every: float = EVERY, seconds: float = SECONDS) -> Path:
    """Write a track of plain ticks: its beats are known exactly."""
    return write_plain(path, ticks(seconds=seconds, rate=RATE, every=every), RATE)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return evening(tmp_path_factory.mktemp("track") / "evening.flac")


@pytest.fixture
def track(made: Path, tmp_path: Path) -> Path:
    """A track in a studio's folder."""
    (tmp_path / "studio.toml").write_text('name = "Mine"\n', "utf-8")
    folder = tmp_path / "routines" / "dusk" / "music"
    folder.mkdir(parents=True)
    path = folder / "evening.flac"
    path.write_bytes(made.read_bytes())
    return path


def told(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    try:
        code = main(["listen", *(str(w) for w in words)])
    except SystemExit as leaving:
        code = int(leaving.code or 0)
    out, err = capsys.readouterr()
    return code, out, err


#: Features of sounds that were listened to, by digest: the same file is not decoded time and again.
LISTENED: dict[str, tuple[Features, Loudness]] = {}


class Ears:
    """Counts how often a track is listened to."""

    def __init__(self) -> None:
        self.times = 0

    def listen(
        self, track: Path, tools: HearTools, progress: Progress
    ) -> tuple[Features, Loudness]:
        self.times += 1
        digest = tools.tracks.digest(track)
        if digest not in LISTENED:
            LISTENED[digest] = LISTEN(track, tools, progress)
        return LISTENED[digest]


LISTEN = hear_track_module._listen


@pytest.fixture(autouse=True)
def ears(monkeypatch: pytest.MonkeyPatch) -> Ears:
    ears = Ears()
    monkeypatch.setattr(hear_track_module, "_listen", ears.listen)
    return ears


class Hearing:
    """Hears one track, whenever it is called."""

    def __init__(self, track: Path, way: str = "a way", listened: Path | None = None) -> None:
        self.track = track
        self.tools = HearTools(
            tracks=TrackFiles(),
            beside=FilesBesideTrack(),
            listened=ListenedFiles(listened),
            meter=R128Meter,
            network=builtin_network,
            way=way,
        )

    def __call__(self, **asked: object) -> HeardTrack:
        wish = Asked(**asked)  # type: ignore[arg-type]
        return hear_track(self.track, self.tools, progress=Silent(), asked=wish)


def test_what_is_heard_is_printed_and_kept_beside_a_track_in_a_studio(
    track: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = told(capsys, track)
    assert code == GOOD
    assert "75 beats a minute, steady" in out
    assert "A beat can be heard" in out
    data = json.loads(heard_path(track).read_text("utf-8"))
    Draft202012Validator(schema("heard")).validate(data)
    code, printed, _ = told(capsys, track, "--json")
    assert code == GOOD
    as_json = json.loads(printed)
    assert {key: data[key] for key in as_json} == as_json


def test_the_beats_of_plain_ticks_are_where_they_are(track: Path) -> None:
    heard = Hearing(track)().heard
    assert heard.bpm == pytest.approx(60 / EVERY, rel=0.002)
    truth = np.arange(FIRST, SECONDS - 0.1, EVERY)
    beats = np.array(heard.beats)
    inside = truth[(truth > 5) & (truth < 25)]
    nearest = np.abs(inside[:, None] - beats).min(axis=1)
    assert np.median(nearest) < 0.01
    assert nearest.max() < 0.03
    assert heard.seconds == pytest.approx(SECONDS, abs=0.01)
    assert len(heard.shape) == 300


def test_loudness_and_true_peak_are_those_of_r_128(tmp_path: Path) -> None:
    # EBU Tech 3341 (2023), table 1, case 1: a stereo sine of 1 kHz at -23 dBFS reads -23 LUFS.
    t = np.arange(20 * 48_000) / 48_000
    sine = 10 ** (-23 / 20) * np.sin(2 * np.pi * 1000 * t)
    path = tmp_path / "sine.wav"
    write_plain(path, np.repeat(sine[:, None], 2, axis=1).astype(np.float32), 48_000, "FLOAT")
    heard = Hearing(path)().heard
    assert heard.loudness == pytest.approx(-23.0, abs=0.1)
    assert heard.true_peak == pytest.approx(-23.0, abs=0.2)


def test_outside_a_studio_nothing_is_left_behind_unless_asked(
    made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "evening.flac"
    path.write_bytes(made.read_bytes())
    assert told(capsys, path)[0] == GOOD
    assert [p.name for p in tmp_path.iterdir()] == ["evening.flac"]
    assert told(capsys, path, "--out", tmp_path / "kept")[0] == GOOD
    assert (tmp_path / "kept" / "evening.flac.heard.json").is_file()


def test_a_track_is_heard_once_until_it_changes(track: Path, ears: Ears) -> None:
    hear = Hearing(track)
    first = hear()
    again = hear()
    assert ears.times == 1
    assert (first.was_kept, again.was_kept) == (False, True)
    assert again.heard == first.heard
    evening(track, every=0.9)
    other = hear()
    assert ears.times == 2
    assert other.heard.beats != first.heard.beats


def test_a_track_is_heard_again_when_the_way_of_listening_changes(track: Path) -> None:
    Hearing(track)()
    later = Hearing(track, way="a better way")
    assert not later().was_kept
    assert later().was_kept


@pytest.mark.parametrize("text", ["", "{", "[]", '{"bpm": 3}', '{"bpm": "x", "made_from": {}}'])
def test_a_spoilt_file_of_what_was_heard_is_made_anew(track: Path, text: str, ears: Ears) -> None:
    hear = Hearing(track)
    first = hear()
    heard_path(track).write_text(text, "utf-8")
    assert hear().heard == first.heard
    assert ears.times == 2


ASKED: list[dict[str, object]] = [
    {"more": Corrections(bpm=150.0)},
    {"more": Corrections(bpm=37.5)},
    {"more": Corrections(beats_per_bar=3)},
    {"more": Corrections(bars_at=(FIRST + 3 * EVERY,))},
    {"more": Corrections(taps=tuple(FIRST + (5 + 2 * k) * EVERY for k in range(8)))},
]


@pytest.mark.parametrize("asked", ASKED)
def test_put_right_twice_is_once_and_taken_back_leaves_what_was_heard(
    track: Path, asked: dict[str, object]
) -> None:
    hear = Hearing(track)
    first = hear()
    once = hear(**asked)
    text = corrections_path(track).read_text("utf-8")
    twice = hear(**asked)
    assert once.heard != first.heard
    assert twice.heard == once.heard
    assert corrections_path(track).read_text("utf-8") == text
    back = hear(forget=("tempo", "bars", "sections", "motif", "beat"))
    assert back.heard == first.heard
    assert not corrections_path(track).exists()


def test_a_line_taken_out_of_the_file_by_hand_counts_no_more(track: Path) -> None:
    hear = Hearing(track)
    first = hear()
    both = hear(times=2.0, more=Corrections(beats_per_bar=3))
    assert both.heard.bpm == pytest.approx(first.heard.bpm * 2, rel=1e-4)
    path = corrections_path(track)
    lines = path.read_text("utf-8").splitlines()
    path.write_text("\n".join(line for line in lines if not line.startswith("bpm")), "utf-8")
    left = hear()
    assert left.heard.bpm == first.heard.bpm
    assert left.heard.beats_per_bar == 3
    assert left.corrections == Corrections(beats_per_bar=3)


def test_half_as_fast_is_kept_as_the_tempo_that_it_means(track: Path) -> None:
    hear = Hearing(track)
    first = hear()
    hear(times=0.5)
    kept = tomllib.loads(corrections_path(track).read_text("utf-8"))
    assert kept == {"bpm": pytest.approx(first.heard.bpm / 2, abs=1e-4)}


def test_a_correction_that_cannot_be_leaves_all_as_it_was(track: Path) -> None:
    hear = Hearing(track)
    hear(more=Corrections(beats_per_bar=3))
    before = {p.name: p.read_bytes() for p in track.parent.iterdir()}
    with pytest.raises(BadInput, match="no section begins about 10:00"):
        hear(more=Corrections(moved=(Moved(of=600.0, to=601.0),)))
    with pytest.raises(BadInput, match="after the end of the track"):
        hear(more=Corrections(taps=(500.0, 501.0, 502.0, 503.0)))
    assert {p.name: p.read_bytes() for p in track.parent.iterdir()} == before


def test_corrections_win_and_are_said(track: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = told(
        capsys, track, "--half-as-fast", "--beats-in-a-bar", "2", "--no-beat", "0:00-0:06"
    )
    assert code == GOOD
    assert "37.5 beats a minute, steady, in bars of two" in out
    assert "the tempo, 37.5 beats a minute (first heard as 75 beats a minute)" in out
    assert "no beat can be heard 0:00-0:06" in out
    assert "--forget-corrections" in out
    data = json.loads(heard_path(track).read_text("utf-8"))
    assert data["beatless"][0][0] == 0
    assert data["beatless"][0][1] >= 6
    assert data["beats_per_bar"] == 2


def test_every_command_that_is_offered_works(
    track: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, out, _ = told(capsys, track)
    commands = [line.split() for line in out.splitlines() if line.strip().startswith("rondel ")]
    others = json.loads(heard_path(track).read_text("utf-8"))["others"]
    whole = [c for c in commands if c[-1] not in ("TIME", "FROM-TO")]
    assert len(whole) >= len(others) >= 1
    for other, command in zip(others, whole, strict=False):
        told(capsys, track, "--forget-corrections")
        code, printed, err = told(capsys, *command[2:], "--json")
        assert code == GOOD, err
        now = json.loads(printed)
        assert now["bpm"] == pytest.approx(other["bpm"], rel=0.01)
        assert now["beats_per_bar"] == other["beats_per_bar"]


def test_where_it_is_not_sure_of_a_beat_the_offer_settles_it() -> None:
    unsure = Span(start=3.1234, end=9.8766)
    heard = Heard(
        seconds=30.0,
        bpm=60.0,
        is_constant=True,
        beats_per_bar=4,
        beats=tuple(float(k) for k in range(30)),
        downbeats=tuple(float(k) for k in range(0, 30, 4)),
        unsure=(unsure,),
    )
    found = HeardTrack(
        heard=heard, corrections=NONE, first_bpm=60.0, first_beats_per_bar=4, was_kept=False
    )
    commands = [command for _, command in offers_of(found, Path("my track.flac"))]
    assert "rondel listen 'my track.flac' --beat 0:03.1-0:09.9" in commands
    said = Corrections(with_beat=(span_of("0:03.1-0:09.9"),))
    assert with_presence(heard, said).unsure == ()


def test_taps_come_from_a_file_or_a_list(
    track: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    taps = [FIRST + (4 + 2 * k) * EVERY - 0.02 for k in range(10)]
    file = tmp_path / "taps.txt"
    file.write_text("# on Sunday\n" + "\n".join(f"{t:.3f}" for t in taps), "utf-8")
    _, from_file, _ = told(capsys, track, "--taps", file, "--json")
    told(capsys, track, "--forget", "tempo")
    _, from_list, _ = told(capsys, track, "--taps", " ".join(f"{t:.3f}" for t in taps), "--json")
    assert json.loads(from_file) == json.loads(from_list)
    beats = np.array(json.loads(from_list)["beats"])
    exact = FIRST + np.arange(6, 20, 2) * EVERY
    assert np.abs(exact[:, None] - beats).min(axis=1).max() < 0.03
    assert np.median(np.diff(beats)) == pytest.approx(2 * EVERY, rel=0.01)


def test_a_picture_is_drawn_where_it_is_asked_for(
    track: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, start in (("evening.svg", b"<svg"), ("evening.png", b"\x89PNG")):
        code, out, _ = told(capsys, track, "--picture", tmp_path / name)
        assert code == GOOD
        assert name in out
        assert (tmp_path / name).read_bytes().startswith(start)


def test_a_silent_track_is_not_good(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    silent = write_plain(tmp_path / "silent.wav", np.zeros((RATE * 12, 2), np.float32), RATE)
    code, out, err = told(capsys, silent)
    assert code == NOT_GOOD, err
    assert "It is silent." in out
    code, printed, _ = told(capsys, silent, "--json")
    assert code == NOT_GOOD
    data = json.loads(printed)
    assert data["loudness"] is None
    assert data["true_peak"] is None


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--tempo", "999"), "999 must be from 20 to 300 beats a minute"),
        (("--tempo", "slow"), "slow must be from 20 to 300"),
        (("--bar-at", "soon"), "soon must be a time"),
        (("--move-section", "1:30"), "must say which section"),
        (("--motif", "9-3"), "9-3 must be from one time to a later one"),
        (("--beats-in-a-bar", "0"), "0 must be a whole number from 1 to 16"),
        (("--taps", "no-such-file"), "there is no such file"),
        (("--taps", "1 2"), "4 taps or more"),
        (("--twice-as-fast", "--half-as-fast"), "not allowed with"),
        (("--forget", "colours"), "invalid choice"),
        (("--picture", "evening.gif"), "a picture is .svg or .png"),
        (("--beat", "0-9", "--no-beat", "8-9"), "both with and without a beat"),
    ],
)
def test_words_that_cannot_be_are_refused_before_anything_is_heard(
    track: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], says: str
) -> None:
    code, out, err = told(capsys, track, *words)
    assert code == BAD_INPUT
    assert says in err
    assert "listening to" not in err
    assert not out
    assert [p.name for p in track.parent.iterdir()] == ["evening.flac"]


def test_what_comes_after_the_end_is_refused_and_not_kept(
    track: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for words in (("--bar-at", "99:00"), ("--no-beat", "98:00-99:00"), ("--motif", "97:00-97:09")):
        code, out, err = told(capsys, track, *words)
        assert code == BAD_INPUT
        assert "the track ends at" in err
        assert not out
        assert not corrections_path(track).exists()


def test_a_slip_in_the_file_of_corrections_is_named(
    track: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    corrections_path(track).write_text("bpm = 5\n", "utf-8")
    code, _, err = told(capsys, track)
    assert code == BAD_INPUT
    assert "evening.flac.corrections.toml: bpm: is 5, but must be from 20 to 300" in err


def test_what_is_no_track_is_refused_in_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "empty.mp3").touch()
    for name, says in (("empty.mp3", "the file is empty"), ("none.mp3", "there is no such file")):
        code, out, err = told(capsys, tmp_path / name)
        assert code == BAD_INPUT
        assert says in err
        assert not out
        assert "Traceback" not in err


def test_a_folder_that_cannot_be_written_is_an_outside_failure(
    made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").touch()
    code, _, err = told(capsys, made, "--out", tmp_path / "file" / "kept")
    assert code == OUTSIDE
    assert "choose another folder" in err


def test_hearing_can_be_stopped_and_leaves_nothing_half_done(
    track: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    LISTENED.clear()
    monkeypatch.setattr("rondel.cli.progress_bar.Bars.advance", stop)
    code, _, err = told(capsys, track, "--half-as-fast")
    assert code == STOPPED
    assert "stopped" in err
    assert [p.name for p in track.parent.iterdir()] == ["evening.flac"]


def test_a_coded_copy_is_heard_as_the_track_itself(made: Path, tmp_path: Path) -> None:
    sound = ticks(seconds=SECONDS, rate=48_000, every=EVERY)
    copy = write_coded(tmp_path / "evening.opus", "libopus", sound, 48_000)
    one, other = Hearing(made)().heard, Hearing(copy)().heard
    assert other.bpm == pytest.approx(one.bpm, rel=1e-3)
    middle = [b for b in one.beats if 5 < b < 25]
    off = [min(abs(b - c) for c in other.beats) for b in middle]
    assert max(off) < 0.015


def test_an_ambient_track_is_heard_from_its_file(tmp_path: Path) -> None:
    # A seed of the test list of benchmarks/tracks/split.json: nothing was tuned on it.
    made = make_track(501, 90.0)
    heard = Hearing(write_plain(tmp_path / "ambient.ogg", made.sound, made.rate))().heard
    assert heard.is_constant
    assert heard.bpm == pytest.approx(made.truth.bpm, rel=2e-4)
    assert heard.beats_per_bar == made.truth.beats_per_bar
    beats, truth = np.array(heard.beats), np.array(made.truth.beats)
    off = np.abs(truth[:, None] - beats).min(axis=1)
    assert np.median(off) < 0.01
    assert (off < 0.07).mean() > 0.95
    assert len(heard.sections) > 1
    last = heard.sections[-1].span.end
    assert last == pytest.approx(heard.seconds, abs=0.01)


def test_corrections_are_kept_apart_for_each_track(track: Path) -> None:
    other = evening(track.with_name("morning.flac"), seconds=20)
    beside = FilesBesideTrack()
    beside.correct(track, Corrections(beats_per_bar=3))
    assert beside.corrections(other) == NONE
    assert beside.corrections(track) == replace(NONE, beats_per_bar=3)
    beside.correct(track, NONE)
    assert sorted(p.name for p in track.parent.iterdir()) == ["evening.flac", "morning.flac"]
