"""What the README shows is what happens: its library tour runs and prints what stands below it."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

README = (Path(__file__).resolve().parents[2] / "README.md").read_text()


def test_the_library_tour_runs_and_prints_what_the_readme_says():
    section = README[README.index("## Use the library") :]
    code, printed = re.search(r"```python\n(.+?)```\nprints\n```\n(.+?)```", section, re.DOTALL).groups()
    assert len(code.strip().splitlines()) <= 30
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout == printed


def test_the_two_commands_that_a_newcomer_types_stand_in_the_readme():
    assert re.search(r"^make demo\b", README, re.MULTILINE)
    assert re.search(r"^make test\b", README, re.MULTILINE)
