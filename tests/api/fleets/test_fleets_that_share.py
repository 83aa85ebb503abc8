"""Learning together: only by choice, from five other fleets up, parameters and rounded counts alone, leavers forgotten."""

from contextlib import ExitStack

import pytest
from sqlmodel import select

from api.bridge.learning import shared
from api.bridge.learning.learn import learn
from api.bridge.learning.refits import _terms
from api.storage.session import reading, writing
from api.storage.tables import Fleet, LifeModel
from planner.life.fit import fit_life
from tests.api.history.making import car, fitment, refit, removal, settle

KIND = "damper"


def share(admin, pooling=True):
    admin.patch("/v1/fleet", json={"pooling": pooling}, headers={"If-Match": "*"}).raise_for_status()


def record(client, *lives):
    """One car per life in km, each ended by a confirmed failure; ids of cars and parts."""
    ids = []
    for number, life in enumerate(lives):
        vehicle = car(client, name=f"car {number}")
        part = fitment(client, vehicle, KIND, "2015-06-01", 20_000)
        removal(client, part, "2021-06-01", "failed, confirmed", 20_000 + life)
        ids += [vehicle, part]
    return ids


class World:
    """Six fleets: one whose life is asked for, five others whose dampers die young."""

    def __init__(self, service, stack):
        self.service = service
        self.fleets = [service.fleet() for _ in range(6)]
        self.admins = [stack.enter_context(fleet.client("admin")) for fleet in self.fleets]
        settle(self.own, self.admins[0].put(f"/v1/part-kinds/{KIND}/settings", json={"clocks": ["distance"]}))
        self.ids = [record(self.admins[0], 70_000, 80_000)]
        for number, admin in enumerate(self.admins[1:]):
            self.ids.append(record(admin, 9_000 + 500 * number, 11_000 + 700 * number))

    @property
    def own(self):
        return self.fleets[0]

    def sharing(self, *numbers):
        for number, admin in enumerate(self.admins):
            share(admin, number in numbers)

    def refit(self):
        return refit(self.own, self.admins[0], KIND)["result"]

    def scale(self):
        life = self.admins[0].get(f"/v1/part-kinds/{KIND}/life", params={"unit": "km"}).json()
        return life["distance"]["scale"]["value"]

    def content(self):
        with reading(self.service.database) as session:
            found = select(LifeModel).where(LifeModel.fleet_id == self.own.id, LifeModel.current)
            return session.exec(found).one().content


@pytest.fixture(scope="module")
def world(service):
    with ExitStack() as stack:
        made = World(service, stack)
        yield made
        with writing(service.database) as session:
            for row in session.exec(select(Fleet)):
                row.pooling = False


def test_no_fleet_shares_until_it_says_so(fleet, admin, client):
    read = admin.get("/v1/fleet")
    assert read.json()["pooling"] is False
    assert client.patch("/v1/fleet", json={"pooling": True}, headers={"If-Match": "*"}).status_code == 403
    assert admin.patch("/v1/fleet", json={"pooling": True}).status_code == 428
    tag = {"If-Match": read.headers["etag"]}
    assert admin.patch("/v1/fleet", json={"pooling": None}, headers=tag).status_code == 422
    assert admin.patch("/v1/fleet", json={"pooling": True}, headers=tag).json()["pooling"] is True
    assert admin.patch("/v1/fleet", json={"pooling": False}, headers=tag).status_code == 412
    assert admin.patch("/v1/fleet", json={}, headers={"If-Match": "*"}).json()["pooling"] is True
    share(admin, pooling=False)


def test_under_five_other_fleets_nothing_is_released(world):
    world.sharing()
    assert world.refit()["shared"] is None
    alone = world.scale()
    world.sharing(0, 1, 2, 3, 4)
    assert world.refit() | {"changed": False} == world.refit()
    assert (world.refit()["shared"], world.scale()) == (None, alone)


def test_who_does_not_share_gets_nothing(world):
    world.sharing(1, 2, 3, 4, 5)
    assert world.refit()["shared"] is None


def test_five_others_give_a_prior_without_the_own_rows(world):
    world.sharing()
    world.refit()
    alone = world.scale()
    world.sharing(0, 1, 2, 3, 4, 5)
    result = world.refit()
    assert result["changed"] is True
    assert result["shared"] == {"fleets": 5, "histories": 10}
    assert world.scale() < alone
    assert result["histories"] == pytest.approx(2)
    with reading(world.service.database) as session:
        terms = _terms(session, world.own.id, KIND)
        known = shared.others(session, world.own.id, KIND, terms)
        own = learn(session, world.own.id, KIND, terms).spells
    prior = shared.prior_of(KIND, terms, known)
    right = fit_life(own, prior, seed=1, draws=400).distance.scale
    assert world.scale() == pytest.approx(right, rel=1e-3)
    twice = shared.prior_of(KIND, terms, shared.Others((*known.spells, own), ""))
    wrong = fit_life(own, twice, seed=1, draws=400).distance.scale
    assert abs(wrong / right - 1) > 0.01


def test_nothing_of_another_fleet_stands_in_the_life(world):
    world.sharing(0, 1, 2, 3, 4, 5)
    world.refit()
    text = str(world.content())
    assert world.content()["shared"] == {"fleets": 5, "histories": 10}
    for fleet, ids in zip(world.fleets[1:], world.ids[1:], strict=True):
        assert all(found not in text for found in (fleet.id, *ids))


def test_a_leaver_is_forgotten_at_the_next_refit(world):
    world.sharing()
    world.refit()
    alone = world.scale()
    world.sharing(0, 1, 2, 3, 4, 5)
    world.refit()
    together = world.scale()
    share(world.admins[5], pooling=False)
    assert world.scale() == together
    result = world.refit()
    assert (result["changed"], result["shared"]) == (True, None)
    assert world.scale() == pytest.approx(alone, rel=1e-9)


def test_counts_are_rounded_down():
    class Rows:
        def __init__(self, weight):
            self.weight = weight

    import numpy as np

    known = shared.Others(tuple(Rows(np.ones(count)) for count in (3, 9, 4, 8, 7, 6, 2)), "")
    assert known.counts == {"fleets": 5, "histories": 30}
