"""The weights of the network that hears beats, as they come with Rondel."""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files

import numpy as np

from rondel.listening.network import BeatNetwork

DATA = files("rondel") / "data" / "listening"


@lru_cache(maxsize=1)
def builtin_network() -> BeatNetwork:
    """Return the network with the weights in the package; read once."""
    with (DATA / "beats.npz").open("rb") as file, np.load(file) as weights:
        return BeatNetwork({name: weights[name] for name in weights.files})
