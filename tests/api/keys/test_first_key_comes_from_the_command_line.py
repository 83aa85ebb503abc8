"""`wearwright keys create`: the first key of a fleet, printed once, good on the service."""

import httpx
import pytest
from sqlmodel import select

from api.storage.engine import Database
from api.storage.session import reading
from api.storage.tables import ApiKey, Fleet
from tests.api.support import command, fresh_settings, fresh_url, running


def create(url, *arguments):
    return command("keys", "create", "--database-url", url, *arguments)


def test_a_key_made_on_the_command_line_opens_the_service(tmp_path):
    url = fresh_url(tmp_path)
    command("migrate", "--database-url", url)
    made = create(url, "--fleet", "The barn", "--time-zone", "Europe/London", "--currency", "GBP")
    assert made.returncode == 0, made.stderr
    key = made.stdout.strip()
    assert made.stdout.count("ww_") == 1
    with running(fresh_settings(tmp_path, database_url=url, jobs=False)) as service:
        answer = httpx.get(f"{service.base_url}/v1/keys", headers={"Authorization": f"Bearer {key}"})
    (row,) = answer.json()["items"]
    assert row["scope"] == "admin"
    assert row["expires_at"] is None


def test_a_second_key_is_for_the_same_fleet(tmp_path):
    url = fresh_url(tmp_path)
    command("migrate", "--database-url", url)
    for scope in ("read", "write"):
        assert create(url, "--fleet", "The barn", "--scope", scope, "--days", "30").returncode == 0
    database = Database(url)
    with reading(database) as session:
        (fleet,) = session.exec(select(Fleet)).all()
        keys = session.exec(select(ApiKey)).all()
    database.close()
    assert {key.fleet_id for key in keys} == {fleet.id}
    assert all(key.expires_at is not None for key in keys)


def test_a_further_key_changes_nothing_of_the_fleet(tmp_path):
    url = fresh_url(tmp_path)
    command("migrate", "--database-url", url)
    same = ["--fleet", "The barn", "--time-zone", "Europe/London", "--currency", "GBP"]
    for _ in range(2):
        assert create(url, *same).returncode == 0
    refused = create(url, *same[:-1], "USD")
    assert (refused.returncode, refused.stdout, refused.stderr.count("\n")) == (1, "", 1)
    assert "currency: the fleet 'The barn' is there already, with GBP" in refused.stderr
    assert "PATCH /v1/fleet" in refused.stderr
    database = Database(url)
    with reading(database) as session:
        assert [fleet.currency for fleet in session.exec(select(Fleet)).all()] == ["GBP"]
        assert len(session.exec(select(ApiKey)).all()) == 2
    database.close()


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (["--scope", "owner"], "scope"),
        (["--time-zone", "Mars/Olympus"], "time_zone"),
        (["--currency", "pounds"], "currency"),
        (["--days", "0"], "days"),
    ],
)
def test_what_is_wrong_is_named_in_one_line(tmp_path, arguments, named):
    refused = create(f"sqlite:///{tmp_path / 'a.db'}", "--fleet", "The barn", *arguments)
    assert refused.returncode != 0
    assert named in refused.stderr
    assert "Traceback" not in refused.stderr
    assert refused.stdout == ""
