"""Parts to order: exact numbers per draw, planned work certain, sets whole, dates with lead times, warnings."""

import itertools
from datetime import date, timedelta

import numpy as np
import pytest

from planner.catalogue import load_catalogue
from planner.errors import InputError
from planner.life.fit import book_life
from planner.life.model import known_life
from planner.life.prior import book_prior
from planner.risk import (
    fails_by_month,
    failure_chance,
    month_ends,
    parts_to_order,
    poisson_binomial,
    workshop_hours,
)
from planner.risk.counts import count_law
from planner.risk.orders import InUse
from planner.risk.shelf import SHELF_WARNINGS

TODAY = date(2026, 11, 10)
LIFE = known_life(age=(2.0, 10.0))


def even(chance, months, draws=1):
    """Fails with this chance within the months, evenly."""
    return np.tile(chance * np.arange(1, months + 1) / months, (draws, 1))


def in_use(name="a", chance=0.2, months=6, **more):
    return InUse(name, more.pop("kind", "rotor_arm"), even(chance, months), **more)


def test_the_law_of_the_number_equals_the_plain_convolution():
    p = np.random.default_rng(2).random((5, 14))
    law = count_law(p, np.ones(14, dtype=np.int64))
    plain = poisson_binomial(p).mean(axis=0)
    full = np.zeros(15)
    full[law.first : law.first + len(law.chances)] = law.chances
    assert full == pytest.approx(plain, abs=1e-12)
    assert law.mean == pytest.approx(p.mean(axis=0).sum())


def test_sets_count_as_wholes_by_adding_up_every_outcome():
    p, units = np.array([[0.1, 0.7, 0.4], [0.3, 0.9, 0.2]]), np.array([4, 2, 1])
    by_count = np.zeros(8)
    for row in p:
        for outcome in itertools.product((0, 1), repeat=3):
            chance = np.prod([x if o else 1 - x for x, o in zip(row, outcome, strict=True)])
            by_count[int(np.dot(outcome, units))] += chance / 2
    law = count_law(p, units)
    found = np.zeros(8)
    found[law.first : law.first + len(law.chances)] = law.chances
    assert found == pytest.approx(by_count, abs=1e-14)


def test_many_parts_leave_out_only_what_cannot_happen():
    p = np.random.default_rng(3).random((4, 3_000)) * 0.02
    law = count_law(p, np.ones(3_000, dtype=np.int64))
    assert len(law.chances) < 150
    assert law.mean == pytest.approx(p.sum(axis=1).mean(), rel=1e-9)
    wanted = (np.random.default_rng(4).random((4_000, 3_000)) < p[np.arange(4_000) % 4]).sum(axis=1)
    assert np.mean(wanted <= law.enough(0.95)) >= 0.94
    assert np.mean(wanted < law.enough(0.95)) <= 0.955


def test_months_follow_the_calendar():
    assert month_ends(TODAY, 3) == (date(2026, 12, 1), date(2027, 1, 1), date(2027, 2, 1))
    order = parts_to_order([in_use(months=3)], TODAY, months=3)[0]
    assert [need.month for need in order.months] == [date(2026, 11, 1), date(2026, 12, 1), date(2027, 1, 1)]


def test_chances_by_month_are_those_of_the_part_alone():
    kind = load_catalogue()["rotor_arm"]
    life = book_life(book_prior(kind), draws=50)
    fails = fails_by_month(
        life, km=[4_000, 30_000], years=[2, 9], km_per_year=[1_000, 6_000], today=TODAY, months=8
    )
    assert fails.shape == (50, 2, 8)
    years = (month_ends(TODAY, 8)[-1] - TODAY).days / 365.25
    alone = failure_chance(life, km=30_000, years=9, more_km=6_000 * years, more_years=years)
    assert fails[:, 1, -1].mean() == pytest.approx(alone.mean)
    assert np.all(np.diff(fails, axis=2) >= 0)


def test_planned_work_is_certain_and_failures_come_on_top():
    planned = [in_use(str(i), 0.05, planned_on=date(2027, 1, 20)) for i in range(7)]
    others = [in_use(f"o{i}", 0.3) for i in range(10)]
    order = parts_to_order(planned + others, TODAY, months=6)[0]
    assert order.expected == pytest.approx(7 + 10 * 0.3)
    law = poisson_binomial(np.full(10, 0.3))
    assert order.enough == 7 + int(np.searchsorted(np.cumsum(law), 0.95))
    january = order.months[2]
    assert january.planned == 7
    assert january.expected == pytest.approx(7 * (1 - 0.05 * 2 / 6) + 10 * 0.05)
    assert sum(need.expected for need in order.months) == pytest.approx(order.expected)
    assert order.months[0].expected == pytest.approx(7 * 0.05 / 6 + 10 * 0.05)


def test_what_the_parts_share_makes_the_number_larger():
    rng = np.random.default_rng(1)
    shared = np.clip(rng.beta(0.5, 4.5, 400), 0, 1)
    fails = shared[:, None] * np.arange(1, 7) / 6
    parts = [InUse(str(i), "coil", fails) for i in range(40)]
    order = parts_to_order(parts, TODAY, months=6)[0]
    plug_in = poisson_binomial(np.full(40, shared.mean()))
    assert order.expected == pytest.approx(40 * shared.mean())
    assert order.enough > int(np.searchsorted(np.cumsum(plug_in), 0.95)) + 3


