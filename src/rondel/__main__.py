"""`python -m rondel` is the command `rondel`."""

from __future__ import annotations


def run() -> int:
    """Run the command; stopped while it is still being loaded, it has nothing to say."""
    try:
        from rondel.cli.main import main
    except KeyboardInterrupt:
        return 130
    return main()


if __name__ == "__main__":
    raise SystemExit(run())
