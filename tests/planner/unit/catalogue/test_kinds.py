"""Every part kind is complete, honest about where its figures come from, and agrees with the trade's table."""

from __future__ import annotations

import dataclasses
import math

import pytest

from planner.catalogue import load_catalogue
from tests.planner.unit.catalogue.catalogue_trade_table import TRADE_TABLE

CATALOGUE = load_catalogue()
KINDS = list(CATALOGUE.values())
IDS = list(CATALOGUE)
BASES = {"page", "common practice", "judgement"}
FAMILIES = (
    "ignition", "fuel and induction", "sensors", "cooling", "belts and chains", "brakes",
    "tyres and running gear", "electrics", "rubber and body", "clutch and exhaust",
)  # fmt: skip
every_kind = pytest.mark.parametrize("kind", KINDS, ids=IDS)


def shape(clock):
    """Weibull shape from the 10 % and 50 % points: Meeker, Escobar & Pascual 2022, quantiles of the Weibull."""
    return math.log(math.log(2.0) / -math.log(0.9)) / math.log(clock.p50 / clock.p10)


def clocks(kind):
    return [getattr(kind, name) for name in kind.clocks]


def test_the_catalogue_holds_every_kind_of_the_trade_table_and_more():
    assert set(TRADE_TABLE) <= set(CATALOGUE)
    assert len(TRADE_TABLE) == 56
    assert len(CATALOGUE) >= len(TRADE_TABLE)


def test_every_family_of_the_trade_holds_kinds():
    assert CATALOGUE.families() == FAMILIES
    assert all(len(CATALOGUE.of_family(family)) >= 2 for family in FAMILIES)
    assert sum(len(CATALOGUE.of_family(family)) for family in FAMILIES) == len(CATALOGUE)


@pytest.mark.parametrize("kind_id", TRADE_TABLE)
def test_quantiles_and_multiplier_are_those_of_the_trade_table(kind_id):
    kind = CATALOGUE[kind_id]
    distance, age, multiplier = TRADE_TABLE[kind_id]
    for clock, printed in ((kind.distance, distance), (kind.age, age)):
        if printed is None:
            assert clock is None
            continue
        assert (clock.raw_p10, clock.raw_p50) == pytest.approx(printed[:2])
        assert (clock.p10, clock.p50) == pytest.approx([multiplier * figure for figure in printed[:2]])
        assert clock.scale_multiplier == multiplier


@pytest.mark.parametrize("kind_id", TRADE_TABLE)
def test_the_quantiles_give_the_shapes_printed_in_the_trade_table(kind_id):
    kind = CATALOGUE[kind_id]
    for clock, printed in zip((kind.distance, kind.age), TRADE_TABLE[kind_id][:2], strict=True):
        if clock is not None:
            assert shape(clock) == pytest.approx(printed[2], abs=0.005 + 1e-9)


@every_kind
def test_each_kind_has_a_clock_whose_ten_per_cent_point_comes_first(kind):
    assert kind.clocks
    for clock in clocks(kind):
        assert 0.0 < clock.p10 < clock.p50 < math.inf
        assert 0.4 <= clock.spread_scale <= 0.5
        assert clock.spread_shape == 0.35


@every_kind
def test_each_figure_says_where_it_comes_from(kind):
    wanted = {"scale_multiplier", "new_part_fault", "stops_car", "labour_hours", "cost_class"}
    for name in kind.clocks:
        wanted |= {f"{name}.{figure}" for figure in ("p10", "p50", "spread_scale", "spread_shape")}
    wanted |= {"max_risk"} if kind.max_risk is not None else set()
    wanted |= {"cap"} if kind.cap.basis != "none" else set()
    assert wanted <= set(kind.provenance)
    for provenance in kind.provenance.values():
        assert provenance.basis in BASES
        assert len(provenance.text) > 10
        assert provenance.sources or provenance.basis != "page"


@every_kind
def test_a_clock_is_labelled_with_the_softer_of_its_two_bases(kind):
    order = ("page", "common practice", "judgement")
    for name in kind.clocks:
        clock = getattr(kind, name)
        both = [kind.provenance[f"{name}.{figure}"].basis for figure in ("p10", "p50")]
        assert clock.provenance == max(both, key=order.index)
        assert clock.source


def test_nearly_all_quantiles_are_labelled_as_judgement():
    """A page's label is kept for raw figures that the page itself states, to rounding."""
    labels = {
        f"{kind.id}.{name}.{figure}": kind.provenance[f"{name}.{figure}"].basis
        for kind in KINDS
        for name in kind.clocks
        for figure in ("p10", "p50")
    }
    assert {figure for figure, basis in labels.items() if basis == "page"} == {
        "v_belt.distance.p10",  # 36,000 miles
        "v_belt.age.p10",  # the fourth year
        "ribbed_belt.distance.p10",  # 50,000 miles
        "battery.age.p50",  # 58 months and more
    }
    assert list(labels.values()).count("judgement") > 0.9 * len(labels)


@every_kind
def test_words_and_chances_are_there_and_sensible(kind):
    for text in (kind.name_gb, kind.name_us, kind.failure_effect, kind.symptoms, kind.cheap_check,
                 kind.shortened_by, kind.shape_class, kind.wear, kind.access_group):  # fmt: skip
        assert text.strip()
        assert "as above" not in text.lower()
    assert 0.0 <= kind.stops_car <= 0.95
    assert 0.0 <= kind.new_part_fault <= 0.1
    assert 0.0 < kind.labour_hours[0] < kind.labour_hours[1]
    assert kind.cost_class in "ABCDE"
    assert kind.cautions
    assert set(kind.together_with) <= set(CATALOGUE) - {kind.id}
    assert kind.access_group in CATALOGUE.access_groups


