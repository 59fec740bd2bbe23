"""What is wrong in a TOML file, in the words of someone who wrote it by hand."""

from __future__ import annotations

import re

_PLACE = re.compile(r"\(at line (\d+), column \d+\)")
_BARE = re.compile(r"""([\w-]+)\s*=\s*([^\W\d_][^"'#\[\]{}=]*)""")
_LONGEST_SHOWN = 60  # letters of a line that are said again


def broken_says(text: str, error: Exception) -> str:
    """Return which line of `text` cannot be understood and what may help; `error` is what the
    reader of TOML says, told as it is where nothing better is known."""
    found, lines = _PLACE.search(str(error)), text.rstrip().splitlines()
    if found is None and not str(error).endswith("(at end of document)"):
        return f"the file cannot be understood: {error}"
    number = int(found[1]) if found else len(lines)
    line = lines[number - 1].strip() if number <= len(lines) else ""
    shown = line if len(line) <= _LONGEST_SHOWN else f"{line[:_LONGEST_SHOWN]} …"
    return f"the file cannot be understood at line {number} ({shown}): {_hint(line, str(error))}"


def _hint(line: str, error: str) -> str:
    """Return what may help, by the line and what the reader says of it."""
    if error.startswith("Cannot"):
        return "this stands in the file twice; leave one of them out"
    if line.startswith("{"):
        return "this looks like a routine, and not like what is written by hand"
    if line.startswith("["):
        return "a heading ends with as many brackets as it begins with, as in [[keep]]"
    if "'\\n'" in error:
        return "perhaps a closing quote is missing"
    bare = _BARE.fullmatch(line)
    if bare is not None:
        return f'words stand between quotes, as in {bare[1]} = "{bare[2].strip()}"'
    if "=" not in line:
        return "a line has a name, an equals sign, and what it is to be, as in minutes = 12"
    return "numbers stand as they are, words between quotes, several of them between [ and ]"
