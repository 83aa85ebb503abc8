"""Invented cars for fault-finding: parts of given age and distance on the shipped book, nothing fitted."""

from planner.catalogue import load_catalogue, load_checks, load_complaints, load_conditions
from planner.faults.opening import Book, PartOnCar, accrued_hazard, open_finding
from planner.life.fit import book_life
from planner.life.prior import book_prior

KM_PER_YEAR = 2_000.0


def part(kind_id, age, years_since_well=0.25, **more):
    """A part of this age on a car that does 2,000 km a year and last ran well three months ago."""
    kind = load_catalogue()[kind_id]
    then = max(age - years_since_well, 0.0)
    clocks = {}
    if kind.distance is not None:
        clocks["km"] = (then * KM_PER_YEAR, age * KM_PER_YEAR)
    if kind.age is not None:
        clocks["years"] = (then, age)
    hazard = accrued_hazard(book_life(book_prior(kind), seed=7, draws=300), **clocks)
    return PartOnCar(kind_id, kind, hazard, fitted_since_well=age < years_since_well, **more)


def finding(complaint, ages, *, system, steps=(), **more):
    book = Book(load_checks(), load_conditions())
    parts = [part(kind, age) for kind, age in ages.items()]
    return open_finding(
        load_complaints()[complaint], parts, book, system=system, years_since_well=0.25, steps=steps, **more
    )
