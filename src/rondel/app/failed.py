"""What is said where work fails: a sentence and an exit code, never a traceback."""

from __future__ import annotations

from rondel.model.errors import RondelError

#: Something outside failed, or Rondel itself did.
OUTSIDE = 3


def told_of(error: Exception) -> tuple[str, int]:
    """Return (sentence, exit code) for an error that stopped a command."""
    if isinstance(error, RondelError):
        return str(error), error.exit_code
    if isinstance(error, OSError):
        where = f"{error.filename}: " if error.filename else ""
        says = error.strerror or "the disk or the system refused"
        return f"{where}this cannot be read or written ({says}).", OUTSIDE
    if isinstance(error, MemoryError):
        return "this machine has too little memory for that.", OUTSIDE
    kind = type(error).__name__
    return (
        f"something went wrong inside Rondel itself ({kind}: {error}). Please tell us, with the "
        "file you used; RONDEL_TRACE=1 before the command shows where.",
        OUTSIDE,
    )
