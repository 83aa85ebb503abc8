"""Kill -9 in the middle of an import: rows, totals and faults equal an undisturbed run; nobody ever sees a part of it."""

import pytest

from api.storage.session import reading
from api.storage.tables import BulkImport, ImportFault, ImportMatch, ImportPart
from tests.api.imports.killing import (
    cars_of,
    file_of,
    held,
    killed_until_done,
    queued,
    standing,
    undisturbed,
)
from tests.api.jobs.test_a_killed_job_is_finished_by_the_next_process import prepared
from tests.api.support import fresh_database


def left(database, fleet_id, import_id):
    """All that an import leaves: rows and totals, faults, states and counts."""
    states, row = standing(database, import_id)
    with reading(database) as session:
        found = session.query(ImportFault).filter_by(import_id=import_id)
        faults = sorted((one.row_number, one.field, one.wanted, one.got) for one in found)
        assert session.query(ImportPart).count() == session.query(ImportMatch).count() == 0
        assert session.query(BulkImport).count() == 1
    counts = (row.phase, row.hidden, row.rows_read, row.rows_new, row.rows_bad)
    return held(database, fleet_id), faults, states, counts


def prepared_import(folder, content, options):
    folder.mkdir()
    with fresh_database(folder) as database:
        fleet_id = prepared(database)
        cars_of(database, fleet_id, content.count(b"\n"))
        yield database, fleet_id, queued(database, fleet_id, content, **options)


def compare(tmp_path, rows, *, kills, **options):
    """How many kills hit the work; whatever they hit, what is left is the same."""
    content, name = file_of(rows), "-".join(options) or "refuse"
    for database, fleet_id, import_id in prepared_import(tmp_path / f"{name} here", content, options):
        seconds = undisturbed(database, import_id)
        wanted = left(database, fleet_id, import_id)
    for database, fleet_id, import_id in prepared_import(tmp_path / f"{name} killed", content, options):
        looks, done = killed_until_done(database, fleet_id, import_id, kills=kills, seconds=seconds)
        assert left(database, fleet_id, import_id) == wanted
    shown, faults = wanted[0][0], wanted[1]
    assert faults
    assert shown > 0.9 * rows if options else shown == 0
    assert looks <= {0, shown}
    print(
        f"{rows} rows, {options or 'all or nothing'}: {done} kills, undisturbed {seconds:.1f} s, {shown} shown"
    )
    return done


def test_killed_twice(tmp_path):
    assert compare(tmp_path, 11_000, kills=2, bad_rows="skip") >= 1


@pytest.mark.full
@pytest.mark.timeout(7200)
def test_killed_fifty_times_in_a_hundred_thousand_rows(tmp_path):
    done = compare(tmp_path, 100_000, kills=30, bad_rows="skip") + compare(tmp_path, 100_000, kills=25)
    assert done >= 50
