"""A life written to and read from JSON's types; the schema has a number, and old numbers keep loading."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.errors import InputError
from planner.life.checks import number, numbers, positive
from planner.life.model import ClockLife, Diagnostics, Evidence, Life
from planner.life.prior import ClockPrior, LifePrior

if TYPE_CHECKING:
    from planner.history.spells import FloatArray

SCHEMA = 1
_CLOCKS = ("distance", "age")


def life_to_dict(life: Life) -> dict[str, Any]:
    """See :meth:`planner.life.model.Life.to_dict`; draws keep seven digits."""
    return {
        "schema": SCHEMA,
        "distance": None if life.distance is None else asdict(life.distance),
        "age": None if life.age is None else asdict(life.age),
        "log_likelihood": _number_or_none(life.log_likelihood),
        "covariance": life.covariance.tolist(),
        "draws": [[float(f"{v:.7g}") for v in row] for row in life.draws.tolist()],
        "evidence": asdict(life.evidence),
        "diagnostics": {k: _number_or_none(v) for k, v in asdict(life.diagnostics).items()},
        "prior": None if life.prior is None else asdict(life.prior),
        "known_shape": life.known_shape,
    }


def life_from_dict(content: dict[str, Any]) -> Life:
    """See :meth:`planner.life.model.Life.from_dict`."""
    got = content.get("schema") if isinstance(content, dict) else content
    if isinstance(got, bool) or got != SCHEMA:
        raise InputError("schema", f"a stored life of schema {SCHEMA}", got)
    laws = _law("distance", content), _law("age", content)
    size = 2 * sum(law is not None for law in laws)
    if not size:
        raise InputError("distance, age", "a law on at least one clock", None)
    return Life(
        *laws,
        log_likelihood=_number_or_nan("log_likelihood", _part("log_likelihood", content)),
        covariance=_table("covariance", content, size, rows=size),
        draws=_table("draws", content, size),
        evidence=_evidence(_part("evidence", content)),
        diagnostics=_diagnostics(_part("diagnostics", content)),
        prior=_prior(_part("prior", content)),
        known_shape=_truth("known_shape", _part("known_shape", content)),
    )


def _part(name: str, content: object, inside: str = "") -> Any:
    field = f"{inside}.{name}" if inside else name
    if not isinstance(content, dict):
        raise InputError(inside or "content", "an object as to_dict wrote it", content)
    if name not in content:
        raise InputError(field, "to be there, as to_dict wrote it", None)
    return content[name]


def _law(clock: str, content: dict[str, Any]) -> ClockLife | None:
    law = _part(clock, content)
    if law is None:
        return None
    return ClockLife(*(positive(f"{clock}.{name}", _part(name, law, clock)) for name in ("shape", "scale")))


def _table(name: str, content: dict[str, Any], size: int, *, rows: int | None = None) -> FloatArray:
    wanted = f"finite numbers in {'at least one row' if rows is None else f'{rows} rows'} of {size}, as the clocks have"
    table = numbers(name, _part(name, content), wanted)
    if table.ndim != 2 or table.shape[1] != size or len(table) != (rows or max(1, len(table))):
        raise InputError(name, wanted, table.shape)
    if not np.isfinite(table).all():
        raise InputError(name, wanted, float(table[~np.isfinite(table)][0]))
    return table


def _evidence(said: object) -> Evidence:
    names = ("histories", "failures", "prior_share")
    found = [number(f"evidence.{name}", _part(name, said, "evidence")) for name in names]
    for name, value in zip(names, found, strict=True):
        if value < 0:
            raise InputError(f"evidence.{name}", "a number of at least 0", value)
    return Evidence(*found)


def _diagnostics(said: object) -> Diagnostics:
    size, tail = (
        _number_or_nan(f"diagnostics.{name}", _part(name, said, "diagnostics"))
        for name in ("effective_sample_size", "pareto_k")
    )
    return Diagnostics(size, tail, str(_part("sampler", said, "diagnostics")))


def _prior(said: object) -> LifePrior | None:
    return None if said is None else LifePrior(*(_clock_prior(c, _part(c, said, "prior")) for c in _CLOCKS))


def _clock_prior(clock: str, said: object) -> ClockPrior | None:
    if said is None:
        return None
    inside = f"prior.{clock}"
    return ClockPrior(
        *(
            positive(f"{inside}.{name}", _part(name, said, inside))
            for name in ("p10", "p50", "spread_scale", "spread_shape")
        )
    )


def _truth(field: str, value: object) -> bool:
    if not isinstance(value, bool):
        raise InputError(field, "true or false", value)
    return value


def _number_or_none(value: float | str) -> float | str | None:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _number_or_nan(field: str, value: object) -> float:
    return math.nan if value is None else number(field, value, "a finite number, or null")
