"""What each reason for a removal is worth: weights with their source, and never a failure out of a good part."""

from __future__ import annotations

from typing import get_args

import pytest

from planner.history.evidence import BY_REASON, Reason, counts_as


def test_every_reason_has_its_worth():
    assert set(BY_REASON) == set(get_args(Reason))
    assert all(0 <= counts.event_weight <= 1 and counts.source for counts in BY_REASON.values())


@pytest.mark.parametrize(
    ("reason", "cured", "together", "weight"),
    [
        ("failed, confirmed", None, 1, 1.0),
        ("failed, confirmed", False, 1, 1.0),  # a test showed it dead, whatever else is wrong with the car
        ("failed, as reported", True, 1, 0.85),
        ("failed, as reported", False, 1, 0.0),
        ("failed, as reported", True, 2, 0.4),
        ("on suspicion", True, 1, 0.75),
        ("on suspicion", True, 4, 0.2),
        ("on suspicion", False, 1, 0.0),
        ("on suspicion", False, 4, 0.0),
        ("on suspicion", None, 1, 0.25),
        ("unknown", None, 1, 0.25),
        ("worn to limit", None, 1, 1.0),
        ("looked worn", None, 1, 1.0),
        ("found dead after standing", None, 1, 1.0),
    ],
)
def test_weights_of_the_trade_notes(reason, cured, together, weight):
    assert counts_as(reason, cured, together).event_weight == pytest.approx(weight)


@pytest.mark.parametrize(
    "reason",
    [
        "preventive",
        "while there",
        "recall",
        "upgrade",
        "accident",
        "theft",
        "damaged by another part",
        "sold",
    ],
)
@pytest.mark.parametrize("cured", [True, False, None])
def test_other_causes_leave_the_part_good(reason, cured):
    assert counts_as(reason, cured).ending == "still good"
    assert counts_as(reason, cured).event_weight == 0.0


def test_parts_changed_together_share_less_than_one_failure():
    assert 3 * counts_as("on suspicion", cured=True, changed_together=3).event_weight == pytest.approx(0.8)
