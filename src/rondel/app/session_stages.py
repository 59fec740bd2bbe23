"""The parts of a session and what each is made from: the recipe of `make_session`."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import cached_property
from pathlib import Path
from types import MappingProxyType

from rondel.app.fit_takes import film_report
from rondel.app.make_follow import FOLLOW, make_follow
from rondel.app.make_paper import PAPER_FILES, Write, make_paper
from rondel.app.make_session import VIDEO_STAGES
from rondel.app.make_sound import SoundWishes, make_sound
from rondel.app.make_video import PictureWishes, make_video, processes_for
from rondel.app.make_words import WORDS_FILES, make_words
from rondel.app.mix_sound import SOUND, SOUND_SMALL, THREADS
from rondel.app.ports.follow_parts import FollowParts
from rondel.app.ports.raster import Rasteriser
from rondel.app.ports.session import SessionFolder
from rondel.app.ports.sound import SoundWorks
from rondel.app.ports.text_files import WriteText
from rondel.app.ports.typesetting import Typesetter
from rondel.app.ports.video import TimedText, VideoMaker
from rondel.app.ports.voice import Recordings, Speaker, Speech
from rondel.app.progress import Progress
from rondel.app.speak_cues import speak_cues
from rondel.app.stages import Stage
from rondel.documents.captions import caption_spans
from rondel.documents.cut_list import PICTURE as VIDEO
from rondel.drawing.frames.film import Film
from rondel.drawing.frames.script import Script
from rondel.drawing.frames.shapes import Shape
from rondel.drawing.lettering import unknown_letters
from rondel.drawing.page_cards import Still
from rondel.model.codec.craft import caution_to_dict, region_to_dict, technique_to_dict
from rondel.model.codec.routine import routine_to_dict
from rondel.model.repertoire import Craft
from rondel.model.routine import Proof, Routine
from rondel.music.instruments.tone import Instrument
from rondel.music.score import LayerName

VIDEOS: Mapping[Shape, str] = MappingProxyType(
    {Shape.WIDE: VIDEO, Shape.TALL: "session-tall.mp4", Shape.SQUARE: "session-square.mp4"}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tools:
    """Everything outside that making a session calls upon."""

    speaker: Speaker
    sound: SoundWorks
    typesetter: Typesetter
    rasteriser: Rasteriser
    video: VideoMaker
    instruments: Mapping[LayerName, Instrument]
    instruments_digest: str
    still: Still
    follow_parts: FollowParts
    write_bytes: Write
    write_text: WriteText


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """One routine, what it is made with, and where. `own_voice` are the teacher's recordings, and
    `own_voice_digests` tells when they change; `wishes` are those for its sound, and `track_digest`
    tells when a brought track changes; `work` keeps unfinished video; `cores` tells how many may
    be used from now on, where it is not all of them."""

    routine: Routine
    craft: Craft
    folder: SessionFolder
    work: Path
    tools: Tools
    own_voice: Recordings | None
    own_voice_digests: Mapping[str, str]
    quick: bool
    progress: Progress
    wishes: SoundWishes = field(default_factory=SoundWishes)
    track_digest: str = ""
    pictures: tuple[PictureWishes, ...] = (PictureWishes(),)
    cores: Callable[[], int] | None = None

    @cached_property
    def speech(self) -> Speech:
        """The cues as sound, spoken once for all the parts that need them."""
        return speak_cues(self.routine, self.own_voice, self.tools.speaker, self.progress)

    @cached_property
    def _seen(self) -> dict[str, object]:
        """What pictures and paper depend on: all of the routine but its proof, and the craft."""
        used = {p.technique for p in self.routine.passages}
        techniques = [technique_to_dict(t) for t in self.craft.techniques if t.id in used]
        return {
            "routine": routine_to_dict(replace(self.routine, proof=Proof())),
            "techniques": techniques,
            "regions": [region_to_dict(r) for r in self.craft.regions],
            "cautions": [caution_to_dict(c) for c in self.craft.cautions],
        }

    @cached_property
    def _heard(self) -> dict[str, object]:
        """What the voice adds to it."""
        return {**self._seen, "voice": dict(sorted(self.own_voice_digests.items()))}

    def stages(self) -> tuple[Stage, ...]:
        """Return the stages in the order in which they need each other."""
        return (
            self._stage("words", WORDS_FILES, self._words_inputs, self._words),
            self._stage("page", PAPER_FILES, lambda: self._seen, self._paper),
            self._stage("follow", (FOLLOW,), lambda: self._heard, self._follow),
            self._stage("audio", (SOUND, SOUND_SMALL), self._sound_inputs, self._sound),
            *(self._video_stage(picture) for picture in self.pictures),
        )

    def unasked_videos(self) -> tuple[Stage, ...]:
        """Return the videos in shapes that nobody asked for now, as they would be made."""
        asked = {picture.shape for picture in self.pictures}
        others = (shape for shape in VIDEOS if shape not in asked)
        return tuple(self._video_stage(replace(self.pictures[0], shape=one)) for one in others)

    def _stage(
        self,
        name: str,
        files: tuple[str, ...],
        inputs: Callable[[], object],
        make: Callable[[], Mapping[str, object]],
    ) -> Stage:
        return Stage(name=name, inputs=inputs, files=files, make=lambda _progress: make())

    @property
    def _main_picture(self) -> PictureWishes:
        """The video that the cut list names: the wide one, where it was asked for."""
        wide = (one for one in self.pictures if one.shape is Shape.WIDE)
        return next(wide, self.pictures[0])

    def _words_inputs(self) -> object:
        picture = self._main_picture
        shots = picture.told().get("shots")
        places = {name: source.path for name, source in picture.sources.items()}
        own = {"shots": shots, "takes": places} if shots else {}
        video = {} if picture.shape is Shape.WIDE else {"video": VIDEOS[picture.shape]}
        return {**self._heard, **own, **video}

    def _words(self) -> Mapping[str, object]:
        out, write = self.folder.path, self.tools.write_text
        picture = self._main_picture
        video = VIDEOS[picture.shape]
        return asdict(make_words(self.routine, self.craft, self.speech, out, write, picture, video))

    def _paper(self) -> Mapping[str, object]:
        make_paper(
            self.routine,
            self.craft,
            self.folder.path,
            self.tools.typesetter,
            self.progress,
            still=self.tools.still,
            write=self.tools.write_bytes,
        )
        return {"notes": list(self._letter_notes())}

    def _letter_notes(self) -> Iterator[str]:
        """Yield a sentence for every name whose letters the bundled typeface lacks."""
        used = {p.technique for p in self.routine.passages}
        names = [t.plain for t in self.craft.techniques if t.id in used]
        for name in (self.routine.title, *names):
            missing = unknown_letters(name)
            if missing:
                yield (
                    f"The letters {missing} in “{name}” are not in the bundled typeface and show "
                    "as boxes on paper and in the video; choose others."
                )

    def _follow(self) -> Mapping[str, object]:
        tools = self.tools
        report = make_follow(
            self.routine,
            self.craft,
            self.speech,
            self.folder.path,
            tools.follow_parts,
            tools.write_text,
        )
        return asdict(report)

    def _sound(self) -> Mapping[str, object]:
        report = make_sound(
            self.routine,
            self.craft,
            self.speech,
            self.folder.path,
            self.tools.sound,
            self.progress,
            instruments=self.tools.instruments,
            wishes=self.wishes,
            threads=min(self.cores(), THREADS) if self.cores else THREADS,
        )
        return report.as_dict()

    def _sound_inputs(self) -> object:
        wishes = self.wishes
        return {
            **self._heard,
            "instruments": self.tools.instruments_digest,
            "track": self.track_digest,
            "loudness": wishes.loudness.name,
            "beat_marks": wishes.has_beat_marks,
            "stems": {layer: dict(told) for layer, told in wishes.own_stems.told.items()},
            **({"kept": wishes.kept.told} if wishes.kept.pieces else {}),
        }

    def _video_stage(self, picture: PictureWishes) -> Stage:
        return self._stage(
            VIDEO_STAGES[picture.shape],
            (VIDEOS[picture.shape],),
            lambda: self._video_inputs(picture),
            lambda: self._video(picture),
        )

    def _video_inputs(self, picture: PictureWishes) -> object:
        return {
            **self._heard,
            "sound": self.folder.digest(SOUND_SMALL),
            "quick": self._is_quick(picture.shape),
            **picture.told(),
        }

    def _is_quick(self, shape: Shape) -> bool:
        """Whether a video is quick: as asked now, or as it was made where nobody asks for it."""
        if any(picture.shape is shape for picture in self.pictures):
            return self.quick
        stages = self.folder.read_made().get("stages")
        record = stages.get(VIDEO_STAGES[shape]) if isinstance(stages, Mapping) else None
        measured = record.get("measured") if isinstance(record, Mapping) else None
        return isinstance(measured, Mapping) and measured.get("quick") is True

    def _video(self, picture: PictureWishes) -> Mapping[str, object]:
        captions = [
            TimedText(start_seconds=c.start_seconds, end_seconds=c.end_seconds, text=c.text)
            for c in caption_spans(self.routine, self.speech)
        ]
        report = make_video(
            self.routine,
            self.craft,
            captions,
            self.folder.path / SOUND_SMALL,
            self.folder.path / VIDEOS[picture.shape],
            self.work,
            self.tools.rasteriser,
            self.tools.video,
            self.progress,
            quick=self.quick,
            processes=processes_for(self.cores()) if self.cores else None,
            picture=picture,
        )
        film = Film(Script(self.routine, self.craft), picture.fitted, picture.sources)
        seen = {self.routine.line[span.passage].id for span in film.spans}
        return {**report, **film_report(picture.fitted, seen)}