def test_needed_by_is_the_first_day_and_order_by_the_lead_time_earlier():
    parts = [in_use("a", planned_on=date(2027, 2, 20)), in_use("b", planned_on=date(2027, 2, 3))]
    need = parts_to_order(parts, TODAY, months=6, lead_days=21)[0].months[3]
    assert need.needed_by == date(2027, 2, 3)
    assert need.order_by == date(2027, 1, 13)
    assert not need.late


def test_an_overdue_part_is_wanted_now_and_ordered_late():
    order = parts_to_order([in_use(planned_on=date(2026, 3, 1))], TODAY, months=6)[0]
    first = order.months[0]
    assert (first.planned, first.needed_by, first.order_by, first.late) == (1, TODAY, TODAY, True)
    assert first.expected == pytest.approx(1.0)
    assert sum(need.expected for need in order.months) == pytest.approx(1.0)
    soon = parts_to_order(
        [in_use(planned_on=TODAY + timedelta(days=20))], TODAY, months=6, lead_days={"rotor_arm": 30}
    )
    assert soon[0].months[0].late


def test_a_set_is_wanted_whole_and_when_its_first_member_is():
    pair = [
        in_use(name, 0.2, together="front axle", planned_on=day)
        for name, day in (("l", date(2027, 3, 5)), ("r", None))
    ]
    order = parts_to_order(pair, TODAY, months=6)[0]
    assert order.expected == pytest.approx(2.0)
    assert order.months[4].planned == 2
    loose = parts_to_order([in_use("l", together="axle"), in_use("r", together="axle")], TODAY, months=6)[0]
    assert loose.expected == pytest.approx(2 * (1 - 0.8**2))


def test_a_bad_new_part_brings_the_need_of_another():
    plain = parts_to_order([in_use(planned_on=TODAY)], TODAY, months=6)[0]
    risky = parts_to_order([in_use(planned_on=TODAY, new_part_fault=0.06)], TODAY, months=6)[0]
    assert (plain.expected, plain.enough) == (1.0, 1)
    assert risky.expected == pytest.approx(1.06)
    assert risky.enough == 2


def test_kinds_stand_in_the_order_of_their_first_need():
    parts = [
        in_use("x", kind="condenser"),
        in_use("y", kind="v_belt", planned_on=date(2027, 3, 1)),
        in_use("z", kind="tyres", planned_on=date(2026, 12, 1)),
    ]
    assert [order.kind for order in parts_to_order(parts, TODAY, months=6)] == [
        "tyres",
        "v_belt",
        "condenser",
    ]


def test_what_ages_on_the_shelf_is_said():
    assert set(SHELF_WARNINGS) <= set(load_catalogue())
    for kind, word in (
        ("v_belt", "Rubber"),
        ("condenser", "Old stock"),
        ("battery", "charged"),
        ("tyres", "date code"),
    ):
        assert word in parts_to_order([in_use(kind=kind)], TODAY, months=6)[0].shelf
    assert parts_to_order([in_use(kind="coil")], TODAY, months=6)[0].shelf == ""


def test_hours_follow_the_parts():
    parts = [in_use(str(i), 0.0, planned_on=date(2026, 12, 5)) for i in range(3)] + [in_use("f", 0.6)]
    hours = workshop_hours(parts_to_order(parts, TODAY, months=6), {"rotor_arm": (0.2, 0.6)})
    assert len(hours) == 6
    assert hours[1].planned == pytest.approx(3 * 0.4)
    assert hours[1].unplanned == pytest.approx(0.1 * 0.4)
    assert (hours[1].low, hours[1].high) == (pytest.approx(3.1 * 0.2), pytest.approx(3.1 * 0.6))


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        ({"months": 0}, "months"),
        ({"months": 37}, "months"),
        ({"enough": 1.0}, "enough"),
        ({"lead_days": -1}, "lead_days"),
        ({"lead_days": {"rotor_arm": -3}}, "lead_days"),
        ({"months": 5}, "a.fails"),
    ],
)
def test_bad_input_names_the_field(arguments, field):
    with pytest.raises(InputError) as refused:
        parts_to_order([in_use()], TODAY, **({"months": 6} | arguments))
    assert refused.value.field == field


def test_bad_chances_clocks_and_hours_are_refused():
    falling = InUse("a", "rotor_arm", even(0.3, 6)[:, ::-1])
    with pytest.raises(InputError):
        parts_to_order([falling], TODAY, months=6)
    with pytest.raises(InputError) as refused:
        fails_by_month(LIFE, km=0, years=[1, -2], km_per_year=100, today=TODAY, months=3)
    assert refused.value.field == "years"
    with pytest.raises(InputError) as refused:
        workshop_hours(parts_to_order([in_use()], TODAY, months=6), {})
    assert refused.value.field == "labour.rotor_arm"
