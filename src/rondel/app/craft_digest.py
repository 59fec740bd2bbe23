"""What a studio's craft is, as one digest: a session is made of it."""

from __future__ import annotations

from rondel.app.stages import digest_of
from rondel.model.codec.craft import caution_to_dict, region_to_dict, technique_to_dict
from rondel.model.repertoire import Craft


def craft_digest(craft: Craft) -> str:
    """Return the SHA-256 of all that is known of techniques, body and cautions."""
    return digest_of(
        {
            "techniques": [technique_to_dict(t) for t in craft.techniques],
            "regions": [region_to_dict(r) for r in craft.regions],
            "cautions": [caution_to_dict(c) for c in craft.cautions],
        }
    )
