"""The curve without a law beside a fitted life: kept where the records carry one, said to be missing where not."""

import numpy as np
import pytest

from api.bridge.learning.curves import curve_of, records_alone
from planner.history.spells import Spells
from tests.api.history.making import car, fitment, refit, removal

INF = np.inf


def test_the_product_limit_by_hand():
    """Lives 1, 2 (good), 3: survival 2/3 after 1 and 0 after 3 (Kaplan & Meier 1958, by hand)."""
    content = {"records_alone": records_alone(Spells.on_age([1, 2, 3], [1, INF, 3]))}
    curve = curve_of(content, "age")
    assert curve.times.tolist() == [1, 3]
    assert curve.survival == pytest.approx([2 / 3, 0], abs=1e-5)


def test_a_gap_in_which_nobody_was_watched_leaves_no_curve():
    gap = Spells.on_age([2, 9, 10], [2, 9, INF], entry=[0, 5, 5])
    assert "had gone before" in curve_of({"records_alone": records_alone(gap)}, "age")
    bridged = Spells.on_age([2, 9, 10], [2, 9, INF], entry=[0, 1, 5])
    assert curve_of({"records_alone": records_alone(bridged)}, "age").times.tolist() == [2, 9]


def test_a_refit_succeeds_though_there_is_no_curve(fleet, client):
    """A young part that failed at once, and old ones that came with their cars."""
    young = fitment(
        client, car(client, name="young", built="2014", joined_on="2015-01-01"), "battery", "2016-01-01"
    )
    removal(client, young, "2016-06-01", "failed, confirmed")
    for number in range(3):
        old = fitment(
            client, car(client, name=f"old {number}", joined_on="2015-01-01"), "battery", "2010-01-01"
        )
        removal(client, old, f"201{6 + number}-01-01", "failed, confirmed")
    job = refit(fleet, client, "battery")
    assert (job["state"], job["result"]["failures"]) == ("succeeded", 4)
