"""A refit of cars in different circumstances learns the kind's life and what the circumstances do, as the library does from the same rows."""

from datetime import date, timedelta

import numpy as np
import pytest

from planner import Spells, book_modifiers, book_prior, fit_life, fit_modified, load_catalogue
from tests.api.history.making import items, refit
from tests.api.imports.sending import send

KIND = "battery"
LIFE = f"/v1/part-kinds/{KIND}/life"
SHAPE, SCALE, FACTOR = 3.0, 8.0, 0.55
CARS = 40
FIRST, LAST = date(1990, 1, 1), date(2026, 1, 1)


def simulated():
    """Batteries of 40 cars, one after another, each until it fails or the records end: (car, fitted, failed or None)."""
    random, parts = np.random.default_rng(11), []
    for car in range(CARS):
        day = FIRST + timedelta(days=int(random.integers(0, 4000)))
        while True:
            years = SCALE * (FACTOR if car % 2 else 1.0) * random.weibull(SHAPE)
            gone = day + timedelta(days=max(1, round(years * 365.25)))
            parts.append((car, day, gone if gone < LAST else None))
            if gone >= LAST:
                break
            day = gone
    return parts


def stored(fleet, parts, *, told):
    """The same in a fleet, as files; odd cars do short trips, which is told or not."""
    cars = "".join(f"c{car},km,{'short_trips' if told and car % 2 else ''},c{car}\n" for car in range(CARS))
    send(fleet, "vehicles", f"name,distance_unit,circumstances,external_ref\n{cars}")
    shown = "".join(
        f"c{car},{day},{km},km\n" for car in range(CARS) for day, km in ((FIRST, 1000), (LAST, 200_000))
    )
    send(fleet, "odometer-readings", f"vehicle_ref,read_on,reading.value,reading.unit\n{shown}")
    fitted = "".join(f"c{car},{KIND},{day},p{i}\n" for i, (car, day, _) in enumerate(parts))
    send(fleet, "fitments", f"vehicle_ref,kind,fitted_on,external_ref\n{fitted}")
    gone = "".join(f'p{i},{day},"failed, confirmed"\n' for i, (*_, day) in enumerate(parts) if day)
    assert send(fleet, "removals", f"fitment_ref,removed_on,reason\n{gone}").body["rows"]["bad"] == 0


def rows(parts):
    """The library's own rows of them, and whether each is of a car that does short trips."""
    years = [((gone or LAST) - day).days / 365.25 for _, day, gone in parts]
    upper = [y if gone else np.inf for y, (*_, gone) in zip(years, parts, strict=True)]
    return Spells.on_age(years, upper), np.array([[float(car % 2)] for car, *_ in parts])


def newest(client, car):
    """The interval and reason of the part that is on a car."""
    vehicles = {one["name"]: one["id"] for one in items(client, "/v1/vehicles", limit=200)}
    return items(client, f"/v1/vehicles/{vehicles[car]}/schedule", horizon_years=10)[0]


def test_the_factor_is_found_and_the_halves_go_by_it(fleet, client):
    costs = {"costs": {"planned": 50.0, "failure": 600.0}}
    client.put(f"/v1/part-kinds/{KIND}/settings", json=costs).raise_for_status()
    parts = simulated()
    stored(fleet, parts, told=True)
    by_book = newest(client, "c1")
    assert "(book, between 0.38 and 0.73)" in by_book["reason"]
    assert refit(fleet, client, KIND)["result"]["changed"]
    life = client.get(LIFE).json()
    (learnt,) = [one for one in life["circumstances"] if one["id"] == "short_trips"]
    assert learnt["source"] == "learnt"
    assert learnt["low"] < FACTOR < learnt["high"]
    assert learnt["high"] - learnt["low"] < 0.15, "the book's own range is twice as wide"
    assert learnt["histories"] == sum(car % 2 for car, *_ in parts)
    assert {one["source"] for one in life["circumstances"] if one["id"] != "short_trips"} == {"book"}

    spells, x = rows(parts)
    modifiers = [one for one in book_modifiers(load_catalogue()[KIND]) if one.name == "short_trips"]
    prior = book_prior(load_catalogue()[KIND])
    same = fit_modified(spells, x, modifiers, prior)
    assert learnt["factor"] == pytest.approx(np.exp(same.gamma[0]), rel=0.01)
    assert life["age"]["scale_years"] == pytest.approx(same.life.age.scale, rel=0.01)
    assert life["age"]["scale_years"] == pytest.approx(SCALE, rel=0.1)

    short, usual = newest(client, "c1"), newest(client, "c0")
    assert short["interval"]["years"] / usual["interval"]["years"] == pytest.approx(FACTOR, rel=0.15)
    words = f"Mostly trips under 10 km: life about {learnt['factor']:.2g} of the usual (learnt from {learnt['histories']:g} histories, between"
    assert words in short["reason"]
    assert "trips" not in usual["reason"]
    assert "This car" not in short["reason"] + usual["reason"], "what is told explains how the cars differ"
    assert not refit(fleet, client, KIND)["result"]["changed"], (
        "the same records and circumstances are not fitted again"
    )

    one = items(client, "/v1/vehicles", limit=1)[0]
    match = {"If-Match": client.get(f"/v1/vehicles/{one['id']}").headers["etag"]}
    assert client.patch(
        f"/v1/vehicles/{one['id']}", json={"circumstances": ["hot_climate"]}, headers=match
    ).is_success
    assert refit(fleet, client, KIND)["result"]["changed"], "other circumstances are another fit"


def test_who_does_not_tell_gets_a_life_between_the_two_that_is_neither(fleet, client):
    parts = simulated()
    stored(fleet, parts, told=False)
    refit(fleet, client, KIND)
    life = client.get(LIFE).json()
    assert {one["source"] for one in life["circumstances"]} == {"book"}
    spells, _ = rows(parts)
    plain = fit_life(spells, book_prior(load_catalogue()[KIND]))
    assert life["age"]["scale_years"] == pytest.approx(plain.age.scale, rel=0.01)
    assert life["age"]["scale_years"] < 0.8 * SCALE
    assert life["age"]["shape"] < 0.85 * SHAPE
    assert "eats such parts" in newest(client, "c1")["reason"], "all that is left is to blame single cars"
