"""Whether the records of cars agree with each other, for many cars and many new records at once."""

from api.bridge.agreement.check import Changes, Contradiction, contradictions
from api.bridge.agreement.store import not_plainly_rising, plainly_rises, with_figures

__all__ = [
    "Changes",
    "Contradiction",
    "contradictions",
    "not_plainly_rising",
    "plainly_rises",
    "with_figures",
]
