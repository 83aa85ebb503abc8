"""Every sum of money in a sentence of the planner carries the fleet's currency, and nothing else does."""

import re
from dataclasses import replace

import pytest

from api.bridge.words import priced
from planner import Cap, Costs, best_interval, known_life
from planner.interval.wording import reason_in_words, rounded
from tests.api.faults.cases import DAMP, car_with, opened
from tests.api.history.making import car, fitment, odometer

LIVES = {
    "both": known_life(distance=(2.5, 90_000), age=(3.0, 14)),
    "age": known_life(age=(4.0, 9)),
    "distance": known_life(distance=(3.0, 60_000)),
    "random": known_life(age=(1.0, 9)),
}
COSTS = [(40, 400), (0.4, 6), (1_250, 64_000), (90, 95), (12, 1_000_000)]


@pytest.mark.parametrize("planned_failure", COSTS)
@pytest.mark.parametrize("life", LIVES)
@pytest.mark.parametrize("terms", [{}, {"cap": Cap(years=2)}, {"max_risk": 0.05}])
def test_each_sum_of_an_interval_carries_it(life, planned_failure, terms):
    costs = Costs(planned=planned_failure[0], failure=planned_failure[1])
    rule = best_interval(LIVES[life], costs, km_per_year=8_000, **terms)
    told = priced(rule.reason, "GBP")
    assert told.replace(" GBP", "") == rule.reason
    sums = [rule.cost_run_to_failure]
    sums += [rule.flips_at_failure_cost or 0.0] if rule.run_to_failure else [rule.cost_per_year]
    for money in filter(None, sums):
        assert f"about {rounded(money)} GBP" in told, told
    assert told.count("GBP") == len(list(filter(None, sums)))
    assert not re.search(r"GBP (years?|months?|weeks?|km|mi|in)\b", told), told


def test_figures_of_thousands_and_fractions_are_kept_whole():
    rule = best_interval(LIVES["age"], Costs(planned=1, failure=10), km_per_year=8_000)
    told = reason_in_words(replace(rule, cost_per_year=12_345.0, cost_run_to_failure=0.42), ["age"]).reason
    assert "about 12,000 GBP a year, running to failure about 0.4 GBP" in priced(told, "GBP")


def test_the_service_says_it_in_its_fleets_currency(service):
    fleet = service.fleet(currency="SEK")
    with fleet.client() as client:
        found = car(client)
        odometer(client, found, "2024-09-01", 70_000)
        fitment(client, found, "v_belt", "2012-09-01")
        (item,) = client.get(f"/v1/vehicles/{found}/due-soon").json()["items"]
        assert re.search(
            r"costs about [\d,.]+ SEK a year, running to failure about [\d,.]+ SEK", item["reason"]
        )
        ill, _ = car_with(client, DAMP)
        ahead = client.get(f"/v1/fault-findings/{opened(client, ill)['id']}/next-step").json()
    said = f"{ahead['reason']} {ahead['dont_buy_yet'] or ''}"
    sums = re.findall(r"(?:costs|saves) about [\d,.]*\d(\s\w+)", said)
    assert set(sums) <= {" SEK"}
    assert ahead["step"]["kind"] != "check" or sums
