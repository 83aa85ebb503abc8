"""Keys: one fleet, one scope, shown once, hashed at rest; expiry, revocation, last use."""

import hashlib
from datetime import UTC, datetime, timedelta

import httpx
import pytest
from sqlmodel import select

from api.storage.session import reading, writing
from api.storage.tables import ApiKey


def make(admin, **body):
    return admin.post("/v1/keys", json={"scope": "read", **body})


def client_with(service, key):
    return httpx.Client(base_url=service.base_url, headers={"Authorization": f"Bearer {key}"})


def row_of(service, key_id):
    with reading(service.database) as session:
        return session.exec(select(ApiKey).where(ApiKey.id == key_id)).one()


def test_a_made_key_opens_its_fleet_with_its_scope(service, admin, client):
    client.post("/v1/vehicles", json={"name": "a", "distance_unit": "km"}).raise_for_status()
    made = make(admin, label="the workshop's").json()
    with client_with(service, made["key"]) as reader:
        assert [car["name"] for car in reader.get("/v1/vehicles").json()["items"]] == ["a"]
        assert reader.post("/v1/vehicles", json={"name": "b", "distance_unit": "km"}).status_code == 403


def test_the_key_is_shown_once_and_only_its_hash_is_stored(service, admin):
    made = make(admin)
    key, key_id = made.json()["key"], made.json()["id"]
    secret = key.rsplit("_", 1)[1]
    assert len(bytes.fromhex(secret)) == 32
    row = row_of(service, key_id)
    assert row.hash == hashlib.sha256(secret.encode()).hexdigest()
    assert secret not in repr(row.model_dump())
    for answer in (admin.get("/v1/keys"), admin.get(made.headers["location"])):
        assert secret not in answer.text
        assert row.hash not in answer.text


def test_the_scheme_may_be_written_in_any_case(service, fleet):
    with httpx.Client(base_url=service.base_url) as client:
        headers = {"Authorization": f"bearer {fleet.keys['read']}"}
        assert client.get("/v1/vehicles", headers=headers).status_code == 200


def test_a_changed_secret_or_prefix_opens_nothing(service, fleet):
    lead, prefix, secret = fleet.keys["read"].split("_")
    other = service.fleet().keys["read"].split("_")
    for key in (
        f"{lead}_{prefix}_{other[2]}",
        f"{lead}_{other[1]}_{secret}",
        f"xx_{prefix}_{secret}",
        f"{lead}_{prefix}_",
    ):
        with client_with(service, key) as client:
            assert client.get("/v1/vehicles").status_code == 401


def test_a_key_past_its_expiry_opens_nothing(service, admin):
    made = make(admin, days=1).json()
    assert datetime.fromisoformat(made["expires_at"]) - datetime.now(UTC) < timedelta(days=1)
    with client_with(service, made["key"]) as client:
        assert client.get("/v1/vehicles").status_code == 200
        with writing(service.database) as session:
            session.get(ApiKey, made["id"]).expires_at = datetime.now(UTC) - timedelta(seconds=1)
        assert client.get("/v1/vehicles").status_code == 401


@pytest.mark.parametrize("days", [0, -1, 36501, 1.5, "30", True])
def test_a_term_that_is_none_is_refused(admin, days):
    response = make(admin, days=days)
    assert response.status_code == 422
    assert response.json()["errors"][0]["field"] == "days"


def test_revoking_closes_at_once_and_keeps_the_row(service, admin):
    made = make(admin)
    location = made.headers["location"]
    assert admin.delete(location).status_code == 428
    assert admin.delete(location, headers={"If-Match": '"old"'}).status_code == 412
    assert admin.delete(location, headers={"If-Match": made.headers["etag"]}).status_code == 204
    with client_with(service, made.json()["key"]) as client:
        assert client.get("/v1/vehicles").status_code == 401
    assert admin.get(location).json()["revoked_at"] is not None
    again = admin.delete(location, headers={"If-Match": admin.get(location).headers["etag"]})
    assert again.status_code == 409


def test_a_key_cannot_lock_itself_out(admin, fleet):
    own = next(
        key
        for key in admin.get("/v1/keys").json()["items"]
        if fleet.keys["admin"].split("_")[1] == key["prefix"]
    )
    response = admin.delete(f"/v1/keys/{own['id']}", headers={"If-Match": "*"})
    assert response.status_code == 409


def test_rotation_old_and_new_overlap_then_the_old_one_goes(service, fleet, admin):
    old = next(key for key in admin.get("/v1/keys").json()["items"] if key["scope"] == "write")
    new = make(admin, scope="write").json()
    with fleet.client("write") as with_old, client_with(service, new["key"]) as with_new:
        assert with_old.get("/v1/vehicles").status_code == with_new.get("/v1/vehicles").status_code == 200
        admin.delete(f"/v1/keys/{old['id']}", headers={"If-Match": "*"}).raise_for_status()
        assert (with_old.get("/v1/vehicles").status_code, with_new.get("/v1/vehicles").status_code) == (
            401,
            200,
        )


def test_last_use_is_noted_without_changing_the_entity_tag(admin, service):
    made = make(admin)
    location = made.headers["location"]
    assert admin.get(location).json()["last_used_at"] is None
    with client_with(service, made.json()["key"]) as client:
        client.get("/v1/vehicles")
    after = admin.get(location)
    assert after.json()["last_used_at"] is not None
    assert after.headers["etag"] == made.headers["etag"]


def test_keys_are_for_admins(client, reading):
    for asking in (client, reading):
        assert asking.get("/v1/keys").status_code == 403
        assert make(asking).status_code == 403


def test_another_fleets_key_is_not_there(admin, stranger):
    location = make(admin).headers["location"]
    assert stranger.get(location).status_code == 404
    assert stranger.delete(location, headers={"If-Match": "*"}).status_code == 404
    assert admin.get(location).json()["id"] not in stranger.get("/v1/keys").text