@every_kind
def test_the_class_of_wear_follows_from_the_sharper_clock(kind):
    """Classes of the trade: random below 1.3, mild wear-out to 3, sharp from 3 (common practice, no source)."""
    if kind.shape_class == "calendar":
        assert kind.clocks == ("age",)
        return
    sharpest = max(shape(clock) for clock in clocks(kind))
    expected = "random" if sharpest < 1.3 else "mild wear-out" if sharpest < 3.0 else "sharp wear-out"
    assert kind.shape_class.removesuffix(" with early failures") == expected


@every_kind
def test_a_safety_part_is_never_without_a_word_on_its_limit(kind):
    if kind.safety:
        assert kind.cap.basis in {"maker", "authority", "common practice", "unknown"}
    if kind.cap.basis == "unknown":
        assert (kind.cap.km, kind.cap.years) == (None, None)
        assert kind.cap.note.startswith("limit unknown: look it up")
    if kind.cap.basis in {"maker", "authority", "common practice"}:
        assert kind.cap.source
        assert kind.cap.km is not None or kind.cap.years is not None


def test_the_kinds_that_can_hurt_someone_are_marked():
    """The trade notes' list of parts whose limit statistics may tighten and never loosen."""
    marked = {kind.id for kind in KINDS if kind.safety}
    assert {
        "tyres", "brake_fluid", "brake_hose", "brake_seals", "brake_pads", "brake_discs", "brake_shoes",
        "fuel_hose_lp", "fuel_hose_hp", "servo_hose", "timing_belt", "balljoint", "wheel_bearing",
    } <= marked  # fmt: skip


def test_no_limit_in_figures_stands_where_none_was_read():
    """Fluid 2 years (vantagepointmag.co.uk), tyres at most 10 (makers' advice of 6-10), hoses 10 (seen: 5-10)."""
    limits = {
        kind.id: (kind.cap.km, kind.cap.years) for kind in KINDS if kind.cap.basis not in {"unknown", "none"}
    }
    assert limits == {"brake_fluid": (None, 2.0), "brake_hose": (None, 10.0), "tyres": (None, 10.0)}
    assert CATALOGUE["tyres"].cap.warn_years == 6.0
    assert CATALOGUE["timing_belt"].cap.basis == "unknown"


def test_safety_kinds_are_not_lengthened_by_the_calibration():
    assert {clock.scale_multiplier for kind in KINDS if kind.safety for clock in clocks(kind)} == {1.0}


def test_rotor_arm_and_condenser_are_the_kinds_whose_new_stock_is_worst():
    assert 0.02 <= CATALOGUE["rotor_arm"].new_part_fault <= 0.05
    assert 0.02 <= CATALOGUE["condenser"].new_part_fault <= 0.05
    others = [k.new_part_fault for k in KINDS if k.id not in {"rotor_arm", "condenser"}]
    assert max(others) <= 0.02


def test_kinds_belong_to_the_systems_that_have_them():
    assert CATALOGUE["contact_points"].systems == ("points",)
    assert CATALOGUE["condenser"].fits("points")
    assert not CATALOGUE["condenser"].fits("injection")
    assert CATALOGUE["air_flow_meter"].systems == ("injection",)
    assert CATALOGUE["ignition_module"].systems == ("electronic distributor", "injection")
    assert all(CATALOGUE["battery"].fits(system) for system in ("points", "injection", None))


def test_kinds_behind_one_access_share_a_group():
    groups = [
        ("distributor_cap", "rotor_arm", "ht_leads", "spark_plugs_ni"),
        ("timing_belt", "timing_belt_tensioner", "water_pump", "oil_seal"),
        ("coolant_hose", "coolant", "thermostat"),
        ("brake_fluid", "brake_hose", "brake_seals"),
    ]
    for group in groups:
        assert len({CATALOGUE[kind].access_group for kind in group}) == 1
    assert all(group.setup_hours > 0 for group in CATALOGUE.access_groups.values())
    assert all(k.labour_hours[1] >= CATALOGUE.access_groups[k.access_group].setup_hours for k in KINDS)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("rotor_arm", "pacemakers"), ("fuel_hose_hp", "release it first"), ("coolant_hose", "Never open hot"),
        ("brake_pads", "asbestos"), ("clutch", "asbestos"), ("balljoint", "jack alone"), ("battery", "hydrogen"),
        ("timing_belt", "two full turns by hand"), ("exhaust", "carbon monoxide"), ("tyres", "kill"),
    ],
)  # fmt: skip
def test_work_that_can_hurt_carries_its_caution(kind, words):
    assert any(words in caution for caution in CATALOGUE[kind].cautions)


def test_cautions_are_there_by_family_and_for_any_work():
    for family in FAMILIES:
        assert CATALOGUE.cautions[family]
        for kind in CATALOGUE.of_family(family):
            assert set(CATALOGUE.cautions[family]) <= set(kind.cautions)
    assert any("no inspection" in caution for caution in CATALOGUE.cautions["general"])
    assert any("pyrotechnic" in caution for caution in CATALOGUE.cautions["licensed work"])


def test_the_catalogue_is_loaded_once_and_frozen():
    assert load_catalogue() is CATALOGUE
    with pytest.raises(dataclasses.FrozenInstanceError):
        CATALOGUE["tyres"].stops_car = 1.0
    with pytest.raises(TypeError):
        CATALOGUE["tyres"].provenance["stops_car"] = None
    with pytest.raises(TypeError):
        CATALOGUE.cautions["brakes"] = ()
    with pytest.raises(dataclasses.FrozenInstanceError):
        CATALOGUE.cautions = {}
    assert len(set(KINDS)) == len(KINDS)
