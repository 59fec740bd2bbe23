"""The cues of a routine: what is said, and on which beat it begins."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from hashlib import blake2b
from itertools import chain

from rondel.cues.announcing import (
    announcements,
    beginnings,
    farewells,
    left_unsaid,
    lying,
    middle_banks,
    one_of,
    words_of,
)
from rondel.cues.choice import Choice, Wording
from rondel.cues.languages import PHRASES
from rondel.cues.pace import SECONDS_BETWEEN
from rondel.cues.placing import Room
from rondel.cues.scene import Scene, scenes, spoken_name
from rondel.model.names import language_of
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Cue, Routine
from rondel.model.spans import heard_beats, times_scale
from rondel.model.words import Intention, NamesShown, Role

#: Common practice, no source: lines in the middle of a passage are rare, and praise is rarer.
MIDDLE_EVERY_SECONDS = 50.0
MIDDLE_ROOM_SECONDS = 30.0
MIDDLE_CLEAR_SECONDS = 10.0
SLEEP_MIDDLE_EVERY_SECONDS = 90.0
SLEEP_QUIET_FROM = 0.6  # share of the time from which sleep has no middle lines
PRAISE_EVERY_SECONDS = 240.0
SILENT_PASSAGES = 5  # about one long passage in five is left without a middle line
#: An announcement of up to this length may tell all; more only lets the change itself be told.
LONGEST_ANNOUNCEMENT_SECONDS = 11.0
FULL_SHARE = 0.6  # of the passage it is spoken in
LAST_SILENCE_SECONDS = 10.0  # after the final words, scaled
TURN_SECONDS = 12.0  # to turn over in, scaled (rule `positions`)


def word_cues(routine: Routine, craft: Craft) -> tuple[Cue, ...]:
    """Return the cues of `routine`, in order, called c01, c02 and so on.

    Each is over before the end of the passage it begins in, at the bundled voice's pace; two cues
    are at least a second apart; a change is told before it comes. Equal routines give equal cues.
    Cues that the routine already has are not looked at. They are in the language of the brief.
    """
    writer = _Writer(routine, craft.in_language(language_of(routine)))
    placed = sorted(writer.write())
    width = max(2, len(str(len(placed))))
    return tuple(
        Cue(id=f"c{n:0{width}d}", at_beat=beat, say=say)
        for n, (beat, say) in enumerate(placed, start=1)
    )


@dataclass(slots=True)
class _Writer:
    routine: Routine
    craft: Craft
    choice: Choice = field(init=False)
    scenes: tuple[Scene, ...] = field(init=False)
    shown: NamesShown = field(init=False)
    last_middle: float = -1e9
    last_praise: float = 0.0
    slip_is_told: bool = False

    def __post_init__(self) -> None:
        self.choice = Choice(seed=self.routine.seed, phrases=PHRASES[language_of(self.routine)])
        self.scenes = tuple(scenes(self.routine, self.craft))
        brief = self.routine.brief
        self.shown = brief.names if brief else NamesShown.PLAIN

    def write(self) -> Iterator[tuple[Fraction, str]]:
        told: frozenset[str] | None = frozenset()
        for i, scene in enumerate(self.scenes):
            room = Room(self.routine, scene.entering, self.choice)
            after = self.scenes[i + 1] if i + 1 < len(self.scenes) else None
            told = self._fill(room, scene, after, told)
            yield from room.placed

    def _fill(
        self, room: Room, scene: Scene, after: Scene | None, told: frozenset[str] | None
    ) -> frozenset[str] | None:
        """Fill one passage with words; return what its announcement of the next has told.

        None where there was no room to announce it.
        """
        if scene.leaving is None:
            self._welcome(room, scene, after)
        turn_is_said = after is not None and self._early_turn(room, after)
        if after is None:
            self._end(room, scene, told)
            return frozenset()
        begins = sum(self._beginning_needs(room, scene)) if scene.leaving is None else 0.0
        taken = self._announce(room, after, turn_is_said=turn_is_said, keep_free=begins)
        if scene.leaving is None:
            self._begin(room, scene)
        else:
            self._tell_rest(room, scene, told)
        self._slip(room, scene)
        self._beat_comes(room)
        self._middle(room, scene)
        if taken is None and not _is_well_known(after):
            return None
        return taken.tells if taken else frozenset()

    def _end(self, room: Room, scene: Scene, told: frozenset[str] | None) -> None:
        """Fill the last passage. Towards sleep the farewell comes early, and then silence."""
        is_sleep = self.routine.intention is Intention.SLEEP
        if is_sleep:
            self._tell_rest(room, scene, told)
        self._farewell(room)
        if not is_sleep:
            self._tell_rest(room, scene, told)

    # -------------------------------------------------------------- first and last words
    def _welcome(self, room: Room, scene: Scene, after: Scene | None) -> None:
        """Ask for consent first; a shorter line where else there is no room for what follows."""
        room.free_from = self.routine.start_seconds(room.passage) + 1.0
        change = 0.0
        if after is not None:
            change = (
                self._least(announcements(after, self.choice, self.shown)) + 2 * SECONDS_BETWEEN
            )
        lies, begins = self._beginning_needs(room, scene)
        lines = list(one_of(self.choice.phrases.WELCOME, self.choice))
        lines.sort(key=lambda w: len(w.text) < 60)  # a short one only where a long one has no room
        for keep_free in (change + lies + begins, change + lies, change):
            if room.at_start(lines, keep_free=keep_free) is not None:
                return
        room.at_start(sorted(lines, key=lambda w: len(w.text)))

    def _beginning_needs(self, room: Room, scene: Scene) -> tuple[float, float]:
        """Return the seconds to say how the receiver lies, and what the hands begin with."""
        lies = self._least(lying(room.passage.position, self.choice)) + SECONDS_BETWEEN
        return lies, self._least(beginnings(scene, self.choice, self.shown)) + SECONDS_BETWEEN

    def _begin(self, room: Room, scene: Scene) -> None:
        first = list(beginnings(scene, self.choice, self.shown))
        bare = self._least(first) + 2 * SECONDS_BETWEEN
        lies = list(lying(room.passage.position, self.choice))
        room.at_start(lies, keep_free=bare) or room.at_start(lies[-1:])
        room.at_start(one_of(self.choice.phrases.WARM_HANDS, self.choice), keep_free=bare)
        room.at_start(first)
        room.free_from += 2 * SECONDS_BETWEEN
        if heard_beats(self.routine)[0] > 0:
            room.at_start(one_of(self.choice.phrases.NO_BEAT_YET, self.choice))
        self.last_middle = room.free_from

    def _farewell(self, room: Room) -> None:
        """Say the last words: at the end, and towards sleep early, for nobody is to be woken."""
        if self.routine.intention is Intention.SLEEP:
            lines = list(self._last_words(room))
            room.at_start(lines) or room.at_start(sorted(lines, key=lambda w: len(w.text)))
            return
        silence = LAST_SILENCE_SECONDS * times_scale(self.routine)
        whole = room.free_to
        room.free_to = whole - silence
        lines = list(self._last_words(room))
        if room.at_end(lines) is None:
            room.free_to = whole
            room.at_end(sorted(lines, key=lambda w: len(w.text)))

    def _last_words(self, room: Room) -> Iterator[Wording]:
        return farewells(self.routine.intention, room.passage.position, self.choice)

    # -------------------------------------------------------------- changes
    def _announce(
        self, room: Room, after: Scene, *, turn_is_said: bool, keep_free: float
    ) -> Wording | None:
        """Announce `after` at the end of the room; quiet where the couple knows the way.

        `keep_free` seconds stay free before it, if they can.
        """
        if _is_well_known(after):
            return None
        wordings = list(announcements(after, self.choice, self.shown, turn_is_said=turn_is_said))
        most = min(LONGEST_ANNOUNCEMENT_SECONDS, FULL_SHARE * room.free_seconds)
        moderate = [w for w in wordings if self.choice.seconds(w.text) <= most]
        taken = room.at_end(moderate, keep_free=keep_free) or room.at_end(moderate)
        return taken or room.at_end(sorted(wordings, key=lambda w: len(w.text)))

    def _early_turn(self, room: Room, after: Scene) -> bool:
        """Ask for the turning early where this passage is the still time given for it."""
        helps = after.technique is not None and after.technique.helps_turn
        here = room.passage
        is_still = here.technique is not None and here.pressure == 0
        if not after.turns_over or helps or not (is_still or here.is_open):
            return False
        needed = TURN_SECONDS * times_scale(self.routine)
        words = words_of(after, self.shown, self.choice.phrases)
        lines = tuple(one_of(self.choice.phrases.TURN, self.choice, words))
        return room.at_start(lines, keep_free=needed - 2.0) is not None

    def _tell_rest(self, room: Room, scene: Scene, told: frozenset[str] | None) -> None:
        """Say at the start of a passage what its announcement had no room for."""
        if told is None:
            late = list(announcements(scene, self.choice, self.shown))
            room.at_start(late) or room.at_start(sorted(late, key=lambda w: len(w.text)))
            return
        if scene.is_within_refrain and scene.returns > 1:
            return
        room.at_start(left_unsaid(scene, told, self.choice, self.shown))

    # -------------------------------------------------------------- between changes
    def _beat_comes(self, room: Room) -> None:
        """Once, where the beat begins to be heard; with a track, only where that is known."""
        first, past = heard_beats(self.routine)
        music = self.routine.music
        is_known = music.kind == "composed" or music.course is not None
        if not is_known or past - first < 8 or first == 0:
            return
        at = self.routine.clock.seconds_at(first + 2)
        inside = room.free_from <= at < room.free_to - MIDDLE_CLEAR_SECONDS
        if inside and room.at(at, one_of(self.choice.phrases.BEAT_COMES, self.choice)):
            self.last_middle = room.free_from

    def _slip(self, room: Room, scene: Scene) -> None:
        """Once, at the first return that has room: the way back for who loses the thread."""
        if self.slip_is_told or scene.entering.role is not Role.REFRAIN:
            return
        name = spoken_name(self._home_technique(), self.shown)
        self.slip_is_told = bool(
            room.at_start(one_of(self.choice.phrases.SLIP, self.choice, {"name": name}))
        )
        if self.slip_is_told:
            self.last_middle = room.free_from

    def _home_technique(self) -> Technique:
        first = self.routine.refrains[0][0].technique
        assert first is not None
        return self.craft.technique(first)

    def _middle(self, room: Room, scene: Scene) -> None:
        """A line or two in the middle of a long passage, or silence on purpose."""
        technique, role = scene.technique, scene.entering.role
        quiet = role in (Role.REST, Role.OPEN, Role.CLOSE) or scene.is_last
        if technique is None or technique.helps_turn or quiet or scene.returns > 2:
            return
        is_sleep = self.routine.intention is Intention.SLEEP
        total = self.routine.clock.total_seconds
        if is_sleep and room.free_from > SLEEP_QUIET_FROM * total:
            return
        if self._lot(scene.entering.id) % SILENT_PASSAGES == 0:
            return
        every = SLEEP_MIDDLE_EVERY_SECONDS if is_sleep else MIDDLE_EVERY_SECONDS
        whole = room.free_seconds
        if whole < MIDDLE_ROOM_SECONDS:
            return
        count = max(1, int(whole // every))
        start = room.free_from
        for k in range(count):
            at = max(start + whole * (k + 1) / (count + 1), self.last_middle + every)
            if at < room.free_to - MIDDLE_CLEAR_SECONDS:
                self._say_middle(room, scene, at)

    def _say_middle(self, room: Room, scene: Scene, at: float) -> None:
        assert scene.technique is not None
        banks = middle_banks(scene, scene.technique, self.choice)
        turn = self._lot(f"{scene.entering.id} {at:.0f}") % len(banks)
        banks = banks[turn:] + banks[:turn]
        if at - self.last_praise >= PRAISE_EVERY_SECONDS and not scene.technique.family.is_held:
            banks, self.last_praise = (self.choice.phrases.PRAISE, *banks), at
        lines = chain.from_iterable(one_of(bank, self.choice) for bank in banks)
        fresh = (w for w in lines if not any(self.choice.templates[t] for t in w.templates))
        if room.at(at, fresh):
            self.last_middle = at

    def _least(self, wordings: Iterable[Wording]) -> float:
        """Return the seconds of the shortest."""
        return min(self.choice.seconds(w.text) for w in wordings)

    def _lot(self, text: str) -> int:
        digest = blake2b(f"{self.routine.seed}:{text}".encode(), digest_size=4).digest()
        return int.from_bytes(digest, "big")


def _is_well_known(after: Scene) -> bool:
    """True within the refrain from its third return on, every second time."""
    is_familiar = after.is_within_refrain and after.returns >= 3 and after.returns % 2 == 1
    return is_familiar and not after.turns_over
