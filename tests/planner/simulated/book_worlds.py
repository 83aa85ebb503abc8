"""The run that the planner is judged by: complaints, systems and cars drawn from the shipped book."""

import numpy as np

from planner.catalogue import load_catalogue, load_checks, load_complaints
from planner.catalogue.values import SYSTEMS
from tests.planner.simulated.fault_world import draw_world

SEED = 19_650_401
ALTERNATIVES = (
    {"spark_plugs_ni", "spark_plugs_pt"},
    {"fuel_pump_electric", "fuel_pump_mech"},
    {"v_belt", "ribbed_belt"},
    {"lambda_heated", "lambda_unheated"},
    {"timing_belt", "timing_chain_guides"},
    {"fan_clutch", "fan_switch"},
)
"""Kinds of which a car has one or the other."""


def kinds_on_car(rng, complaint, system, catalogue):
    """The complaint's kinds that this car has: those of its system, one of each pair of alternatives."""
    kinds = {k for k in complaint.kinds if catalogue[k].fits(system)}
    for pair in ALTERNATIVES:
        if pair <= kinds:
            kinds.discard(sorted(pair)[int(rng.integers(2))])
    return kinds - {"harness_degr"}


def draw(number):
    """Case `number` of the run, always the same."""
    rng = np.random.default_rng([SEED, number])
    catalogue, complaints = load_catalogue(), load_complaints()
    while True:
        complaint = complaints[sorted(complaints)[int(rng.integers(len(complaints)))]]
        system = SYSTEMS[int(rng.integers(len(SYSTEMS)))]
        on_car = kinds_on_car(rng, complaint, system, catalogue)
        shares = complaint.shares(system, on_car)
        if len(shares) >= 2:
            break
    checks = [c for c in load_checks().values() if c.applies_to(system) and c.targets]
    return draw_world(rng, shares, complaint.something_else(system, on_car), catalogue, checks)
