"""`rondel rules`: the rule book."""

from __future__ import annotations

import argparse

from rondel.cli.printing import print_json, print_wrapped
from rondel.rules.book import RULES
from rondel.rules.rule import Rule

HELP = "print the rule book: every rule with its source and numbers"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(arguments: argparse.Namespace) -> int:
    if arguments.json:
        print_json([_as_json(rule) for rule in RULES])
        return 0
    for rule in RULES:
        print(f"{rule.name} [{rule.id}, {rule.severity}]")
        print_wrapped(rule.says, indent="    ")
        print_wrapped(f"Source: {rule.source}.", indent="    ")
        print()
    print("Times shrink with sessions under six minutes: minutes / 6, for " + _scaled_rules() + ".")
    return 0


def _scaled_rules() -> str:
    return ", ".join(rule.id for rule in RULES if rule.scaled)


def _as_json(rule: Rule) -> dict[str, object]:
    return {
        "id": rule.id,
        "name": rule.name,
        "severity": str(rule.severity),
        "says": rule.says,
        "source": rule.source,
        "parameters": dict(rule.parameters),
        "scaled": list(rule.scaled),
        "with_track": rule.with_track,
        "weight": rule.weight,
    }
