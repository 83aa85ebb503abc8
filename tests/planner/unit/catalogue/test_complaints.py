"""Complaints: the trade's weights by system, shares that sum to one, and stop-driving words where they are due."""

from __future__ import annotations

import pytest

from planner.catalogue import load_catalogue, load_complaints, load_conditions, own_complaint, read_complaints
from planner.errors import CatalogueError

COMPLAINTS = load_complaints()
CATALOGUE = load_catalogue()
SYSTEMS = ("points", "electronic distributor", "injection")
every_complaint = pytest.mark.parametrize("complaint", COMPLAINTS.values(), ids=list(COMPLAINTS))

# The trade's table of complaints (judgement of mechanics; no published distribution was found): complaint, system,
# total weight per kind, and the weight of what is no wear part, as printed there or split evenly by this catalogue.
TRADE_WEIGHTS = [
    ("misfire_when_warm", "points", {"condenser": 15, "ignition_coil": 15, "ht_leads": 12, "rotor_arm": 10}, 16),
    ("misfire_when_warm", "injection", {"ignition_coil": 15, "crank_sensor": 6, "rotor_arm": 10}, 16),
    ("misfire_in_damp", "points", {"ht_leads": 35, "distributor_cap": 30, "rotor_arm": 8, "ignition_coil": 10}, 7),
    ("misfire_under_load", "injection", {"ht_leads": 22, "ignition_coil": 12}, 14),
    ("hot_no_start", "injection", {"ignition_module": 12, "ignition_coil": 10, "relay": 9, "coolant_temp_sensor": 7}, 7),
    ("cold_hard_start", "points", {"battery": 15, "contact_points": 10}, 22),
    ("sudden_stop", "points", {"rotor_arm": 10, "ignition_coil": 6, "timing_belt": 8, "fuel_filter": 4}, 20),
    ("flat_spot", "injection", {"air_flow_meter": 15, "throttle_switch": 8, "fuel_filter": 6}, 17),
    ("flat_spot", "points", {"accelerator_pump_diaphragm": 14, "vacuum_advance": 10, "vacuum_hose": 18}, 17),
    ("hunting_idle", "injection", {"throttle_actuator": 22, "air_flow_meter": 8, "coolant_temp_sensor": 5}, 15),
    ("backfire", "points", {"exhaust": 10, "contact_points": 7, "condenser": 7}, 20),
    ("overheats_in_traffic", "points", {"radiator": 18, "thermostat": 14}, 12),
    ("overheats_at_speed", "points", {"radiator": 34, "thermostat": 14}, 20),
    ("charge_light", "points", {"alternator_brushes": 26, "voltage_regulator": 16, "alternator_diodes": 10,
                                "battery": 16, "battery_cables": 12}, 6),
    ("slow_cranking_hot", "injection", {"battery": 28, "battery_cables": 26, "starter_motor": 32}, 14),
    ("power_falls_with_distance", "injection", {"fuel_filter": 15, "air_filter": 8, "exhaust": 10, "air_flow_meter": 6}, 12),
    ("brake_pulls", "points", {"brake_seals": 48, "brake_hose": 16, "brake_pads": 12, "tyres": 8}, 16),
    ("sinking_pedal", "points", {"brake_fluid": 25}, 5),
    ("fuel_smell", "points", {"fuel_hose_lp": 63, "carburettor_seals": 20, "fuel_pump_mech": 7}, 2),
    ("wander_or_knock", "points", {"suspension_bush": 30, "balljoint": 35, "damper": 15, "wheel_bearing": 5}, 15),
    ("hum_with_speed", "points", {"tyres": 45, "wheel_bearing": 38}, 17),
]  # fmt: skip


def holds(line, system):
    return not line.systems or system in line.systems


def test_the_nineteen_complaints_of_the_trade_are_there():
    assert len({row[0] for row in TRADE_WEIGHTS}) == 19
    assert {row[0] for row in TRADE_WEIGHTS} <= set(COMPLAINTS)
    assert len(COMPLAINTS) >= 19


@pytest.mark.parametrize(("name", "system", "weights", "not_wear"), TRADE_WEIGHTS)
def test_weights_are_those_of_the_trade(name, system, weights, not_wear):
    complaint = COMPLAINTS[name]
    lines = [cause for cause in complaint.causes if holds(cause, system) and not cause.cohort]
    for kind, weight in weights.items():
        assert sum(line.weight for line in lines if line.kinds == (kind,)) == weight
    assert sum(line.weight for line in complaint.others if holds(line, system)) == not_wear


