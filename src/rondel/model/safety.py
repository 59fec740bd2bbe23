"""What is said about safety, in the same words on page, video and follow-along page.

The cards have room to say it at more length (`drawing/page_cards.py`).

`safety_sentences(brief, craft)` gives whole sentences, the most important first: consent, when not
to massage, where not to press, then what the cautions of the brief say. They defer to local rules
and to a clinician, and give no medical verdict. Sources: docs/sources.md (contraindications:
Walton, *Medical Conditions and Massage Therapy*; sites: Werner 2020; consent and warm hands:
common practice, no source; oil and latex: Voeller, *Contraception*).
"""

from __future__ import annotations

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft

#: Asked and agreed before the first touch.
CONSENT = (
    "Ask before you begin, agree on a word that stops everything, and stop when you hear it.",
    "Warm your hands and the room, and keep covered whatever is not being massaged.",
)

#: When there is no session, or a clinician is asked first.
NOT_NOW = (
    "No massage with a fever, a contagious illness, a known or suspected blood clot, a recent "
    "fracture, operation, heart attack or stroke, a bleeding disorder, blood thinners or "
    "severe osteoporosis.",
    "In pregnancy, with cancer, heart trouble, fragile skin or pain that nobody has explained, "
    "ask a clinician first.",
)

#: Where hands stay away or stay light.
NOT_THERE = (
    "Stay off the spine itself, the front and sides of the neck, the groin, and any wound, burn, "
    "bruise, rash, varicose vein or lump.",
    "Only lightly over the kidneys, behind the knees and on the belly, and nothing sustained "
    "where you feel a pulse.",
)

#: What to watch while hands work.
WHILE = (
    "It should never hurt: go lighter, or leave it out, whenever something feels wrong.",
    "Oil weakens latex condoms within a minute, and nut oils can cause allergies: try a drop on "
    "the forearm first.",
)

#: What this is not.
DISCLAIMER = (
    "This is a routine for pleasure and rest, not medical advice; where local rules say more, "
    "they come first."
)

#: The shortest form, where there is room for one line only.
SHORT = (
    "Warm hands, ask first, stop when asked. Never on the spine or the throat. Not medical advice."
)


def brief_cautions(brief: Brief | None, craft: Craft) -> tuple[str, ...]:
    """Return what the cautions named in `brief` say, in its order; none without a brief."""
    if brief is None:
        return ()
    return tuple(craft.caution(c).says for c in brief.cautions if craft.has_caution(c))


def safety_sentences(brief: Brief | None, craft: Craft) -> tuple[str, ...]:
    """Return every sentence about consent and safety; those for this couple stand second.

    Consent comes first, then what the cautions of the brief say, then what holds for everyone.
    """
    return (
        *CONSENT,
        *brief_cautions(brief, craft),
        *NOT_NOW,
        *NOT_THERE,
        *WHILE,
        DISCLAIMER,
    )
