"""Sums that a database groups by cell give the fit that the rows give, to 1e-4 in every log of a parameter."""

from __future__ import annotations

import itertools
import sqlite3

import numpy as np
import pytest

from planner import ClockPrior, LifePrior, fit_life
from planner.errors import InputError
from planner.life.counts.grouped import counts_from_groups, group_columns
from tests.planner.unit.life.test_binning import two_clock_spells

PRIOR = LifePrior(distance=ClockPrior(20_000, 50_000), age=ClockPrior(5, 10))
NAMES = {"distance": "km", "age": "years"}
AGREED = 1e-4


def select(columns, logs, where):
    """The query of one group: sums of weights, of logs and of their products over cells of 1/16."""
    sums = {"w": "weight", **{f"w_{x}": f"weight * {x}" for x in logs}}
    pairs = itertools.combinations_with_replacement(logs, 2)
    sums |= {f"w_{x}_{y}": f"weight * {x} * {y}" for x, y in pairs}
    assert tuple(sums) == columns
    inner = ", ".join(f"{log} AS {x}" for x, log in logs.items())
    summed = ", ".join(f"SUM({e}) AS {name}" for name, e in sums.items())
    cells = ", ".join(f"floor({x} * 16)" for x in logs)
    spells = ["(SELECT weight,", inner, "FROM spell WHERE", where, ")"]
    return " ".join(["SELECT", summed, "FROM", *spells, "GROUP BY", cells])


def queries(clocks):
    """All groups' queries for some clocks."""
    sides, columns = [NAMES[c] for c in clocks], group_columns(clocks)
    exact = " AND ".join(f"{s}_lower = {s}_upper" for s in sides)
    found = {}
    for s in sides:
        moved = f"{s}_lower > {s}_entry"
        found[f"{s}_ends"] = ({s: f"ln({s}_lower)"}, moved)
        found[f"{s}_entries"] = ({s: f"ln({s}_entry)"}, f"{moved} AND {s}_entry > 0")
    logs = {s: f"CASE WHEN {s}_upper > 0 THEN ln({s}_upper) END" for s in sides}
    if len(sides) == 2:
        logs["rate"] = "CASE WHEN km_per_year > 0 THEN ln(km_per_year) END"
    found["exact"] = (logs, exact)
    logs = {}
    for s in sides:
        logs[s] = f"CASE WHEN {s}_upper > {s}_lower THEN ln({s}_upper) END"
        logs[f"{s}_width"] = (
            f"CASE WHEN {s}_upper > {s}_lower AND {s}_lower > 0 THEN ln(ln({s}_upper) - ln({s}_lower)) END"
        )
    found["intervals"] = (logs, f"{sides[0]}_upper IS NOT NULL AND NOT ({exact})")
    assert set(found) == set(columns)
    return {group: select(columns[group], *query) for group, query in found.items()}


