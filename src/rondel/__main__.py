"""`python -m rondel` is the command `rondel`."""

from __future__ import annotations

from rondel.cli.main import main

raise SystemExit(main())
