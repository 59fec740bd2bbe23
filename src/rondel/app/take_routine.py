"""Take in a routine from a file, to make a session of it."""

from __future__ import annotations

import re
from dataclasses import replace

from rondel.app.make_plan import with_cues
from rondel.checker.check import check
from rondel.cues.scene import spoken_name
from rondel.model.errors import BadInput
from rondel.model.finding import Finding, Outcome, Severity
from rondel.model.names import language_of, names_shown
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.planner.reasons import clinician_reasons
from rondel.planner.wishes import require_known

#: Rules whose breach can hurt someone; the teacher hears of these first.
FOR_SAFETY = ("cautions", "limits", "avoid", "spare", "range", "warm", "rise")
#: Breaches with which no session is made at all.
NEVER_MADE = ("limits", "cautions")
#: So many findings are told in full; `rondel check` tells all.
TOLD = 3


def take_routine(routine: Routine, craft: Craft, *, at: str) -> tuple[Outcome, tuple[str, ...]]:
    """Return `routine` with its cues, and notes for the teacher on the rules that it breaks.

    A routine may break rules that are a matter of judgement: it is hers. No routine is returned,
    but reasons, where its brief names a condition with which a clinician is to be asked before any
    massage, or where pressure lies above what is safe. BadInput where no session could be made of
    it: a technique that nobody knows, gaps, passages at once, cues after the end. `at` names the
    file.
    """
    _refuse_unmakeable(routine, craft, at)
    reasons = clinician_reasons(routine.brief, craft) if routine.brief else ()
    reasons = reasons or _unsafe(routine, craft)
    if reasons:
        return Outcome(routine=None, reasons=reasons), ()
    whole = routine if routine.cues else with_cues(routine, craft)
    return Outcome(routine=whole), (*_notes(whole, craft), *_stale_cues(whole, craft))


def _unsafe(routine: Routine, craft: Craft) -> tuple[str, ...]:
    """Return what no session is made with: pressure above the limits, or against a caution."""
    found = [f.message for f in check(routine, craft) if f.rule in NEVER_MADE]
    if not found:
        return ()
    help_says = (
        "Lower the pressure or choose another technique; `rondel check` lists every place. A "
        "trained hand may do more where the routine's brief says `trained = true`."
    )
    return (*found[:TOLD], help_says)


def _refuse_unmakeable(routine: Routine, craft: Craft, at: str) -> None:
    if routine.music.kind == "track" and not routine.music.path:
        says = "a brought track needs its `path`; name it, or leave `music` out"
        raise BadInput(says, at=f"{at}: music")
    for passage in routine.passages:
        if passage.technique is not None and not craft.has_technique(passage.technique):
            raise BadInput(
                f'the technique "{passage.technique}" is not in the repertoire; add it there '
                "or choose another",
                at=f"{at}: passage {passage.id}",
            )
    if routine.brief is not None:
        require_known(routine.brief, craft, at=f"{at}: brief")
    # Without a brief, the rule `length` speaks only of what hangs apart, not of the time asked for.
    for finding in check(replace(routine, brief=None), craft):
        if finding.rule == "length":
            raise BadInput(finding.message, at=f"{at}: bar {finding.at_bar}")
    for cue in routine.cues:
        if cue.at_beat >= routine.clock.beats:
            says = f"this cue stands after the end, which is beat {routine.clock.beats}; move it"
            raise BadInput(says, at=f"{at}: cue {cue.id}")


def _notes(routine: Routine, craft: Craft) -> tuple[str, ...]:
    """Return sentences on the `must` rules that are broken, those that keep people safe first."""
    broken = [f for f in check(routine, craft) if f.severity is Severity.MUST]
    if not broken:
        return ()
    places = "one place" if len(broken) == 1 else f"{len(broken)} places"
    head = f"This routine breaks the rule book in {places}; `rondel check` lists them."
    return (head, *(f.message for f in sorted(broken, key=_rank)[:TOLD]))


def _stale_cues(routine: Routine, craft: Craft) -> tuple[str, ...]:
    """Return a sentence where cues speak of a technique that is neither under way nor next.

    That happens when passages were changed by hand and the cues were not. Names are those that
    the voice says; the refrain, where who is lost comes home, may be spoken of anywhere.
    """
    shown = names_shown(routine)
    spoken = {
        t.id: spoken_name(t, shown) for t in craft.in_language(language_of(routine)).techniques
    }
    home = {row[0].technique for row in routine.refrains[:1]}
    stale = []
    for cue in routine.cues:
        here = routine.line.index(routine.passage_at(float(cue.at_beat)))
        near = {p.technique for p in routine.line[here : here + 2]} | home
        named = [id for id, name in spoken.items() if _is_said(name, cue.say)]
        if named and not near & set(named):
            stale.append(f"{cue.id} ({spoken[named[0]]})")
    if not stale:
        return ()
    return (
        f"These cues speak of techniques that are not done there: {', '.join(stale[:8])}. Take "
        "`cues` out of routine.json to have them all worded anew.",
    )


def _is_said(name: str, say: str) -> bool:
    """True where `name` stands in `say` as whole words; its first letter may be a capital."""
    first = re.escape(name[:1])
    either = f"[{first}{re.escape(name[:1].upper())}]"
    return re.search(rf"(?<!\w){either}{re.escape(name[1:])}(?!\w)", say) is not None


def _rank(finding: Finding) -> int:
    return FOR_SAFETY.index(finding.rule) if finding.rule in FOR_SAFETY else len(FOR_SAFETY)
