"""The catalogue's files travel with the package and are read quickly."""

from __future__ import annotations

import subprocess
import sys
import time
import zipfile
from pathlib import Path

import planner
from planner.catalogue import read_catalogue
from planner.catalogue.loader import package_texts

PACKAGE = Path(planner.__file__).parent
SHELVES = ("commons", "kinds", "complaints", "conditions", "checks", "modifiers")
LOAD_MS = 50.0


def test_reading_the_catalogue_takes_less_than_fifty_milliseconds_of_processor():
    spent = []
    for _ in range(5):
        start = time.process_time()
        read_catalogue(package_texts("commons") | package_texts("kinds"))
        spent.append(1e3 * (time.process_time() - start))
    assert min(spent) < LOAD_MS, spent


def test_it_loads_from_a_package_that_is_no_folder(tmp_path):
    archive = tmp_path / "packed.zip"
    with zipfile.ZipFile(archive, "w") as packed:
        for path in PACKAGE.rglob("*"):
            if path.suffix in {".py", ".toml"}:
                packed.write(path, path.relative_to(PACKAGE.parent))
    code = (
        f"import sys; sys.path.insert(0, {str(archive)!r})\n"
        "from planner import catalogue as c\n"
        "print(c.__file__, len(c.load_catalogue()), len(c.load_complaints()), len(c.load_checks()))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=tmp_path
    )
    assert done.returncode == 0, done.stderr
    where, *counts = done.stdout.split()
    assert where.startswith(str(archive))
    assert all(int(count) >= least for count, least in zip(counts, (45, 19, 30), strict=True))


def test_each_data_file_is_read_by_its_shelf_and_short_enough_to_be_read_by_people():
    found = {path.name for path in (PACKAGE / "catalogue" / "data").rglob("*.toml")}
    assert found == {name for shelf in SHELVES for name in package_texts(shelf)}
    for shelf in SHELVES:
        for name, text in package_texts(shelf).items():
            assert text.startswith("# "), name
            assert len(text.splitlines()) < 300, name


def test_importing_the_catalogue_loads_no_pydantic():
    code = (
        "import sys, types\n"
        f"stub = types.ModuleType('planner'); stub.__path__ = [{str(PACKAGE)!r}]; sys.modules['planner'] = stub\n"
        "from planner.catalogue import load_catalogue; load_catalogue()\n"
        "print(*(m for m in ('pydantic', 'numpy', 'scipy') if m in sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == ""
