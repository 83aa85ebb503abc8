"""Heat and the age clock of insulation and elastomers: Arrhenius's law, the ten-degree rule, ageing at several temperatures.

Arrhenius: the rate of ageing goes as exp(-E/kT), with E the activation energy and T the temperature in kelvin. The ten-degree rule
(half the life per 10 K) is its rough form: it is right at one temperature only, and the two part company when extrapolated.

References:
    [1] Montsinger 1930, Trans. AIEE 49:776-790 (ten-degree rule). IEC 60216-1 (temperature index, halving interval).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from planner.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

BOLTZMANN_EV = 8.617333262e-5
"""Boltzmann's constant, eV/K (SI 2019)."""

ZERO_CELSIUS = 273.15
"""0 °C in kelvin."""


def arrhenius_factor(celsius: float, against: float, *, energy_ev: float) -> float:
    """How many times faster insulation ages at ``celsius`` than at ``against``.

    Args:
        celsius: temperature, °C.
        against: the other temperature, °C.
        energy_ev: activation energy, eV, above 0.

    Raises:
        InputError: a temperature not above absolute zero, or an energy not above 0.
    """
    hot, cold = kelvin_of("celsius", celsius), kelvin_of("against", against)
    return math.exp(_energy(energy_ev) / BOLTZMANN_EV * (1 / cold - 1 / hot))


def ten_degree_factor(celsius: float, against: float, *, halving: float = 10.0) -> float:
    """How many times faster insulation ages by the ten-degree rule: twice per ``halving`` kelvin [1].

    Raises:
        InputError: as :func:`arrhenius_factor`; a halving not above 0.
    """
    step = kelvin_of("celsius", celsius) - kelvin_of("against", against)
    if not 0 < halving < math.inf:
        raise InputError("halving", "a finite number of kelvin above 0", halving)
    return float(2.0 ** (step / halving))


def energy_of_halving(celsius: float, *, halving: float = 10.0) -> float:
    """Activation energy (eV) at which life halves from ``celsius`` to ``celsius + halving``.

    Raises:
        InputError: as :func:`ten_degree_factor`.
    """
    if not 0 < halving < math.inf:
        raise InputError("halving", "a finite number of kelvin above 0", halving)
    low = kelvin_of("celsius", celsius)
    return BOLTZMANN_EV * math.log(2) * low * (low + halving) / halving


def equivalent_time(
    times: Sequence[float], celsius: Sequence[float], *, at: float, energy_ev: float
) -> float:
    """Time at one temperature that ages a part as much as the given times at theirs, in their unit.

    Args:
        times: time spent at each temperature, hours or years, (n,).
        celsius: the temperatures, °C, (n,).
        at: the temperature to count in, °C.
        energy_ev: activation energy, eV.

    Raises:
        InputError: lengths that differ, times below 0, or as :func:`arrhenius_factor`.
    """
    if len(times) != len(celsius) or not len(times):
        raise InputError("times", "as many times as temperatures, at least one", times)
    if not all(0 <= time < math.inf for time in times):
        raise InputError("times", "finite numbers of at least 0", times)
    return sum(
        time * arrhenius_factor(t, at, energy_ev=energy_ev) for time, t in zip(times, celsius, strict=True)
    )


def kelvin_of(name: str, celsius: float) -> float:
    """A temperature in kelvin; InputError names the field where it is not above absolute zero."""
    if not (math.isfinite(celsius) and celsius > -ZERO_CELSIUS):
        raise InputError(name, "a temperature above absolute zero, °C", celsius)
    return celsius + ZERO_CELSIUS


def _energy(value: float) -> float:
    if not 0 < value < math.inf:
        raise InputError("energy_ev", "a finite number of eV above 0", value)
    return value
