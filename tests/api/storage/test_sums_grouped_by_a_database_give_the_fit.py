"""Spells counted where they lie: PostgreSQL groups a table of them by the same query as SQLite, and the fit is the rows' own."""

import numpy as np
import pytest
from sqlalchemy import Column, Double, MetaData, Table, create_engine, text
from sqlalchemy.engine import make_url

from planner import fit_life
from planner.life.counts.grouped import counts_from_groups, group_columns
from tests.api import postgresql
from tests.planner.unit.life.test_binning import two_clock_spells
from tests.planner.unit.life.test_grouped import AGREED, PRIOR, queries

COLUMNS = [
    *(
        "km_entry",
        "km_lower",
        "km_upper",
        "years_entry",
        "years_lower",
        "years_upper",
        "weight",
        "km_per_year",
    )
]


@pytest.fixture
def database():
    """An empty database on a real PostgreSQL."""
    engine = create_engine(make_url(postgresql.fresh_url()).set(drivername="postgresql+psycopg"))
    yield engine
    engine.dispose()


def grouped(database, spells):
    """The groups as PostgreSQL sums them; every spell a row, NULL for infinite."""
    sides = [side for b in (spells.km, spells.years) for side in (b.entry, b.lower, b.upper)]
    table = np.stack([*sides, spells.weight, spells.km_per_year], axis=1)
    rows = [[v if np.isfinite(v) else None for v in row] for row in table.tolist()]
    columns = group_columns(spells.clocks)
    spell = Table("spell", MetaData(), *(Column(name, Double) for name in COLUMNS))
    with database.begin() as connection:
        spell.create(connection)
        connection.execute(spell.insert(), [dict(zip(COLUMNS, row, strict=True)) for row in rows])
        found = {
            name: connection.execute(text(query)).fetchall() for name, query in queries(spells.clocks).items()
        }
    return {
        name: dict(zip(columns[name], zip(*answer, strict=True), strict=False))
        for name, answer in found.items()
    }


def test_on_postgresql_too(database):
    spells = two_clock_spells(6_000, looked=0.5, stood=0.2, seed=3)
    counts = counts_from_groups(
        spells.clocks, grouped(database, spells), histories=float(spells.weight.sum())
    )
    rows, cells = fit_life(spells, PRIOR, binned=False, draws=5), fit_life(counts, PRIOR, draws=5)
    assert np.abs(rows.parameters - cells.parameters).max() < AGREED
    assert cells.evidence.histories == rows.evidence.histories
