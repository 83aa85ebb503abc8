"""Modifiers of life: the trade's ranges as printed, their spread, and what is refused."""

from __future__ import annotations

import math

import pytest

from planner.catalogue import load_modifiers, modifiers_of, read_modifiers
from planner.errors import CatalogueError

# The trade's table of multipliers on life as printed: judgement of mechanics but for the battery in the heat, which two pages state.
TRADE_RANGES = {
    "heat_soak": (0.6, 0.8),
    "dry_garage": (1.3, 2.0),
    "damp_outdoors": (0.5, 0.8),
    "float_maintainer": (1.3, 1.6),
    "ethanol_fuel": (0.3, 0.6),
    "short_trips": (0.4, 0.7),
    "pattern_grade": (0.5, 0.7),
}


def test_ranges_are_as_the_trade_states_them():
    found = load_modifiers()
    assert {name: found[name].factor for name in TRADE_RANGES} == TRADE_RANGES
    assert found["pattern_grade"].new_part_fault == (0.02, 0.1)
    assert found["ten_degrees_hotter"].middle == pytest.approx(0.5, abs=0.01)
    assert found["hot_climate"].provenance.basis == "page"
    assert all(modifier.provenance.text for modifier in found.values())


def test_ranges_become_wide_priors():
    heat, short = load_modifiers()["heat_soak"], load_modifiers()["short_trips"]
    assert heat.middle == pytest.approx(math.sqrt(0.48))
    assert heat.spread == 0.25  # ln(0.8/0.6)/2.56 = 0.11 would be too sure of a judgement
    assert short.spread == 0.25
    garage = load_modifiers()["ethanol_fuel"]
    assert garage.spread == pytest.approx(math.log(2) / 2.563103)


def test_degradable_insulation_is_no_multiplier():
    assert modifiers_of("harness_degr") == ()
    assert [m.id for m in modifiers_of("ht_leads")] == ["heat_soak", "dry_garage", "damp_outdoors"]


GOOD = """
[modifier.x]
name = "x"
kinds = ["battery"]
clocks = ["age"]
factor = [0.5, 0.7]
note = "why"
"""


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ('"battery"', '"batery"', "kinds"),
        ('["age"]', '["distance"]', "clocks"),
        ('["age"]', '["moon"]', "clocks"),
        ("[0.5, 0.7]", "[0.7, 0.5]", "factor"),
        ("[0.5, 0.7]", "[0.0, 0.5]", "factor"),
        ('note = "why"', "", "note"),
        ('note = "why"', 'note = "why"\nfator = 2', "fator"),
    ],
)
def test_broken_data_name_file_modifier_and_field(old, new, field):
    assert read_modifiers({"m.toml": GOOD})["x"].factor == (0.5, 0.7)
    with pytest.raises(CatalogueError) as refused:
        read_modifiers({"m.toml": GOOD.replace(old, new)})
    assert refused.value.field.startswith("m.toml")
    assert "x" in refused.value.field
    assert refused.value.field.endswith(field)
