"""A fitted or assumed life: what it says of survival, of failure ahead and of its own uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.arrays import numbers
from planner.errors import InputError
from planner.history.spell_columns import frozen
from planner.life.hazard import clock_values, cumulative_hazard, hazard_between, hazard_per_year, same_shape

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from planner.history.spells import Clock, FloatArray
    from planner.life.life_point import LifePoint
    from planner.life.prior import LifePrior
    from planner.life.terms import Terms


@dataclass(frozen=True)
class ClockLife:
    """The Weibull law of one clock; ``scale`` in km or years."""

    shape: float
    scale: float


@dataclass(frozen=True)
class Evidence:
    """What a life rests on.

    Attributes:
        histories: sum of the weights of all spells.
        failures: sum of the weights of those that failed, interval- and left-censored ones included.
        prior_share: how much is prior, from 0 (none) to 1 (all book).
    """

    histories: float
    failures: float
    prior_share: float


@dataclass(frozen=True)
class Diagnostics:
    """How the draws were made.

    Attributes:
        effective_sample_size: independent draws that the weighted sample was worth.
        pareto_k: tail index of the importance weights (Vehtari et al. 2024); above 0.7 they are not trusted and
            another sampler takes over.
        sampler: which one made the draws, in words.
    """

    effective_sample_size: float
    pareto_k: float
    sampler: str


@dataclass(frozen=True, eq=False)
class Life:
    """How long a part kind lasts on its clocks.

    Attributes:
        distance: law of the distance clock, None where absent; ``age`` likewise.
        log_likelihood: natural log at the estimate, prior left out; densities per km where distance is the only
            clock, else per year; nan where nothing was fitted.
        covariance: inverse observed information of (ln shape, ln scale) per clock present, distance first.
        draws: (n, same columns), equally weighted.
        evidence: histories, failures and the prior's share.
        diagnostics: how the draws were made.
        prior: the prior used, or None.
        known_shape: whether the shape was given rather than fitted.
        derived: whether it was made from another life by arithmetic, rather than fitted against the prior itself.
        terms: the data behind the fit; None once a life has been stored and loaded.
    """

    distance: ClockLife | None
    age: ClockLife | None
    log_likelihood: float
    covariance: FloatArray
    draws: FloatArray
    evidence: Evidence
    diagnostics: Diagnostics
    prior: LifePrior | None = None
    known_shape: bool = False
    derived: bool = False
    terms: Terms | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        for name in ("covariance", "draws"):
            object.__setattr__(self, name, frozen(np.array(getattr(self, name), dtype=np.float64)))

    @property
    def clocks(self) -> tuple[Clock, ...]:
        """The clocks this life runs on, distance first."""
        present: list[Clock] = []
        if self.distance is not None:
            present.append("distance")
        if self.age is not None:
            present.append("age")
        return tuple(present)

    @property
    def parameters(self) -> FloatArray:
        """The estimate: (ln shape, ln scale) per clock present, distance first."""
        present = [c for c in (self.distance, self.age) if c is not None]
        return np.array([v for c in present for v in (math.log(c.shape), math.log(c.scale))])

    def cumulative_hazard(self, km: ArrayLike | None = None, years: ArrayLike | None = None) -> FloatArray:
        """Expected failures of a part from new to the given clocks, at the estimate.

        Args:
            km: distance since fitting, number or array; given exactly if the life runs on distance.
            years: age since fitting, likewise; the two broadcast.

        Raises:
            InputError: clocks that are not the model's, or numbers below 0.
        """
        return cumulative_hazard(self.parameters, self._at(km, years))[()]

    def survival(self, km: ArrayLike | None = None, years: ArrayLike | None = None) -> FloatArray:
        """Chance that a new part is still good at the given clocks; arguments as cumulative_hazard."""
        return np.exp(-self.cumulative_hazard(km, years))[()]

    def hazard(
        self,
        km: ArrayLike | None = None,
        years: ArrayLike | None = None,
        km_per_year: ArrayLike | None = None,
    ) -> FloatArray:
        """Failures per year at the given clocks on a car doing ``km_per_year`` there, at the estimate."""
        return hazard_per_year(self.parameters, self._at(km, years), self._rates(km_per_year))[()]

    def failure_within(
        self,
        km: ArrayLike | None = None,
        years: ArrayLike | None = None,
        more_km: ArrayLike | None = None,
        more_years: ArrayLike | None = None,
    ) -> FloatArray:
        """Chance of failing within the next stretch, given good at (km, years), at the estimate.

        Args:
            km: distance so far.
            years: age so far.
            more_km: distance ahead.
            more_years: time ahead; all that are given broadcast against each other.

        Raises:
            InputError: clocks that are not the model's, or numbers below 0.
        """
        return -np.expm1(-hazard_between(self.parameters, *self._stretch(km, years, more_km, more_years)))[()]

    def cumulative_hazard_draws(
        self, km: ArrayLike | None = None, years: ArrayLike | None = None
    ) -> FloatArray:
        """Cumulative hazard of every draw: (draws, …) with the broadcast shape of the clocks behind."""
        return cumulative_hazard(self.draws, self._at(km, years))

    def hazard_draws(
        self,
        km: ArrayLike | None = None,
        years: ArrayLike | None = None,
        km_per_year: ArrayLike | None = None,
    ) -> FloatArray:
        """Hazard per year of every draw: (draws, …)."""
        return hazard_per_year(self.draws, self._at(km, years), self._rates(km_per_year))

    def failure_within_draws(
        self,
        km: ArrayLike | None = None,
        years: ArrayLike | None = None,
        more_km: ArrayLike | None = None,
        more_years: ArrayLike | None = None,
    ) -> FloatArray:
        """Chance of failing within the next stretch, for every draw: (draws, …)."""
        return -np.expm1(-hazard_between(self.draws, *self._stretch(km, years, more_km, more_years)))

    def life_at(self, fraction: float, km_per_year: float | None = None) -> LifePoint:
        """When a fraction of new parts has failed, at the estimate (0.10: the B10 life).

        Args:
            fraction: between 0 and 1, both left out.
            km_per_year: the car's steady rate; needed with two clocks.

        Returns:
            The point in km and years; with one clock and no rate the other is None.

        Raises:
            InputError: naming the argument.
        """
        from planner.life.life_point import point_at  # noqa: PLC0415 - the point knows the life's type

        return point_at(self, fraction, km_per_year)

    def likelihood_ratio_limits(self, parameter: str, level: float = 0.95) -> tuple[float, float]:
        """Limits of one parameter by its profile likelihood, against chi-square with one degree of freedom.

        Args:
            parameter: "distance.shape", "distance.scale", "age.shape" or "age.scale".
            level: confidence, between 0 and 1.

        Returns:
            Lower and upper limit; 0 or inf where the profile never falls far enough. With a prior the profile is
            of likelihood times prior.

        Raises:
            InputError: no such parameter, or the life no longer holds its data.
        """
        from planner.life.profile import parameter_limits  # noqa: PLC0415 - loads scipy

        return parameter_limits(self, parameter, level)

    def to_dict(self) -> dict[str, Any]:
        """Everything but the data behind the fit, in JSON's types; see :meth:`from_dict`."""
        from planner.life.stored import life_to_dict  # noqa: PLC0415 - only where a life is stored

        return life_to_dict(self)

    @staticmethod
    def from_dict(content: dict[str, Any]) -> Life:
        """A life as :meth:`to_dict` wrote it.

        Raises:
            InputError: naming the key that is missing or malformed, or a schema number not known.
        """
        from planner.life.stored import life_from_dict  # noqa: PLC0415 - only where a life is loaded

        return life_from_dict(content)

    def _at(self, km: ArrayLike | None, years: ArrayLike | None) -> list[FloatArray]:
        return clock_values(self.clocks, {"km": km, "years": years})

    def _stretch(
        self,
        km: ArrayLike | None,
        years: ArrayLike | None,
        more_km: ArrayLike | None,
        more_years: ArrayLike | None,
    ) -> tuple[list[FloatArray], list[FloatArray]]:
        now = clock_values(self.clocks, {"km": km, "years": years}, finite=True)
        more = clock_values(self.clocks, {"km": more_km, "years": more_years}, prefix="more_")
        same_shape([*self.clocks, *(f"more {c}" for c in self.clocks)], [*now, *more])
        return now, more

    def _rates(self, km_per_year: ArrayLike | None) -> list[FloatArray]:
        one = np.ones(())
        if self.distance is None:
            return [one]
        if km_per_year is None:
            raise InputError("km_per_year", "a rate: the hazard per year depends on it", None)
        rate = numbers("km_per_year", km_per_year, "finite numbers of at least 0")
        if not np.all(np.isfinite(rate) & (rate >= 0)):
            raise InputError("km_per_year", "finite numbers of at least 0", km_per_year)
        return [rate] if self.age is None else [rate, one]


