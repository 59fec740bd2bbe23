"""`rondel rules`: the rule book."""

from __future__ import annotations

import argparse
from pathlib import Path

from rondel.cli.printing import print_json, print_list, print_wrapped
from rondel.model.finding import Severity
from rondel.model.settings import UNCHANGED, Settings
from rondel.rules.book import RULES
from rondel.rules.changing import may_change, may_change_says
from rondel.rules.rule import Rule
from rondel.rules.wording import changed_says, is_unminded, numbers_says

HELP = "print the rule book: every rule with its source and numbers, and what a studio changes"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "studio",
        metavar="STUDIO",
        type=Path,
        nargs="?",
        help="a studio folder, to see what it changes; else the one you are in, if any",
    )
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(arguments: argparse.Namespace) -> int:
    settings = _settings(arguments.studio)
    if arguments.json:
        print_json([_as_json(rule, settings) for rule in RULES])
        return 0
    for rule in RULES:
        _print_rule(rule, settings)
    print("Times shrink with sessions under six minutes: minutes / 6, for " + _scaled_rules() + ".")
    print_wrapped(
        "What may be changed is changed in studio.toml, a table a rule, as in [rules.vary] and "
        "under it weight = 3. A weight of 0 leaves a rule unminded."
    )
    return 0


def _settings(named: Path | None) -> Settings:
    """Return the changes of the studio named, or of the one that is worked in."""
    from rondel.adapters.studio_files import settings_of, studio_of
    from rondel.model.errors import BadInput

    if named is not None and not (named / "studio.toml").is_file():
        raise BadInput("this is no studio: there is no studio.toml in it", at=str(named))
    studio = studio_of(Path()) if named is None else named
    return UNCHANGED if studio is None else settings_of(studio)


def _print_rule(rule: Rule, settings: Settings) -> None:
    minded = rule.severity is Severity.MIND
    weighed = f", weight {rule.weight_in(settings):g}" if minded else ""
    print(f"{rule.name} [{rule.id}, {rule.severity}{weighed}]")
    print_wrapped(rule.says, indent="    ")
    print_list(rule.details)
    if numbers := numbers_says(rule):
        print_wrapped(f"Numbers: {numbers}.", indent="    ")
    if bounds := may_change_says(rule):
        print_wrapped(f"May be changed: {bounds}.", indent="    ")
    if changed := changed_says(rule, settings):
        unminded = "; so the rule is not minded" if is_unminded(rule, settings) else ""
        print_wrapped(f"Changed in this studio: {changed}{unminded}.", indent="    ")
    print_wrapped(f"Source: {rule.source}.", indent="    ")
    print()


def _scaled_rules() -> str:
    return ", ".join(rule.id for rule in RULES if rule.scaled)


def _as_json(rule: Rule, settings: Settings) -> dict[str, object]:
    return {
        "id": rule.id,
        "name": rule.name,
        "severity": str(rule.severity),
        "says": rule.says,
        "details": list(rule.details),
        "source": rule.source,
        "parameters": dict(rule.parameters),
        "scaled": list(rule.scaled),
        "with_track": rule.with_track,
        "weight": rule.weight,
        "may_change": {name: list(bounds) for name, bounds in may_change(rule).items()},
        "changed": dict(settings.of(rule.id)),
    }
