"""Read-then-write transactions wait for each other instead of failing; readers neither wait nor write."""

import sqlite3
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.exc import DBAPIError, OperationalError
from sqlmodel import select

from api import logs
from api.storage import dialect
from api.storage import session as session_module
from api.storage.session import reading, writing
from api.storage.tables import Fleet


@pytest.fixture
def fleet_id(database):
    with writing(database) as session:
        fleet = Fleet(name="one", currency="AAA")
        session.add(fleet)
        return fleet.id


def read_then_write(database, fleet_id):
    with writing(database) as session:
        fleet = session.exec(select(Fleet).where(Fleet.id == fleet_id).with_for_update()).one()
        time.sleep(0.005)
        fleet.time_zone = "UTC" if fleet.time_zone != "UTC" else "Europe/Paris"


def test_ninety_read_then_write_transactions_all_pass(database, fleet_id):
    with ThreadPoolExecutor(30) as pool:
        list(pool.map(lambda _: read_then_write(database, fleet_id), range(90)))
    with reading(database) as session:
        assert session.get(Fleet, fleet_id).version == 91


def test_the_ordinary_way_loses_most_of_them(database, fleet_id):
    """What the write session is for: with a deferred BEGIN, the same work fails at once, whatever the busy timeout."""
    if not database.is_sqlite:
        pytest.skip("PostgreSQL locks rows; the trap is SQLite's")

    def deferred(_):
        connection = sqlite3.connect(database.url.database, timeout=30, isolation_level=None)
        try:
            connection.execute("BEGIN")
            connection.execute("SELECT version FROM fleet").fetchall()
            time.sleep(0.005)
            connection.execute("UPDATE fleet SET version = version + 1")
            connection.execute("COMMIT")
        except sqlite3.OperationalError:
            return False
        finally:
            connection.close()
        return True

    with ThreadPoolExecutor(30) as pool:
        passed = sum(pool.map(deferred, range(90)))
    assert passed < 90


def test_a_reader_does_not_wait_for_a_writer(database, fleet_id):
    with writing(database) as writer:
        writer.get(Fleet, fleet_id).currency = "BBB"
        writer.flush()
        began = time.monotonic()
        with reading(database) as reader:
            assert reader.get(Fleet, fleet_id).currency == "AAA"
        assert time.monotonic() - began < 1


def add_fleet(unit, database, name, *, then=lambda: None):
    with unit(database) as session:
        session.add(Fleet(name=name))
        session.flush()
        then()


def test_a_read_session_cannot_write_and_the_next_write_session_can(database):
    with pytest.raises(DBAPIError):
        add_fleet(reading, database, "by a reader")
    with writing(database) as session:
        session.add(Fleet(name="by a writer"))
    with reading(database) as session:
        assert session.exec(select(Fleet.name)).all() == ["by a writer"]


def test_a_transaction_that_holds_up_others_is_written_to_the_log(database, capfd, monkeypatch):
    monkeypatch.setattr(session_module, "LONG_SECONDS", 0.1)
    logs.configure("warning", as_json=True)
    add_fleet(writing, database, "quick")
    assert "held up others" not in capfd.readouterr().err
    add_fleet(writing, database, "slow", then=lambda: time.sleep(0.15))
    assert "held up others" in capfd.readouterr().err


def test_an_error_in_the_block_rolls_everything_back(database):
    with pytest.raises(ZeroDivisionError):
        add_fleet(writing, database, "one", then=lambda: 1 / 0)
    with reading(database) as session:
        assert session.exec(select(Fleet)).all() == []


def test_a_lock_timeout_and_a_duplicate_are_told_apart(database, fleet_id):
    with pytest.raises(DBAPIError) as duplicate:
        add_fleet(writing, database, "one")
    assert dialect.is_duplicate(duplicate.value)
    assert not dialect.is_lock_timeout(duplicate.value)

    with writing(database) as session:
        session.get(Fleet, fleet_id).currency = "BBB"
        session.flush()
        with pytest.raises(OperationalError) as locked:
            write_impatiently(database)
    assert dialect.is_lock_timeout(locked.value)
    assert not dialect.is_duplicate(locked.value)


def write_impatiently(database):
    engine = create_engine(database.url, connect_args={"timeout": 0.05} if database.is_sqlite else {})
    try:
        with engine.begin() as connection:
            if not database.is_sqlite:
                connection.execute(text("SET LOCAL lock_timeout = '50ms'"))
            connection.execute(text("UPDATE fleet SET currency = 'CCC'"))
    finally:
        engine.dispose()
