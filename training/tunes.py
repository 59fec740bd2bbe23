"""Read the public scores that training uses into one small file of tunes.

    python -m training.tunes TUNES.npz [--cores N]

Needs music21. Reading scores takes far longer than making sound of them; with this file
the examples can be made on a machine that has neither music21 nor its corpus.
"""

from __future__ import annotations

import argparse
import os
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from training.material import save_tunes, training_files, tunes_in  # first: it finds the rest

from corpora.tunes import Tune  # isort: skip


def _read(path: Path) -> list[Tune]:
    try:
        return tunes_in(path)
    except Exception:  # a file music21 cannot read is left out, whatever the reason
        return []


def main() -> None:
    parser = argparse.ArgumentParser(description="Read public scores for training.")
    parser.add_argument("out", type=Path)
    parser.add_argument("--cores", type=int, default=os.cpu_count() or 1)
    asked = parser.parse_args()

    import music21

    files = training_files(Path(music21.__file__).parent / "corpus")
    with ProcessPoolExecutor(asked.cores) as pool:
        # The largest first, so that no core is left with one of them at the end.
        files.sort(key=lambda one: (-one[0].stat().st_size, one[0]))
        read = list(pool.map(_read, [path for path, _ in files]))
    tunes = [tune for many in read for tune in many]
    sources = [number for (_, number), many in zip(files, read, strict=True) for _ in many]
    save_tunes(tunes, sources, asked.out)
    print(f"{len(files)} files, {len(tunes)} tunes")


if __name__ == "__main__":
    main()
