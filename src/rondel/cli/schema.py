"""`rondel schema NAME`: the JSON Schema of a format."""

from __future__ import annotations

import argparse

from rondel.cli.printing import print_json
from rondel.model.codec.schema import SCHEMAS, schema

HELP = "print the JSON Schema of a format"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("name", choices=sorted(SCHEMAS), help="which format")


def run(arguments: argparse.Namespace) -> int:
    print_json(schema(arguments.name))
    return 0
