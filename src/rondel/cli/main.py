"""The command `rondel`: parse, call the use case, print. One module a command."""

from __future__ import annotations

import argparse
import io
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from importlib.metadata import version
from typing import NoReturn

from rondel.app.failed import told_of
from rondel.model.errors import RondelError

#: In the order of the work.
COMMANDS = (
    "demo",
    "start",
    "listen",
    "shots",
    "watch",
    "fit",
    "plan",
    "change",
    "check",
    "grow",
    "hands",
    "make",
    "desk",
    "rules",
    "techniques",
    "regions",
    "cautions",
    "schema",
)

#: Commands that keep what is finished when they are stopped, and go on from there.
RESUMED = ("demo", "listen", "watch", "fit", "make", "desk")

#: Threads of linear algebra, unless the environment says otherwise. Rondel's matrices are small:
#: listening with two threads took two to five times as long as with one, and gave the same.
THREADS = ("OPENBLAS_NUM_THREADS", "1")

#: What a shell gives a command that the user stopped (128 + SIGINT).
STOPPED = 130


class _Parser(argparse.ArgumentParser):
    """Says what is wrong with the words typed, in one sentence."""

    def error(self, message: str) -> NoReturn:
        print(f"{self.prog}: {message}. `{self.prog} --help` says more.", file=sys.stderr)
        raise SystemExit(2)


def build_parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="rondel",
        description="From a brief to a finished follow-along massage session.",
        epilog="Everything stays on this machine. Not medical advice: `rondel cautions`.",
    )
    parser.add_argument("--version", action="version", version=f"rondel {version('rondel')}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name in COMMANDS:
        module = import_module(f"rondel.cli.{name}")
        command = commands.add_parser(name, help=module.HELP, description=module.HELP)
        module.add_arguments(command)
        command.set_defaults(run=module.run)
    return parser


def _stopped(command: str) -> str:
    """Return what is said where a command is stopped half way."""
    if command in RESUMED:
        return "stopped. What is finished is kept; run the same command to go on."
    return "stopped. Nothing was changed; run the same command to begin anew."


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0 good, 1 not good, 2 bad input, 3 outside."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # Names of files, and dashes, which the terminal's alphabet may not have.
            stream.reconfigure(errors="replace")
    os.environ.setdefault(*THREADS)  # read once, when a command loads numpy
    try:
        arguments = build_parser().parse_args(argv)
    except KeyboardInterrupt:  # while commands are still being loaded
        print(f"\nrondel: {_stopped('')}", file=sys.stderr)
        return STOPPED
    try:
        code: int = arguments.run(arguments)
        sys.stdout.flush()
        return code
    except KeyboardInterrupt:
        print(f"\nrondel: {_stopped(arguments.command)}", file=sys.stderr)
        return STOPPED
    except BrokenPipeError:
        # The reader (say, `head`) has seen enough; Python must not complain at its exit either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:  # the last net: a sentence, never a traceback
        is_ours = not isinstance(error, RondelError | OSError | MemoryError)
        if is_ours and os.environ.get("RONDEL_TRACE"):
            raise
        says, exit_code = told_of(error)
        print(f"rondel: {says}", file=sys.stderr)
        return exit_code


if __name__ == "__main__":
    raise SystemExit(main())
