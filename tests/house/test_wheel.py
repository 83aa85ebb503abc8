"""The built wheel holds what a user needs: both packages, their data, the command."""

from __future__ import annotations

import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    command = [
        sys.executable,
        "-m",
        "pip",
        "wheel",
        "-q",
        "--no-deps",
        "--no-build-isolation",
        "-w",
        str(out),
        str(ROOT),
    ]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return next(out.glob("wearwright-*.whl"))


def run(command: list[str], cwd: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        command,
        cwd=cwd,
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, **environment},
        timeout=280,
    )


def test_the_wheel_carries_the_catalogue_the_demo_fleet_the_examples_and_the_type_marks(wheel):
    names = zipfile.ZipFile(wheel).namelist()
    assert any(n.startswith("planner/catalogue/") and n.endswith(".toml") for n in names)
    assert any(n.startswith("api/_shipped/seed_data/") for n in names)
    assert any(n.startswith("api/_shipped/openapi_examples/") for n in names)
    assert {"planner/py.typed", "api/py.typed"} <= set(names)
    assert not any(n.startswith("tests/") for n in names)


def test_the_wheel_unpacked_outside_the_checkout_runs_its_command(wheel, tmp_path):
    place = tmp_path / "unpacked"
    zipfile.ZipFile(wheel).extractall(place)
    code = "import api, planner; print(api.__file__, planner.__file__); from api.cli import main; main()"
    done = run(
        [sys.executable, "-c", f"import sys; sys.argv = ['wearwright', '--help']; {code}"],
        tmp_path,
        PYTHONPATH=str(place),
    )
    assert done.returncode == 0, done.stderr
    first, second = done.stdout.splitlines()[0].split()
    assert Path(first).is_relative_to(place)
    assert Path(second).is_relative_to(place)
    assert "keys" in done.stdout
    assert "migrate" in done.stdout


@pytest.mark.full
@pytest.mark.timeout(900)
def test_the_wheel_in_an_empty_environment_outside_the_checkout_helps_migrates_and_demonstrates(
    wheel, tmp_path
):
    home = tmp_path / "environment"
    venv.create(home, with_pip=True)
    python, command = str(home / "bin" / "python"), str(home / "bin" / "wearwright")
    quiet = ["-m", "pip", "install", "-q", "--disable-pip-version-check"]
    for arguments in (["--require-hashes", "-r", str(ROOT / "requirements.lock")], ["--no-deps", str(wheel)]):
        done = run([python, *quiet, *arguments], tmp_path)
        assert done.returncode == 0, done.stderr
    for arguments in (["--help"], ["migrate"], ["demo"]):
        done = run([command, *arguments], tmp_path)
        print(f"wearwright {' '.join(arguments)}: exit {done.returncode}")
        assert done.returncode == 0, done.stdout + done.stderr
