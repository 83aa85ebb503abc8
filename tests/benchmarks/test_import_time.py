"""How long `import planner` takes, as a ratio to `import numpy` in the same run (target: at most 3)."""

from __future__ import annotations

import statistics
import subprocess
import sys

import pytest

pytestmark = pytest.mark.bench


def import_seconds(module: str) -> float:
    code = f"import time; t = time.perf_counter(); import {module}; print(time.perf_counter() - t)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return float(done.stdout)


def test_importing_the_planner_takes_at_most_three_times_numpy():
    import_seconds("planner")  # bytecode is written once, as after any installation
    pairs = [(import_seconds("planner"), import_seconds("numpy")) for _ in range(9)]
    ratio = statistics.median(p for p, _ in pairs) / statistics.median(n for _, n in pairs)
    print(f"import planner / import numpy = {ratio:.2f}")
    assert ratio <= 3