def known_life(distance: Sequence[float] | None = None, age: Sequence[float] | None = None) -> Life:
    """A life with given parameters and no doubt: for checks and what-ifs.

    Args:
        distance: (shape, scale in km), or None.
        age: (shape, scale in years), or None.

    Returns:
        A life whose only draw is the parameters themselves, with a covariance of zeros and no evidence.

    Raises:
        InputError: no clock, or numbers that are not finite and above zero.
    """
    if distance is None and age is None:
        raise InputError("distance, age", "(shape, scale) of at least one clock", None)
    laws = (_law("distance", distance), _law("age", age))
    size = 2 * sum(law is not None for law in laws)
    logs = [v for law in laws if law is not None for v in (math.log(law.shape), math.log(law.scale))]
    return Life(*laws, math.nan, np.zeros((size, size)), np.array([logs]), Evidence(0.0, 0.0, 1.0), _KNOWN)


_KNOWN = Diagnostics(effective_sample_size=1.0, pareto_k=0.0, sampler="none: the parameters are given")


def _law(name: str, given: Sequence[float] | None) -> ClockLife | None:
    if given is None:
        return None
    pair = numbers(name, given, "a pair (shape, scale) of numbers")
    if pair.shape != (2,):
        raise InputError(name, "a pair (shape, scale) of numbers", given)
    if not (np.isfinite(pair) & (pair > 0)).all():
        raise InputError(name, "a shape and a scale, each finite and above 0", given)
    return ClockLife(float(pair[0]), float(pair[1]))
