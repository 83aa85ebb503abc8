"""A modifier of life as a value: the clocks it bears on, its prior, what is found of it, and how it moves a life's parameters."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.catalogue.modifiers import modifiers_of
from planner.errors import PriorError
from planner.life.checks import positive

if TYPE_CHECKING:
    from planner.catalogue import PartKind
    from planner.history.spells import Clock, FloatArray


@dataclass(frozen=True)
class Modifier:
    """Something that stretches or shortens a life.

    Attributes:
        name: what it is called, e.g. "heat_soak".
        clocks: the clocks whose scale it multiplies.
        factor: the likeliest multiplier at x = 1.
        spread: standard deviation of its logarithm.

    Raises:
        PriorError: no clock, or a factor or spread that is not finite and above 0.
    """

    name: str
    clocks: tuple[Clock, ...]
    factor: float
    spread: float

    def __post_init__(self) -> None:
        clocks = self.clocks if isinstance(self.clocks, Collection) else ()
        if not clocks or any(clock not in ("distance", "age") for clock in clocks):
            raise PriorError("clocks", '"distance", "age" or both', self.clocks)
        for name in ("factor", "spread"):
            positive(name, getattr(self, name), error=PriorError)


@dataclass(frozen=True)
class ModifierEffect:
    """Posterior of one multiplier on life.

    Attributes:
        name: of the modifier.
        median: of the multiplier at x = 1.
        low: its 10 % point.
        high: its 90 % point.
        prior_share: how much of it is the trade's notes, from 0 to 1.
    """

    name: str
    median: float
    low: float
    high: float
    prior_share: float

    @property
    def words(self) -> str:
        """What it means."""
        said = "as the trade says" if self.prior_share > 0.8 else "judged from the records"
        return f"life ×{self.median:.2g} (×{self.low:.2g} to ×{self.high:.2g} in four cases of five), {said}"


def book_modifiers(kind: PartKind) -> tuple[Modifier, ...]:
    """The modifiers that the catalogue states for a part kind, on the clocks that it has."""
    return tuple(
        Modifier(
            own.id,
            tuple(c for c in ("distance", "age") if c in own.clocks and c in kind.clocks),
            own.middle,
            own.spread,
        )
        for own in modifiers_of(kind.id)
    )


def design_of(clocks: tuple[Clock, ...], modifiers: tuple[Modifier, ...], x: FloatArray) -> FloatArray:
    """From (the life's parameters at x = 0, γ) to the life's parameters at x."""
    size = 2 * len(clocks)
    out = np.hstack([np.eye(size), np.zeros((size, len(modifiers)))])
    out[1::2, size:] = bears_on(clocks, modifiers) * x
    return out


def bears_on(clocks: tuple[Clock, ...], modifiers: tuple[Modifier, ...]) -> FloatArray:
    """1 where a modifier bears on a clock, else 0: (clocks, modifiers)."""
    return np.array([[float(clock in m.clocks) for m in modifiers] for clock in clocks])
