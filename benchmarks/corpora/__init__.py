"""Sound with known beats, made from public scores and tunes; fetched or made, never committed."""
