"""Kinds are found by the names that mechanics use on either side of the Atlantic, and a miss names its neighbours."""

from __future__ import annotations

import pytest

from planner.catalogue import load_catalogue
from planner.errors import InputError, UnknownPartKind

CATALOGUE = load_catalogue()


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("rotor_arm", "rotor_arm"), ("Rotor arm", "rotor_arm"), ("distributor rotor", "rotor_arm"),
        ("contact breaker points", "contact_points"), ("breaker points", "contact_points"),
        ("HT leads", "ht_leads"), ("ht leads (plug leads)", "ht_leads"), ("spark plug wires", "ht_leads"),
        ("tyres", "tyres"), ("tires", "tyres"), ("damper", "damper"), ("shock absorber", "damper"),
        ("brake discs", "brake_discs"), ("brake rotors", "brake_discs"), ("cambelt", "timing_belt"),
        ("battery", "battery"), ("condenser (capacitor)", "condenser"), ("track-rod end", "balljoint"),
        ("  Serpentine   Belt ", "ribbed_belt"), ("brake booster hose", "servo_hose"),
    ],
)  # fmt: skip
def test_a_name_of_the_trade_finds_its_kind(name, kind):
    assert CATALOGUE.find(name) is CATALOGUE[kind]


@pytest.mark.parametrize("kind", CATALOGUE.values(), ids=list(CATALOGUE))
def test_each_kind_is_found_by_its_id_and_both_names(kind):
    for name in (kind.id, kind.name_gb, kind.name_us, *kind.other_names, kind.name_gb.upper()):
        assert CATALOGUE.find(name) is kind


@pytest.mark.parametrize(
    ("wrong", "near"),
    [
        ("rotor_arn", "rotor_arm"), ("distributor_cup", "distributor_cap"), ("rotor", "rotor_arm"),
        ("timing_bel", "timing_belt"), ("fuel hose", "fuel_hose_lp"),
    ],
)  # fmt: skip
def test_an_unknown_id_is_refused_with_near_matches(wrong, near):
    with pytest.raises(UnknownPartKind, match="a part kind of the catalogue") as refused:
        CATALOGUE[wrong]
    assert near in refused.value.wanted
    assert refused.value.field == "kind"
    assert wrong in refused.value.got
    assert isinstance(refused.value, InputError)


def test_a_name_that_several_kinds_share_names_them_all():
    with pytest.raises(UnknownPartKind, match="several have this name") as refused:
        CATALOGUE.find("sparking plugs")
    assert "spark_plugs_ni" in refused.value.wanted
    assert "spark_plugs_pt" in refused.value.wanted


@pytest.mark.parametrize(
    "nonsense", ["", "   ", "flux capacitor 9000", "\x00", "é" * 500, None, 7, float("nan"), ["x"]]
)
def test_nonsense_is_refused_without_a_crash(nonsense):
    with pytest.raises(UnknownPartKind):
        CATALOGUE.find(nonsense)
    with pytest.raises(UnknownPartKind):
        CATALOGUE[nonsense]


def test_the_catalogue_is_a_mapping():
    assert "tyres" in CATALOGUE
    assert "tires" not in CATALOGUE
    assert CATALOGUE.get("tires") is None
    assert CATALOGUE.get("tires", "x") == "x"
    assert CATALOGUE.get("tyres") is CATALOGUE["tyres"]
    assert list(CATALOGUE) == list(CATALOGUE.keys()) == [kind.id for kind in CATALOGUE.values()]
    assert next(iter(CATALOGUE)) == "distributor_cap"
