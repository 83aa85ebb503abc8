"""Timestamps go in aware and come out aware, in UTC, on every database."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from sqlalchemy.exc import StatementError
from sqlmodel import select

from api.storage.session import reading, writing
from api.storage.tables import Worker

TOKYO = timezone(timedelta(hours=9))


def test_another_zone_is_the_same_moment_in_utc(database):
    moment = datetime(2024, 3, 31, 9, 30, 15, 123456, tzinfo=TOKYO)
    with writing(database) as session:
        session.add(Worker(id="a", application_version="1", last_seen_at=moment))
    with reading(database) as session:
        found = session.get(Worker, "a").last_seen_at
    assert found == moment
    assert found.utcoffset() == timedelta(0)
    assert found.isoformat() == "2024-03-31T00:30:15.123456+00:00"


def test_a_naive_one_is_refused(database):
    naive = datetime(2024, 3, 31, 9, 30)  # noqa: DTZ001 - what is to be refused
    with pytest.raises(StatementError, match="naive"), writing(database) as session:
        session.add(Worker(id="a", application_version="1", last_seen_at=naive))


def test_comparison_in_sql_is_by_moment(database):
    with writing(database) as session:
        session.add(
            Worker(id="a", application_version="1", last_seen_at=datetime(2024, 1, 1, 0, 30, tzinfo=TOKYO))
        )
    with reading(database) as session:
        before = select(Worker.id).where(Worker.last_seen_at < datetime(2023, 12, 31, 16, 0, tzinfo=UTC))
        assert session.exec(before).all() == ["a"]
