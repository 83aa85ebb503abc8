"""Which parts of one kind are renewed together: both ends of an axle, the plugs of an engine."""

from __future__ import annotations

BY_AXLE = frozenset({"brake_pads", "brake_discs", "brake_shoes", "tyres", "damper", "brake_hose"})
"""Renewed in pairs, by axle: uneven brakes and tyres pull (common practice, no source)."""

WHOLE = frozenset({"spark_plugs_ni", "spark_plugs_pt", "ht_leads"})
"""Renewed as a set, all of the engine (common practice, no source)."""

_ENDS = ("front", "rear")


def set_of(kind: str, position: str) -> str:
    """The name of the set that a part belongs to on its car; empty for a part that is renewed alone.

    Args:
        kind: the part kind.
        position: as the keeper wrote it; the axle is known by "front" or "rear" in it.
    """
    if kind in WHOLE:
        return kind
    if kind not in BY_AXLE:
        return ""
    end = [end for end in _ENDS if end in position.lower()]
    return f"{kind}, {end[0]}" if len(end) == 1 else ""
