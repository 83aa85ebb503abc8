"""Findings that contradict each other: a part that had failed is not in order again without a repair."""

import numpy as np
import pytest

from planner.errors import RecordError
from planner.history.conversion import spells_from
from planner.history.records import Repair
from tests.planner.unit.history.test_conversion import BOTH, TODAY, fitted, history, look, rows


@pytest.mark.parametrize("later", ["good", "near limit"])
def test_failed_and_later_in_order_without_a_repair_is_refused_or_listed(later):
    undone = history(fitted(), look("2014-06-01", later), look("2013-06-01", "failed"))
    with pytest.raises(RecordError, match="repair") as refused:
        spells_from([undone], BOTH, TODAY)
    assert refused.value.field == "inspections[0].finding"
    listed = spells_from([undone], BOTH, TODAY, contradictions="leave out")
    assert listed.spells is None
    assert "failed, as on 2013-06-01" in listed.left_out[0].reason
    same_day = history(fitted(), look("2013-06-01", "failed"), look("2013-06-01", later))
    assert len(rows(same_day)) == 1
    assert (
        len(rows(history(fitted(), look("2013-06-01", "failed"), look("2014-06-01", "worn to limit")))) == 1
    )


@pytest.mark.parametrize("day", ["2013-06-01", "2014-02-01", "2014-06-01"])
def test_a_repair_between_or_on_either_day_is_a_repair(day):
    mended = Repair(repaired_on=day, action="repaired")
    result = spells_from(
        [history(fitted(), look("2013-06-01", "failed"), look("2014-06-01"), mended)], BOTH, TODAY
    )
    assert not result.left_out
    assert result.spells.exact[0] or np.isfinite(result.spells.years.upper[0])
