"""How the network that hears beats was trained; nothing here is needed to run Rondel."""

import sys
from pathlib import Path

# The corpora of the benchmark and the ambient tracks of the tests are material here, too.
_ROOT = Path(__file__).resolve().parents[1]
for _place in ("tests", "src", "benchmarks"):
    sys.path.insert(0, str(_ROOT / _place))
