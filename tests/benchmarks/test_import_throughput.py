"""A million odometer readings taken in, against bare bulk insertion of the same rows into the same database."""

import json
import subprocess
import sys

import pytest

from api.jobs import queue
from api.storage import schema
from tests.api.support import fresh_database

pytestmark = [pytest.mark.bench, pytest.mark.timeout(3600)]

ROWS = 1_000_000
MOST_MB = 300


def run(database, way, rows):
    """Seconds and memory of one way, in a process of its own."""
    url = database.url.render_as_string(hide_password=False)
    command = [sys.executable, "-m", "tests.benchmarks.importing", url, way, str(rows)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    return json.loads(done.stdout.splitlines()[-1]) if way != "prepare" else None


def test_an_import_is_at_least_half_as_fast_as_bare_insertion(tmp_path):
    with fresh_database(tmp_path) as database:
        schema.migrate(database)
        queue.prepare(database)
        run(database, "prepare", ROWS)
        found = run(database, "import", ROWS)
        bare = run(database, "bare", ROWS)
        kind = database.engine.dialect.name
    share = bare["seconds"] / found["seconds"]
    print(
        f"{kind}: {ROWS:,} readings in {found['seconds']:.1f} s ({ROWS / found['seconds']:,.0f} a second, upload included), "
        f"bare insertion {bare['seconds']:.1f} s: {share:.2f} of its throughput; "
        f"{found['peak_mb']:.0f} MB at most (targets: 0.5, {MOST_MB} MB)"
    )
    assert found["peak_mb"] < MOST_MB
    assert share >= 0.5