def grouped_in_sql(spells, clocks):
    """The groups as SQLite sums them; every spell a row, NULL for infinite."""
    sides = [side for b in (spells.km, spells.years) for side in (b.entry, b.lower, b.upper)]
    table = np.stack([*sides, spells.weight, spells.km_per_year], axis=1)
    rows = [[v if np.isfinite(v) else None for v in row] for row in table.tolist()]
    columns, found = group_columns(clocks), {}
    with sqlite3.connect(":memory:") as database:
        database.execute(
            "CREATE TABLE spell (km_entry REAL, km_lower REAL, km_upper REAL, "
            "years_entry REAL, years_lower REAL, years_upper REAL, weight REAL, km_per_year REAL)"
        )
        database.executemany("INSERT INTO spell VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)
        for group, query in queries(clocks).items():
            answer = database.execute(query).fetchall()
            found[group] = dict(zip(columns[group], zip(*answer, strict=True), strict=False))
    return found


@pytest.mark.parametrize("looked", [0.0, 0.5], ids=["exact", "half between looks, some while standing"])
@pytest.mark.parametrize("clocks", [("distance", "age"), ("distance",), ("age",)], ids=str)
def test_grouped_sums_give_the_fit_of_the_rows(clocks, looked):
    spells = two_clock_spells(6_000, looked=looked, stood=0.2, seed=3)
    groups = grouped_in_sql(spells, clocks)
    counts = counts_from_groups(clocks, groups, histories=float(spells.weight.sum()))
    prior = PRIOR if len(clocks) == 2 else LifePrior(**{clocks[0]: getattr(PRIOR, clocks[0])})
    own = spells if len(clocks) == 2 else spells.only(clocks[0])
    rows, cells = fit_life(own, prior, binned=False, draws=5), fit_life(counts, prior, draws=5)
    assert np.abs(rows.parameters - cells.parameters).max() < AGREED
    assert cells.evidence.histories == rows.evidence.histories
    assert cells.evidence.failures == pytest.approx(rows.evidence.failures)


def test_means_alone_on_so_coarse_a_grid_would_not_do():
    spells = two_clock_spells(6_000, (4.0, 5.0), seed=3)
    groups = grouped_in_sql(spells, spells.clocks)
    for group in groups.values():  # forget the spread within the cells
        names = [c[2:] for c in group if c.count("_") == 1]
        for x, y in itertools.combinations_with_replacement(names, 2):
            group[f"w_{x}_{y}"] = [
                a * b / w for a, b, w in zip(group[f"w_{x}"], group[f"w_{y}"], group["w"], strict=True)
            ]
    life = fit_life(counts_from_groups(spells.clocks, groups, histories=6_000.0), PRIOR, draws=5)
    assert np.abs(life.parameters - fit_life(spells, PRIOR, binned=False, draws=5).parameters).max() > AGREED


GOOD = {"km_ends": {"w": [1.0, 2.0], "w_km": [10.0, 21.0], "w_km_km": [100.0, 220.5]}}


@pytest.mark.parametrize(
    ("groups", "field"),
    [
        ({"ends": GOOD["km_ends"]}, "groups"),
        ({"km_ends": {"w": [1.0], "w_km": [10.0]}}, "km_ends.w_km_km"),
        ({"km_ends": {**GOOD["km_ends"], "w_years": [1.0, 1.0]}}, "km_ends"),
        ({"km_ends": {**GOOD["km_ends"], "w": [1.0, 0.0]}}, "km_ends.w"),
        ({"km_ends": {**GOOD["km_ends"], "w": [1.0, None]}}, "km_ends.w"),
        ({"km_ends": {**GOOD["km_ends"], "w_km": [10.0]}}, "km_ends.w_km"),
        ({"km_ends": {**GOOD["km_ends"], "w_km": [10.0, None]}}, "km_ends.w_km"),
        ({"km_ends": {**GOOD["km_ends"], "w_km": [10.0, "far"]}}, "km_ends.w_km"),
        ({"km_ends": {**GOOD["km_ends"], "w_km": [10.0, np.inf]}}, "km_ends.w_km"),
        ({"km_ends": {**GOOD["km_ends"], "w_km_km": [100.0, 220.0]}}, "km_ends.w_km_km"),
        ({"exact": {"w": [1.0], "w_km": [10.0], "w_km_km": [100.0]}}, "km_ends"),
        ({"km_entries": GOOD["km_ends"]}, "km_ends"),
        ({**GOOD, "exact": {"w": [4.0], "w_km": [40.0], "w_km_km": [400.0]}}, "histories"),
        ({"km_ends": {"w": [4.0], "w_km": [40.0], "w_km_km": [400.0]}}, "histories"),
        (
            {"km_ends": {"w": [1.0], "w_km": [9.0], "w_km_km": [81.0]}, "km_entries": GOOD["km_ends"]},
            "km_entries",
        ),
    ],
)
def test_wrong_groups_are_refused_by_name(groups, field):
    with pytest.raises(InputError) as refusal:
        counts_from_groups(("distance",), groups, histories=3.0)
    assert refusal.value.field == field
    assert len(counts_from_groups(("distance",), GOOD, histories=3.0).ends[0]) == 2


def test_a_clock_forgotten_beside_its_failures_is_refused():
    spells = two_clock_spells(300, looked=0.5, stood=0.2, seed=3)
    groups = grouped_in_sql(spells, spells.clocks)
    del groups["years_ends"]
    with pytest.raises(InputError, match=r"^years_ends: "):
        counts_from_groups(spells.clocks, groups, histories=300.0)


def test_more_correlation_than_the_variances_allow_is_refused():
    # At ln km 10 and ln years 2, with variances of 1e-4 each and a covariance of 1e-2.
    exact = {"w": [1.0], "w_km": [10.0], "w_years": [2.0], "w_rate": [8.0], "w_km_km": [100.0001],
             "w_km_years": [20.01], "w_km_rate": [80.0], "w_years_years": [4.0001], "w_years_rate": [16.0],
             "w_rate_rate": [64.0]}  # fmt: skip
    ends = {f"{s}_ends": {"w": [1.0], f"w_{s}": [2.0], f"w_{s}_{s}": [4.0]} for s in ("km", "years")}
    with pytest.raises(InputError, match=r"^exact\.w_km_years: "):
        counts_from_groups(("distance", "age"), {**ends, "exact": exact}, histories=1.0)


def test_wrong_clocks_and_histories_are_refused():
    for clocks in ((), ("age", "distance"), ("months",)):
        with pytest.raises(InputError, match="clocks"):
            counts_from_groups(clocks, {}, histories=3.0)
    with pytest.raises(InputError, match="histories"):
        counts_from_groups(("distance",), GOOD, histories=0.0)
    with pytest.raises(InputError, match="histories"):
        counts_from_groups(("distance",), GOOD, histories="3")