@every_complaint
@pytest.mark.parametrize("system", [*SYSTEMS, None])
def test_shares_and_something_else_make_one(complaint, system):
    shares = complaint.shares(system)
    assert all(0.0 < share < 1.0 for share in shares.values())
    assert sum(shares.values()) < 1.0
    assert sum(shares.values()) + complaint.something_else(system) == pytest.approx(1.0, abs=1e-12)
    assert complaint.something_else(system) >= 0.05


@every_complaint
@pytest.mark.parametrize("system", SYSTEMS)
def test_a_share_never_falls_on_a_kind_that_the_system_cannot_have(complaint, system):
    assert all(CATALOGUE[kind].fits(system) for kind in complaint.shares(system))


@every_complaint
def test_each_complaint_speaks_and_says_where_its_weights_come_from(complaint):
    assert complaint.title
    assert complaint.provenance.basis == "judgement"
    assert "per 100 such complaints" in complaint.provenance.text
    assert complaint.conditions
    assert set(complaint.conditions) <= set(load_conditions())
    assert set(complaint.kinds) <= set(CATALOGUE)


def test_a_car_that_does_not_start_has_complaints_of_its_own_which_own_to_have_no_source():
    titles = {name: one.title for name, one in COMPLAINTS.items() if one.title.startswith("does not start")}
    assert titles.keys() == {"does_not_crank", "cranks_does_not_fire"}
    for name in titles:
        assert COMPLAINTS[name].engine_dead
        assert "no source" in COMPLAINTS[name].provenance.text
    # common practice, no source: without cranking look at battery, cables and starter; no ignition or fuel part stops it
    shares = COMPLAINTS["does_not_crank"].shares("points")
    assert shares["battery"] == max(shares.values())
    assert {"battery", "battery_cables", "starter_motor"} <= shares.keys()
    fires = COMPLAINTS["cranks_does_not_fire"]
    assert not {"battery", "battery_cables", "starter_motor"} & set(fires.kinds)
    assert "contact_points" in fires.shares("points")
    assert {"contact_points", "condenser"}.isdisjoint(fires.shares("injection"))


@pytest.mark.parametrize("system", SYSTEMS)
def test_weights_of_a_car_that_does_not_start_come_to_about_a_hundred(system):
    for name in ("does_not_crank", "cranks_does_not_fire"):
        lines = [*COMPLAINTS[name].causes, *COMPLAINTS[name].others]
        assert sum(line.weight for line in lines if holds(line, system)) == pytest.approx(100.0, abs=20.0)


def test_complaints_that_are_not_driven_on_say_so():
    """The trade's stop-driving list: fuel smell, sinking pedal, pull, steering knock, overheating, charging lamp."""
    stopping = {name for name, complaint in COMPLAINTS.items() if complaint.stop_driving}
    assert stopping == {
        "fuel_smell", "sinking_pedal", "brake_pulls", "wander_or_knock", "overheats_in_traffic",
        "overheats_at_speed", "charge_light",
    }  # fmt: skip
    assert all(COMPLAINTS[name].warning for name in stopping)
    assert "never open the cap hot" in COMPLAINTS["overheats_at_speed"].warning


def test_relative_weights_are_shared_among_what_the_system_has():
    """Misfire in damp holds 93 for parts and 7 for connectors: the printed weights are the shares themselves."""
    shares = COMPLAINTS["misfire_in_damp"].shares("points")
    assert shares["ht_leads"] == pytest.approx(0.35)
    assert shares["distributor_cap"] == pytest.approx(0.30)
    assert COMPLAINTS["misfire_in_damp"].something_else("points") == pytest.approx(0.07)
    warm = COMPLAINTS["misfire_when_warm"]
    assert "condenser" not in warm.shares("injection")
    assert warm.shares("points")["condenser"] == pytest.approx(15 / 84)
    assert warm.something_else("points") == pytest.approx(16 / 84)


