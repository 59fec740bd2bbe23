"""The music: composed as she likes it, or a track of hers with what was heard in it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from markupsafe import Markup
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from rondel.adapters.heard_files import FilesBesideTrack, corrections_path, heard_path
from rondel.adapters.routine_shelf import Kept, Stale
from rondel.adapters.set_aside import set_aside
from rondel.adapters.track_place import heard_otherwise
from rondel.app.dress_music import dress_music
from rondel.app.ports.tracks import Kept as KeptHeard
from rondel.desk import briefs
from rondel.desk.asking import Ask, answering, to, whole
from rondel.desk.bringing import KINDS, own_file
from rondel.desk.jobs import State
from rondel.desk.leaves.away import aside
from rondel.desk.leaves.brief import keep_plan, planned_near
from rondel.desk.leaves.page import stale
from rondel.drawing.heard_picture import draw_heard
from rondel.drawing.heard_words import heard_sentences
from rondel.model.brief import Brief
from rondel.model.codec.corrections import corrections_text, moved_of, taps_of
from rondel.model.codec.moments import moment, span_of
from rondel.model.corrections import FORGETTABLE, Corrections
from rondel.model.errors import BadInput, RondelError
from rondel.model.words import Intention, MusicLayer, Role

FOLDER = KINDS["track"].folder
#: How the four characters sound, in a few words.
CHARACTER_SAYS = {
    Intention.SETTLE: "calm and warm",
    Intention.WAKE: "bright, with more notes",
    Intention.SLEEP: "dark and sparse, ever slower",
    Intention.CLOSENESS: "tender, two voices",
}
#: What was put right may be taken back, kind by kind.
TAKE_BACK = {
    "tempo": "take back the tempo",
    "bars": "take back where bars begin",
    "sections": "take back where sections begin",
    "motif": "take back where the motif sounds",
    "strongest": "take back where it is strongest",
    "beat": "take back where a beat is heard",
}
LAYER_SAYS = {
    MusicLayer.DRONE: "the ground tone",
    MusicLayer.PAD: "the soft chords",
    MusicLayer.BASS: "the bass",
    MusicLayer.STRINGS: "the strings",
    MusicLayer.PIANO: "the piano",
    MusicLayer.DRUM: "the hand drum",
    MusicLayer.SWELL: "the swells",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """A track that lies beside the routine, with what was heard in it, if anything was."""

    name: str
    heard: KeptHeard | None
    picture: Markup
    sentences: tuple[str, ...]
    state: State | None
    is_used: bool
    first_bar: float
    put_right: tuple[tuple[str, str], ...] = ()
    others: tuple[tuple[float, int, str], ...] = ()


def about(slug: str, name: str) -> str:
    return f"track {slug}/{name}"


def music(ask: Ask) -> Response:
    return _show(ask, ask.desk.open(ask.path("slug")))


def _show(ask: Ask, kept: Kept, trouble: str = "", status: int = 200) -> Response:
    routine = kept.routine
    folder = kept.folder / FOLDER
    names = (
        sorted(
            p.name
            for p in folder.iterdir()
            if p.suffix.lower() in KINDS["track"].suffixes and not p.name.startswith(".")
        )
        if folder.is_dir()
        else []
    )
    brief = routine.brief
    return ask.leaf(
        "music.html",
        "music",
        kept,
        status,
        said=ask.word("said"),
        trouble=trouble,
        tracks=[_track(ask, kept, name) for name in names],
        aside=aside(folder),
        characters=[(str(i), ask.say(says)) for i, says in CHARACTER_SAYS.items()],
        character=str(routine.music_character),
        layers=[(str(one), ask.say(says)) for one, says in LAYER_SAYS.items()],
        without=[str(one) for one in brief.without] if brief else [],
        bpm=f"{float(routine.tempo[0].bpm):g}" if routine.tempo else "",
        seed=routine.seed,
        places=_places(ask, kept),
        is_composed=routine.music.kind == "composed",
    )


def _places(ask: Ask, kept: Kept) -> list[tuple[str, float]]:
    """Return a few places to hear the music from, in words."""
    routine = kept.routine
    found = [(ask.say("hear the beginning"), 0.0)]
    if routine.refrains:
        found.append((ask.say("hear the refrain"), routine.start_seconds(routine.refrains[0][0])))
    peak = next((p for p in routine.line if p.role is Role.PEAK), None)
    if peak is not None:
        found.append((ask.say("hear the peak"), routine.start_seconds(peak)))
    return [(says, float(at)) for says, at in found]


def _track(ask: Ask, kept: Kept, name: str) -> Track:
    path = kept.folder / FOLDER / name
    # How the work is comes first: work that has ended has written all that is then looked for.
    job = ask.desk.jobs.find(about(kept.slug, name))
    state = job.state if job else None
    found = FilesBesideTrack().kept(path)
    heard = found.heard if found else None
    is_used = kept.routine.music.path == f"{FOLDER}/{name}"
    since = heard_otherwise(kept.routine, kept.folder) if is_used else ()
    return Track(
        name=name,
        heard=found,
        picture=Markup(draw_heard(heard, name)) if heard else Markup(""),
        sentences=(*since, *heard_sentences(heard)) if heard else (),
        state=state,
        is_used=is_used,
        put_right=_taken_back(ask, path),
        first_bar=round(heard.downbeats[0], 2) if heard and heard.downbeats else 0.0,
        others=tuple((o.bpm, o.beats_per_bar, o.says) for o in heard.others) if heard else (),
    )


def _taken_back(ask: Ask, path: Path) -> tuple[tuple[str, str], ...]:
    """Return the kinds of corrections there are, and the words that take them back."""
    try:
        there = FilesBesideTrack().corrections(path)
    except RondelError:
        return ()
    return tuple(
        (kind, ask.say(says)) for kind, says in TAKE_BACK.items() if there.forgetting(kind) != there
    )


# ------------------------------------------------------------------ composed
def compose(ask: Ask) -> Response:
    """Give the routine the composed music that is asked for; another tempo plans it anew."""
    kept = ask.desk.open(ask.path("slug"))
    if ask.word("version") != kept.version:
        return stale(ask, ask.word("version"), kept)
    routine, craft = kept.routine, ask.desk.craft()
    try:
        seed = whole(ask.word("seed") or "1", at=ask.say("variation"), low=0, high=999_999)
        character = Intention(ask.word("character"))
        without = [MusicLayer(w) for w in ask.words("without")]
        new = dress_music(routine, craft, character=character, without=without, seed=seed)
        bpm = briefs.brief_of({"minutes": 15, "intention": "settle", "bpm": _bpm(ask)}).bpm
    except (ValueError, RondelError) as error:
        return _show(ask, kept, trouble=str(error), status=422)
    assert new.brief is not None
    is_composed = routine.music.kind == "composed"
    if is_composed and (bpm is None or abs(float(bpm - routine.tempo[0].bpm)) < 0.05):
        try:
            ask.desk.shelf.put(kept.slug, new, ask.say("Other music."), seen=kept.version)
        except Stale as error:
            return stale(ask, error.seen, error.kept)
        return to(f"/r/{kept.slug}/music?said=1")
    wished = replace(new.brief, bpm=bpm, track=None, laid=None)
    return _planned(ask, kept, wished, ask.say("Planned to composed music."))


def _bpm(ask: Ask) -> float:
    try:
        return float(ask.word("bpm").replace(",", "."))
    except ValueError as error:
        raise BadInput("a number of beats a minute is expected", at="tempo") from error


def _planned(ask: Ask, kept: Kept, wished: Brief, says: str) -> Response:
    try:
        outcome = planned_near(ask, kept, wished)
    except RondelError as error:
        return _show(ask, kept, trouble=str(error), status=422)
    if outcome.routine is None:
        return _show(ask, kept, trouble=" ".join(outcome.reasons), status=422)
    return keep_plan(ask, kept, outcome.routine, says)


# ------------------------------------------------------------------ brought
def _path(ask: Ask, kept: Kept) -> Path:
    return own_file(kept.folder / FOLDER, ask.word("name"), KINDS["track"].suffixes)


def listen(ask: Ask) -> Response:
    """Listen to a track, with what is put right in this very form, in a worker."""
    kept = ask.desk.open(ask.path("slug"))
    try:
        path = _path(ask, kept)
        order = {"kind": "listen", "source": str(path), **_put_right(ask)}
        job = ask.desk.jobs.start(about(kept.slug, path.name), order)
    except RondelError as error:
        return _show(ask, kept, trouble=str(error), status=422)
    job.wait(1.0)
    return to(f"/r/{kept.slug}/music")


def _put_right(ask: Ask) -> dict[str, object]:
    """Return what the form puts right, as an order to the worker. BadInput for a slip."""
    try:
        more = Corrections(
            bpm=float(ask.word("tempo")) if ask.word("tempo") else None,
            beats_per_bar=int(ask.word("beats")) if ask.word("beats") else None,
            bars_at=(moment(ask.word("bar")),) if ask.word("bar") else (),
            taps=taps_of(ask.word("taps")) if ask.word("taps") else (),
            moved=(moved_of(ask.word("moved")),) if ask.word("moved") else (),
            motif=span_of(ask.word("motif")) if ask.word("motif") else None,
            strongest=moment(ask.word("strongest")) if ask.word("strongest") else None,
            with_beat=(span_of(ask.word("beat")),) if ask.word("beat") else (),
            without_beat=(span_of(ask.word("no-beat")),) if ask.word("no-beat") else (),
        )
    except ValueError as error:
        raise BadInput(str(error), at="what is put right") from error
    forget = [w for w in ask.words("forget") if w in FORGETTABLE]
    if ask.word("forget") == "all":
        forget = list(FORGETTABLE)
    order: dict[str, object] = {"more": corrections_text(more), "forget": forget}
    if ask.word("times"):
        order["times"] = {"half": 0.5, "twice": 2.0}.get(ask.word("times"))
    return order


def set_to(ask: Ask) -> Response:
    """Plan the routine to a track, as near to what is there as its phrases let it."""
    kept = ask.desk.open(ask.path("slug"))
    if ask.word("version") != kept.version:
        return stale(ask, ask.word("version"), kept)
    try:
        path = _path(ask, kept)
    except RondelError as error:
        return _show(ask, kept, trouble=str(error), status=422)
    if kept.routine.brief is None:
        return _show(ask, kept, trouble=ask.say("This routine carries no brief."), status=422)
    wished = replace(kept.routine.brief, track=f"{FOLDER}/{path.name}", bpm=None, laid=None)
    return _planned(ask, kept, wished, ask.say("Planned to {name}.", name=path.name))


def take_away(ask: Ask) -> Response:
    """Set a track aside that is not in use, with what was heard in it."""
    kept = ask.desk.open(ask.path("slug"))
    try:
        path = _path(ask, kept)
        if kept.routine.music.path == f"{FOLDER}/{path.name}":
            raise BadInput("the routine is set to this track; compose music first", at=path.name)
    except RondelError as error:
        return _show(ask, kept, trouble=str(error), status=422)
    job = ask.desk.jobs.find(about(kept.slug, path.name))
    if job is not None and job.state.is_running:
        job.stop()
        job.wait(10)
    ask.desk.jobs.forget(about(kept.slug, path.name))
    set_aside(path, (heard_path(path), corrections_path(path)))
    return to(f"/r/{kept.slug}/music")


def sound_file(ask: Ask) -> Response:
    kept = ask.desk.open(ask.path("slug"))
    path = own_file(kept.folder / FOLDER, ask.path("name"), KINDS["track"].suffixes)
    return FileResponse(path)


ROUTES = (
    Route("/r/{slug}/music", answering(music)),
    Route("/r/{slug}/music/compose", answering(compose), methods=["POST"]),
    Route("/r/{slug}/music/listen", answering(listen), methods=["POST"]),
    Route("/r/{slug}/music/set", answering(set_to), methods=["POST"]),
    Route("/r/{slug}/music/away", answering(take_away), methods=["POST"]),
    Route("/r/{slug}/music/file/{name}", answering(sound_file)),
)
