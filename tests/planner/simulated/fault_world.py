"""Faults drawn from the book: cars, their parts' ages, what is wrong with them, and what each action then does.

Fixed before the planner was compared with its rivals. A case is drawn from exactly the model the book implies:
every cause that the complaint lists and the system has is on the car once, with an age between new and 1.2 times
its median life on this car's yearly distance; faults, showings and "something else" are drawn given that the
complaint shows. Whatever a check will show, and whether a new part will be bad, is drawn beforehand, so that every
policy meets the same luck.
"""

from dataclasses import dataclass, field

import numpy as np

from planner.faults.book import LEAST_HAZARD, book_hazard, book_rates
from planner.faults.values import Candidate, Check, Checked, FaultFinding, HandOver, Reading, Renewed
from planner.interval.costs import PART_PRICE

HOURLY_RATE = 60.0
HAND_OVER = HandOver(money=3.0 * HOURLY_RATE, cure_elsewhere=150.0 + 2.0 * HOURLY_RATE)
"""A specialist's search and the cure of something else (judgement): three hours to find it; a middling part and two
hours to cure it. A guilty suspect costs its renewal on top of the search."""

MEDIAN_KM_PER_YEAR, SPREAD_KM_PER_YEAR = 1_400.0, 0.9
"""Yearly distance of old cars, lognormal: the trade notes' surveys."""


@dataclass
class World:
    """One faulty car: the question as the keeper sees it, and the truth."""

    finding: FaultFinding
    faulty: dict
    shows: dict
    something_else: bool
    new_faulty: dict
    luck: dict
    moves: list = field(default_factory=list)

    def complaint_there(self):
        return self.something_else or any(self.shows.values())

    def act(self, action):
        """Cost of the action, the steps known afterwards, and whether the search is over."""
        finding = self.finding
        self.moves.append(action)
        if action.kind == "hand over":
            cures = sum(finding.cost(c) for c in finding.candidates if self.shows[c.part])
            cures += finding.hand_over.cure_elsewhere if self.something_else else 0.0
            return finding.cost(finding.hand_over) + cures, finding, True
        if action.kind == "check":
            check = finding.checks[action.index]
            shown = self.one_result(check) if check.one_result else self.results(check)
            self.finding = finding.after(Checked(check.id, shown))
            return finding.cost(check), self.finding, False
        candidate = finding.candidates[action.index]
        part = candidate.part
        self.faulty[part], self.shows[part] = self.new_faulty[part]
        self.luck = {key: luck[1:] if key[1] == part else luck for key, luck in self.luck.items()}
        self.finding = finding.after(Renewed((part,)))
        return finding.cost(candidate), self.finding, not self.complaint_there()

    def results(self, check):
        """What each part shows."""
        return tuple(
            (
                r.part,
                bool(
                    self.luck[check.id, r.part][0]
                    < (r.sensitivity if self.faulty[r.part] else 1 - r.specificity)
                ),
            )
            for r in check.readings
        )

    def one_result(self, check):
        """One result for all parts: good unless a faulty one, or a false alarm, shows."""
        good = check.readings[0].specificity
        for r in check.readings:
            good *= (1 - r.sensitivity) / r.specificity if self.faulty[r.part] else 1.0
        return bool(self.luck[check.id, check.readings[0].part][0] < 1 - good)


def draw_world(rng, shares, something_else, kinds, book_checks):
    """One case of a complaint with these shares; a check of several parts gives one result for all of them."""
    km_per_year = float(rng.lognormal(np.log(MEDIAN_KM_PER_YEAR), SPREAD_KM_PER_YEAR))
    years_since_well = float(rng.uniform(0.1, 1.5))
    rates = book_rates(shares, something_else, kinds)
    candidates = [
        draw_part(rng, kinds[kind], rates.shows[kind], km_per_year, years_since_well)
        for kind in sorted(shares)
    ]
    checks = tuple(
        Check(c.id, c.name, readings, c.money, c.minutes, one_result=len(readings) > 1)
        for c in book_checks
        if (readings := tuple(Reading(k, c.sensitivity, c.specificity) for k in c.targets if k in shares))
    )
    leak = rates.something_else(years_since_well)
    finding = FaultFinding(
        "drawn", tuple(candidates), leak, checks, hand_over=HAND_OVER, hourly_rate=HOURLY_RATE
    )
    return draw_truth(rng, finding)


def draw_part(rng, kind, shows, km_per_year, years_since_well):
    """A suspect of unknown past: age uniform up to 1.2 median lives, at most 30 years."""
    medians = [c.p50 / rate for c, rate in ((kind.distance, km_per_year), (kind.age, 1.0)) if c is not None]
    age = float(rng.uniform(0.0, min(1.2 * min(medians), 30.0)))
    before = max(age - years_since_well, 0.0)
    accrued = sum(
        cumulative(c, age * rate) - cumulative(c, before * rate)
        for c, rate in ((kind.distance, km_per_year), (kind.age, 1.0))
        if c is not None
    )
    return Candidate(
        part=kind.id,
        name=kind.name_gb,
        hazard=max(accrued, LEAST_HAZARD),
        share=shows,
        money=PART_PRICE[kind.cost_class],
        minutes=60.0 * sum(kind.labour_hours) / 2.0,
        new_part_fault=kind.new_part_fault,
        bad_from_new=kind.new_part_fault if age < years_since_well else 0.0,
        book_hazard=book_hazard(kind, years_since_well),
    )


def cumulative(clock, at):
    shape = np.log(np.log(2) / -np.log(0.9)) / np.log(clock.p50 / clock.p10)
    return np.log(2) * (at / clock.p50) ** shape


def draw_truth(rng, finding):
    """Faults and showings given that the complaint shows: which cause acts first decides, the rest is free."""
    acts = np.array([finding.something_else] + [c.faulty * c.share for c in finding.candidates])
    first = np.cumprod(np.concatenate([[1.0], 1.0 - acts[:-1]])) * acts
    leader = int(rng.choice(len(acts), p=first / first.sum()))
    faulty, shows, new_faulty = {}, {}, {}
    for number, c in enumerate(finding.candidates, start=1):
        silent = c.faulty * (1 - c.share)
        if number == leader:
            faulty[c.part] = shows[c.part] = True
        elif number < leader:
            shows[c.part] = False
            faulty[c.part] = bool(rng.random() < silent / (1 - c.faulty * c.share))
        else:
            faulty[c.part] = bool(rng.random() < c.faulty)
            shows[c.part] = faulty[c.part] and bool(rng.random() < c.share)
        bad_new = bool(rng.random() < c.new_part_fault)
        new_faulty[c.part] = (bad_new, bad_new and bool(rng.random() < c.share))
    something_else = leader == 0
    luck = {(check.id, r.part): tuple(rng.random(2)) for check in finding.checks for r in check.readings}
    return World(finding, faulty, shows, something_else, new_faulty, luck)


def play(world, policy, longest=200):
    """Total cost of a policy in one world."""
    total, finding = 0.0, world.finding
    for _ in range(longest):
        cost, finding, over = world.act(policy(finding))
        total += cost
        if over:
            return total
    raise AssertionError("the policy never came to an end")
