"""A life written to and read from JSON's types; the schema has a number, and old numbers keep loading."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

import numpy as np

from planner.errors import InputError
from planner.life.model import ClockLife, Diagnostics, Evidence, Life
from planner.life.prior import ClockPrior, LifePrior

SCHEMA = 1


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
    if not isinstance(content, dict) or content.get("schema") != SCHEMA:
        got = content.get("schema") if isinstance(content, dict) else content
        raise InputError("schema", f"a stored life of schema {SCHEMA}", got)
    try:
        life = _built(content)
    except (KeyError, TypeError, ValueError) as error:
        raise InputError("content", "a stored life as to_dict wrote it", str(error)) from error
    size = 2 * len(life.clocks)
    if (
        size == 0
        or life.covariance.shape != (size, size)
        or life.draws.ndim != 2
        or life.draws.shape[1] != size
    ):
        raise InputError("content", "draws and covariance that fit the clocks", life.draws.shape)
    return life


def _built(content: dict[str, Any]) -> Life:
    said = content["diagnostics"]
    return Life(
        distance=_law(content["distance"]),
        age=_law(content["age"]),
        log_likelihood=_number_or_nan(content["log_likelihood"]),
        covariance=np.array(content["covariance"], dtype=np.float64),
        draws=np.array(content["draws"], dtype=np.float64),
        evidence=Evidence(**content["evidence"]),
        diagnostics=Diagnostics(
            _number_or_nan(said["effective_sample_size"]),
            _number_or_nan(said["pareto_k"]),
            str(said["sampler"]),
        ),
        prior=_prior(content["prior"]),
        known_shape=bool(content["known_shape"]),
    )


def _law(content: dict[str, float] | None) -> ClockLife | None:
    return None if content is None else ClockLife(**content)


def _prior(content: dict[str, Any] | None) -> LifePrior | None:
    if content is None:
        return None
    clocks = {name: None if c is None else ClockPrior(**c) for name, c in content.items()}
    return LifePrior(**clocks)


def _number_or_none(value: float | str) -> float | str | None:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _number_or_nan(value: float | None) -> float:
    return math.nan if value is None else float(value)
