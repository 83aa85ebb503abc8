"""Exhaustive search for the cheapest way to the cure, by listing every state of the world; shares no code with the product.

A world fixes, per part and for its successor: sound, faulty and silent, or faulty and showing; and whether something
else shows the complaint. A node of the search is the weight of every world that agrees with
what was seen. Actions: each check once for the parts still in place from the start, each part renewed once, handing
over. Small cases only: 6 ** parts * 2 worlds, or 9 ** parts * 2.
"""

import itertools
import math

import numpy as np


class ExhaustiveSearch:
    """All worlds of one small fault-finding, and the best or a given policy's expected cost."""

    def __init__(self, finding):
        self.finding = finding
        self.parts = [c.part for c in finding.candidates]
        n = len(self.parts)
        self.silent_new_parts = any(check.one_result for check in finding.checks)
        new_states = (0, 1, 2) if self.silent_new_parts else (0, 2)
        worlds = list(itertools.product((0, 1), *[(0, 1, 2)] * n, *[new_states] * n))
        self.faulty = np.array([[s > 0 for s in w[1 : n + 1]] for w in worlds])
        self.shows = np.array([[s == 2 for s in w[1 : n + 1]] for w in worlds])
        self.new_faulty = np.array([[s > 0 for s in w[n + 1 :]] for w in worlds])
        self.new_shows = np.array([[s == 2 for s in w[n + 1 :]] for w in worlds])
        self.elsewhere = np.array([w[0] == 1 for w in worlds])
        weights = np.array([self.prior(w, n) for w in worlds])
        there = self.elsewhere | self.shows.any(axis=1)
        self.start = np.where(there, weights, 0.0) / weights[there].sum()

    def prior(self, world, n):
        leak = self.finding.something_else
        chance = leak if world[0] else 1 - leak
        for c, old, new in zip(self.finding.candidates, world[1 : n + 1], world[n + 1 :], strict=True):
            p = 1 - math.exp(-c.hazard)
            for faulty, state in ((p, old), (c.new_part_fault, new)):
                chance *= (1 - faulty, faulty * (1 - c.share), faulty * c.share)[state]
            if (
                not self.silent_new_parts and new == 0
            ):  # a silent new part tells nothing here: counted with the sound
                chance *= (1 - c.new_part_fault * c.share) / (1 - c.new_part_fault)
        return chance

    def price(self, work):
        return work.money + work.minutes / 60 * self.finding.hourly_rate

    def handing_over(self, weights, renewed):
        """The search, and the cure of whatever shows the complaint in each world."""
        last = self.finding.hand_over
        cure = self.price(last) + last.cure_elsewhere * self.elsewhere
        for i, candidate in enumerate(self.finding.candidates):
            cure = cure + self.price(candidate) * (self.new_shows[:, i] if i in renewed else self.shows[:, i])
        return float(weights @ cure / weights.sum())

    def moves(self, weights, made, renewed):
        """(kind, index, cost) of everything that can be done."""
        for k, check in enumerate(self.finding.checks):
            if self.targets(k, made, renewed):
                yield "check", k, self.price(check)
        for i, candidate in enumerate(self.finding.candidates):
            if i not in renewed:
                yield "renew", i, self.price(candidate)
        yield "hand over", -1, self.handing_over(weights, renewed)

    def targets(self, k, made, renewed):
        places = [self.parts.index(r.part) for r in self.finding.checks[k].readings]
        if self.finding.checks[k].one_result:
            done = any((k, i) in made for i in places) or all(i in renewed for i in places)
            return [] if done else places
        return [i for i in places if i not in renewed and (k, i) not in made]

    def after(self, kind, index, weights, made, renewed):
        """(what was seen, weights, made, renewed) per outcome that leaves the complaint there."""
        if kind == "hand over":
            return []
        if kind == "renew":
            now = (*renewed, index)
            showing = [self.new_shows[:, i] if i in now else self.shows[:, i] for i in range(len(self.parts))]
            there = self.elsewhere | np.any(showing, axis=0)
            return [(None, np.where(there, weights, 0.0), made, now)]
        places = self.targets(index, made, renewed)
        if self.finding.checks[index].one_result:
            good = self.all_good(index, places, renewed)
            done = made | {(index, i) for i in places}
            return [(bad, weights * (1 - good if bad else good), done, renewed) for bad in (True, False)]
        outcomes = []
        for shown in itertools.product((True, False), repeat=len(places)):
            likely = np.ones(len(weights))
            for i, bad in zip(places, shown, strict=True):
                reading = self.finding.checks[index].of(self.parts[i])
                like = np.where(self.faulty[:, i], reading.sensitivity, 1 - reading.specificity)
                likely = likely * (like if bad else 1 - like)
            done = made | {(index, i) for i in places}
            outcomes.append((tuple(zip(places, shown, strict=True)), weights * likely, done, renewed))
        return outcomes

    def all_good(self, k, places, renewed):
        """P(one result for several parts is good) in every world."""
        readings = {i: self.finding.checks[k].of(self.parts[i]) for i in places}
        good = np.full(len(self.start), readings[places[0]].specificity)
        for i, r in readings.items():
            faulty = self.new_faulty[:, i] if i in renewed else self.faulty[:, i]
            good = good * np.where(faulty, (1 - r.sensitivity) / r.specificity, 1.0)
        return good

    def best(self):
        """Least expected cost over all policies."""
        known = {}

        def value(weights, made, renewed, seen):
            mass = weights.sum()
            if mass <= 0.0:
                return 0.0
            key = (seen, renewed)
            if key not in known:
                known[key] = min(
                    cost
                    + sum(
                        w.sum()
                        / mass
                        * value(
                            w,
                            m,
                            r,
                            seen if what is None else seen | {(kind, index, what, frozenset(renewed))},
                        )
                        for what, w, m, r in self.after(kind, index, weights, made, renewed)
                    )
                    for kind, index, cost in self.moves(weights, made, renewed)
                )
            return known[key]

        return value(self.start, frozenset(), (), frozenset())

    def of_policy(self, policy):
        """Expected cost of a policy: steps so far (as ("check", k, ((place, bad), ...)) or ("renew", i)) -> (kind, index)."""

        def value(weights, made, renewed, steps):
            mass = weights.sum()
            if mass <= 0.0:
                return 0.0
            kind, index = policy(steps)
            cost = next(c for k, i, c in self.moves(weights, made, renewed) if (k, i) == (kind, index))
            return cost + sum(
                w.sum() / mass * value(w, m, r, (*steps, (kind, index, what)))
                for what, w, m, r in self.after(kind, index, weights, made, renewed)
            )

        return value(self.start, frozenset(), (), ())
