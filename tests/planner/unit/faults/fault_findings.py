"""Small fault-findings for tests, on invented cars."""

import math

from planner.faults.values import Candidate, Check, FaultFinding, HandOver, Reading

LEADS, CAP, COIL = "leads", "cap", "coil"


def suspect(part, chance, shows, money=50.0, minutes=30.0, **more):
    return Candidate(part, part, -math.log1p(-chance), shows, money, minutes, **more)


def damp_misfire(*steps, **changes):
    """Old leads, a younger cap and a sound coil, with a mist test of all three and a look at the cap."""
    figures = {
        "complaint": "misfires in damp",
        "candidates": (
            suspect(LEADS, 0.20, 0.4, money=180.0, book_hazard=0.05),
            suspect(CAP, 0.10, 0.5, money=60.0, book_hazard=0.05),
            suspect(COIL, 0.02, 0.3, money=90.0, book_hazard=0.03),
        ),
        "something_else": 0.01,
        "checks": (
            Check(
                "mist",
                "water mist at idle",
                tuple(Reading(p, 0.7, 0.92) for p in (LEADS, CAP, COIL)),
                0.0,
                15.0,
            ),
            Check("look at cap", "look at the cap", (Reading(CAP, 0.6, 0.95),), 0.0, 10.0),
        ),
        "hand_over": HandOver(250.0, 0.0, 200.0),
        "steps": steps,
    }
    return FaultFinding(**(figures | changes))
