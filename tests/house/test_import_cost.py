"""`import planner` stays light: none of the heavy libraries is loaded until it is needed."""

from __future__ import annotations

import subprocess
import sys

HEAVY = ("scipy", "lifelines", "pandas", "matplotlib")
NAMES = "Spells, ClockPrior, LifePrior, fit_life, known_life, Costs, Cap, best_interval, survival_curve, load_catalogue"


def test_importing_the_planner_loads_no_heavy_library():
    code = f"import sys; from planner import {NAMES}; print(*(m for m in {HEAVY!r} if m in sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == ""
