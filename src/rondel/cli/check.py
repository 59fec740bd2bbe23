"""`rondel check ROUTINE`: where a routine breaks or strains a rule."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path

from rondel.cli.printing import print_json, print_notes, print_wrapped
from rondel.model.finding import Finding, Severity
from rondel.model.routine import Routine
from rondel.model.time import as_minutes

HELP = "check a routine, also one edited by hand, against the rule book"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("routine", metavar="ROUTINE", type=Path, help="routine.json")
    parser.add_argument(
        "--brief", type=Path, help="the brief to hold it to; else the one that it carries"
    )
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(arguments: argparse.Namespace) -> int:
    from rondel.adapters.studio_files import craft_for, read_brief
    from rondel.checker.check import check
    from rondel.wiring_tracks import read_routine_and_notes

    routine, notes = read_routine_and_notes(arguments.routine)
    brief = read_brief(arguments.brief) if arguments.brief else None
    findings = check(routine, craft_for(arguments.routine), brief)
    if arguments.json:
        print_json([{**asdict(f), "severity": str(f.severity)} for f in findings])
    else:
        _print_findings(findings, routine)
    print_notes(notes, is_aside=arguments.json)
    return 1 if any(f.severity is Severity.MUST for f in findings) else 0


def _print_findings(findings: tuple[Finding, ...], routine: Routine) -> None:
    if not findings:
        print("Every rule is kept.")
    for finding in findings:
        at = as_minutes(routine.clock.seconds_at_bar(finding.at_bar))
        word = "must" if finding.severity is Severity.MUST else "mind"
        print_wrapped(
            f"{finding.message} [{finding.rule}; {finding.source}]",
            indent=" " * 14,
            first=f"{at:>6}  {word}  ",
        )
    broken = sum(f.severity is Severity.MUST for f in findings)
    if findings:
        print(f"\n{broken} to mend, {len(findings) - broken} to keep in mind.")
