"""Everything that can go wrong, in sentences a teacher understands.

The tree::

    RondelError
    ├── BadInput         something given to us is wrong: says where, and what is allowed
    ├── OutsideFailure   something outside failed (disk, codec, voice): says what to try
    └── InternalError    our own mistake: asks the teacher to send us the file

A broken rule is a finding and an unsolvable brief is a result with reasons; neither is an error.
"""


class RondelError(Exception):
    """The root of the tree. `str(error)` is one whole sentence fit to print."""

    exit_code = 3

    def __init__(self, says: str, *, at: str = "") -> None:
        super().__init__(says)
        self.says = says
        self.at = at

    def __str__(self) -> str:
        return f"{self.at}: {self.says}" if self.at else self.says


class BadInput(RondelError):
    """A file or word we were given is not usable. `at` names it, as in ``brief.toml: minutes``."""

    exit_code = 2


class OutsideFailure(RondelError):
    """A disk, codec or other outside thing failed."""

    exit_code = 3


class InternalError(RondelError):
    """A promise of our own was broken."""

    exit_code = 3
