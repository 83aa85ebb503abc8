"""The steps lead from an empty database to the tables of this release, forward with data kept, and back."""

from datetime import date

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import MetaData, Table, inspect, text
from sqlalchemy.exc import IntegrityError

from api.jobs import queue
from api.storage import dialect, schema
from api.storage.session import reading, writing
from api.storage.tables import Vehicle, metadata
from api.storage.types import utc_now


def ours(item, name, kind, *_):
    return kind != "table" or name in metadata.tables


def test_the_steps_make_exactly_the_tables(database):
    with database.engine.connect() as connection:
        context = MigrationContext.configure(
            connection, opts={"include_object": ours, "compare_type": True, "compare_server_default": False}
        )
        assert compare_metadata(context, metadata) == []


def test_the_steps_are_one_line_with_one_end():
    script = ScriptDirectory.from_config(schema.configuration())
    assert script.get_heads() == [schema.head()]
    assert script.get_bases() == ["0001"]


def test_each_step_goes_forward_and_back(empty):
    steps = [step.revision for step in ScriptDirectory.from_config(schema.configuration()).walk_revisions()]
    for revision in reversed(steps):
        schema.migrate(empty, revision)
        assert schema.revision(empty) == revision
    with dialect.migrating(empty.engine) as connection:
        config = schema.configuration()
        config.attributes["connection"] = connection
        command.downgrade(config, "base")
    assert set(inspect(empty.engine).get_table_names()) <= {"alembic_version"}


def test_data_of_the_first_step_live_through_all_later_ones(empty):
    schema.migrate(empty, "0001")
    rows = {  # by the tables as they were then, which the classes of today are not
        "fleet": {"name": "one", "time_zone": "UTC", "currency": "EUR"},
        "api_key": {"fleet_id": "fleet-1", "label": "ours", "prefix": "p", "hash": "h", "scope": "read"},
        "vehicle": {"name": "car", "distance_unit": "km", "fleet_id": "fleet-1"},
        "fitment": {
            "fleet_id": "fleet-1",
            "vehicle_id": "vehicle-1",
            "kind": "rotor_arm",
            "fitted_on": "1998~",
            "position": "",
            "condition": "new",
            "in_service": True,
        },
    }
    stamp = {"version": 1, "created_at": utc_now(), "updated_at": utc_now()}
    with empty.engine.begin() as connection:
        for name, row in rows.items():
            table = Table(name, MetaData(), autoload_with=connection)
            connection.execute(table.insert(), {"id": f"{name}-1", **stamp, **row})
    schema.migrate(empty)
    with reading(empty) as session:
        row = session.execute(
            text("SELECT v.name, f.fitted_on FROM fitment f JOIN vehicle v ON v.id = f.vehicle_id")
        ).one()
        key = session.execute(text("SELECT label, scope, external_ref FROM api_key")).one()
    assert tuple(row) == ("car", "1998~")
    assert tuple(key) == ("ours", "read", None)


def test_foreign_keys_are_kept_after_a_migration(database):
    with pytest.raises(IntegrityError, match=r"(?i)foreign key"):
        add_a_car_of_nobody(database)


def add_a_car_of_nobody(database):
    with writing(database) as session:
        session.add(Vehicle(fleet_id="nobody", name="car", distance_unit="km"))
        session.flush()


def test_migrating_twice_changes_nothing(database):
    schema.migrate(database)
    assert schema.standing(database) == "current"


def test_the_queue_shares_the_database_and_neither_disturbs_the_other(database):
    queue.prepare(database)
    queue.prepare(database)
    schema.migrate(database)
    assert schema.standing(database) == "current"


def test_a_database_of_a_later_release_is_refused(database):
    with writing(database) as session:
        session.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(schema.SchemaError, match="later release"):
        schema.ready(database, may_migrate=True)
    with pytest.raises(schema.SchemaError, match="later release"):
        schema.migrate(database)


def test_without_leave_to_migrate_an_old_database_is_refused_with_what_to_do(empty):
    with pytest.raises(schema.SchemaError, match=r"is empty.*wearwright migrate"):
        schema.ready(empty, may_migrate=False)
    schema.migrate(empty, "0001")
    with pytest.raises(schema.SchemaError, match=r"revision 0001.*wearwright migrate"):
        schema.ready(empty, may_migrate=False)
    schema.ready(empty, may_migrate=True)
    schema.ready(empty, may_migrate=False)


def test_lives_and_forecasts_of_before_stand_in_the_usual_circumstances_and_step_back_without_the_others(
    empty,
):
    schema.migrate(empty, "0017")
    stamp = {"fleet_id": "fleet-1", "version": 1, "created_at": utc_now(), "updated_at": utc_now()}
    life = {
        "kind": "battery",
        "source": "book",
        "current": True,
        "content": {},
        "fingerprint": "f",
        "schema_number": 1,
    }
    forecast = {"fitment_id": "fitment-1", "vehicle_id": "vehicle-1", "model_id": "life-1", "kind": "battery",
                "decides": "age", "run_to_failure": False, "as_of": date(2026, 1, 1), "reason": "", "coefficients": {}}  # fmt: skip
    rows = {
        "fleet": {"name": "one", "time_zone": "UTC", "currency": "EUR", "pooling": False, "id": "fleet-1"},
        "vehicle": {"name": "car", "distance_unit": "km", "id": "vehicle-1"},
        "fitment": {"vehicle_id": "vehicle-1", "kind": "battery", "position": "", "condition": "new", "in_service": True, "id": "fitment-1"},
        "life_model": {**life, "id": "life-1"},
        "forecast": {**forecast, "id": "forecast-1"},
    }  # fmt: skip
    _insert(empty, {name: {**stamp, **row} for name, row in rows.items()})
    schema.migrate(empty)
    with reading(empty) as session:
        assert session.execute(text("SELECT circumstances FROM life_model")).scalars().all() == [""]
        assert session.execute(text("SELECT circumstances, model_id FROM forecast")).one() == ("", "life-1")
        assert session.get(Vehicle, "vehicle-1").circumstances == []
    own = {**stamp, **life, "id": "life-2", "circumstances": "short_trips"}
    _insert(empty, {"life_model": own})
    with pytest.raises(IntegrityError):
        _insert(empty, {"life_model": {**own, "id": "life-3"}})
    with writing(empty) as session:
        session.execute(text("UPDATE forecast SET model_id = 'life-2', circumstances = 'short_trips'"))
    with dialect.migrating(empty.engine) as connection:
        config = schema.configuration()
        config.attributes["connection"] = connection
        command.downgrade(config, "0017")
    with reading(empty) as session:
        assert session.execute(text("SELECT id FROM life_model")).scalars().all() == ["life-1"]
        assert session.execute(text("SELECT id, model_id FROM forecast")).one() == ("forecast-1", None)


def _insert(database, rows):
    """A row each, in tables as they are in the database."""
    with database.engine.begin() as connection:
        for name, row in rows.items():
            table = Table(name, MetaData(), autoload_with=connection)
            known = {column: value for column, value in row.items() if column in table.c}
            connection.execute(table.insert(), known)