def test_alternatives_go_to_the_one_that_is_on_the_car():
    complaint = COMPLAINTS["charge_light"]
    with_v_belt = complaint.shares("points", on_car=set(complaint.kinds) - {"ribbed_belt"})
    assert with_v_belt["v_belt"] == pytest.approx(0.14)
    assert "ribbed_belt" not in with_v_belt
    assert complaint.shares("points")["v_belt"] == pytest.approx(0.07)


def test_a_part_that_nobody_recorded_counts_as_something_else():
    complaint = COMPLAINTS["hum_with_speed"]
    assert dict(complaint.shares(None, on_car={"tyres"})) == pytest.approx({"tyres": 0.45})
    assert complaint.something_else(None, on_car={"tyres"}) == pytest.approx(0.55)
    assert dict(complaint.shares(None, on_car=set())) == {}
    assert complaint.something_else(None, on_car=set()) == 1.0


def test_a_cohort_counts_only_on_a_car_that_belongs_to_it():
    complaint = COMPLAINTS["misfire_when_warm"]
    assert "harness_degr" not in complaint.shares("injection")
    on_car = set(complaint.kinds) - {"harness_pvc"}
    shares = complaint.shares("injection", on_car=on_car)
    assert shares["harness_degr"] == max(shares.values())


def test_conditions_speak_for_and_against_kinds():
    conditions = load_conditions()
    assert {"warm", "cold", "damp", "under load", "after standing"} <= set(conditions)
    assert conditions["damp"].ratios["ht_leads"] > 1.0 > conditions["damp"].ratios["crank_sensor"]
    assert conditions["warm"].ratios["crank_sensor"] > 1.0 > conditions["cold"].ratios["crank_sensor"]
    for condition in conditions.values():
        assert set(condition.ratios) <= set(CATALOGUE)
        assert condition.provenance.basis == "judgement"


OWN = {
    "title": "whistles at 80",
    "conditions": ["at speed"],
    "causes": [{"kinds": ["body_seals"], "weight": 60}, {"kinds": ["wheel_bearing"], "weight": 10}],
    "others": [{"what": "roof rack", "weight": 30}],
    "note": "the keeper's own count",
}


def test_a_keeper_adds_his_own_complaint():
    own = own_complaint("whistle", OWN)
    assert dict(own.shares("points")) == pytest.approx({"body_seals": 0.6, "wheel_bearing": 0.1})
    assert own.provenance.text == "the keeper's own count"


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"title": ""}, "whistle: title"), ({"title": 5}, "whistle: title"),
        ({"stop_driving": True}, "whistle: warning"),
        ({"conditions": ["in the rain"]}, "whistle: conditions"),
        ({"causes": []}, "whistle: causes"), ({"causes": [3]}, "whistle: causes"),
        ({"causes": [{"kinds": ["whistle"], "weight": 1}]}, "whistle: causes[0]: kinds"),
        ({"causes": [{"kinds": [], "weight": 1}]}, "whistle: causes[0]: kinds"),
        ({"causes": [{"kinds": ["tyres"], "weight": 0}]}, "whistle: causes[0]: weight"),
        ({"causes": [{"kinds": ["tyres"], "weight": float("nan")}]}, "whistle: causes[0]: weight"),
        ({"causes": [{"kinds": ["tyres"], "weight": 1, "share": 1}]}, "whistle: causes[0]: share"),
        ({"others": []}, "whistle: others"), ({"colour": "red"}, "whistle: colour"),
        ({"basis": "page"}, "whistle: sources"),
    ],
)  # fmt: skip
def test_a_broken_complaint_is_refused_by_field(change, field):
    with pytest.raises(CatalogueError) as refused:
        own_complaint("whistle", OWN | change)
    assert refused.value.field == field


def test_broken_files_of_complaints_are_named():
    with pytest.raises(CatalogueError, match=r"mine.toml: wanted valid TOML"):
        read_complaints({"mine.toml": "x = "})
    with pytest.raises(CatalogueError, match=r"mine.toml: complaint: wanted a value"):
        read_complaints({"mine.toml": ""})
    row = '[complaint.c]\ntitle = "t"\ncauses = [{kinds=["tyres"], weight=1}]\nothers = [{what="x", weight=1}]\n'
    assert list(read_complaints({"a.toml": row})) == ["c"]
    with pytest.raises(CatalogueError, match=r"b.toml: c: wanted an id that no other file uses"):
        read_complaints({"a.toml": row, "b.toml": row})
