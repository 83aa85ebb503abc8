"""Six years in the firm's workshop: visits, breakdowns, wrong guesses and renewals, as they truly happened."""

from __future__ import annotations

import heapq
import itertools
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import partial
from typing import TYPE_CHECKING

from planner.catalogue import load_catalogue
from seed_data.firm import GARAGE, RECORDS_END, Car
from seed_data.lives import Road, draw_life
from seed_data.practice import PRACTICE, Practice
from seed_data.story import FAULTS, MISHAPS, Fault, Mishap

if TYPE_CHECKING:
    from collections.abc import Callable
    from random import Random

    from seed_data.models import Slot

_AS_THE_BILL_SAYS: tuple[
    tuple[str, bool | None, float], ...
] = (  # how a true failure is put down: reason, cured, share
    ("failed, confirmed", True, 0.55),
    ("failed, as reported", True, 0.22),
    ("on suspicion", True, 0.16),
    ("unknown", None, 0.07),
)
_STANDING_KILLS = ("battery", "brake_seals", "fuel_pump_mech")


@dataclass
class Look:
    """What the workshop saw or did to a part that stayed in."""

    day: date
    finding: str | None = None
    worn: float = 0.0
    aged: float = 0.0
    action: str | None = None


@dataclass
class Out:
    """How a part left the car."""

    day: date
    reason: str
    cured: bool | None = None
    together: int = 1
    note: str = ""


@dataclass
class Part:
    """One part in one slot: from its fitting to its end."""

    slot: Slot
    fitted: date
    lasts: tuple[float, float]
    fails: date
    old: bool = False
    condition: str = "new"
    looks: list[Look] = field(default_factory=list)
    out: Out | None = None

    @property
    def practice(self) -> Practice:
        """What the workshop does with this kind."""
        return PRACTICE[self.slot[0]]


class Garage:
    """One car's six years, run event by event in order of time."""

    def __init__(self, car: Car, rng: Random) -> None:
        self.car, self.rng, self.road = car, rng, Road(car, rng)
        self.parts: list[Part] = []
        self.now: dict[Slot, Part] = {}
        self.visits = _visits(car, rng)
        self._told = told_slots(car)
        self._queue: list[tuple[date, int, Callable[[date], None]]] = []
        self._tick = itertools.count()
        for slot in _chosen_slots(car, rng):
            self._put(self._part_found_in(slot))
        for mishap in MISHAPS:
            if mishap.car == car.ref:
                self._at(mishap.day, partial(self._mishap, mishap))
        for day in self.visits:
            self._at(day, self._visit)

    def run(self) -> list[Part]:
        """Let the years pass; returns every part there was, oldest first."""
        while self._queue:
            day, _, happens = heapq.heappop(self._queue)
            if day > RECORDS_END:
                break
            happens(day)
        return self.parts

    def _at(self, day: date, happens: Callable[[date], None]) -> None:
        heapq.heappush(self._queue, (day, next(self._tick), happens))

    def _part_found_in(self, slot: Slot) -> Part:
        """The part that was in the car when its papers begin: younger than its life, by definition."""
        start = self.car.followed_from
        fault = FAULTS.get((self.car.ref, slot))
        while True:
            age = self.rng.uniform(0.1, 11.0) if fault is None else self.rng.uniform(*fault.found_at)
            fitted = max(start - timedelta(days=age * 365.25), date(int(self.car.built[:4]) + 1, 1, 1))
            lasts = draw_life(slot[0], self.rng)
            fails = self.road.failure_day(fitted, *lasts)
            if fault is not None:
                return Part(slot, fitted, (1e9, (fault.day - fitted).days / 365.25), fault.day, old=True)
            if fails > start + timedelta(days=30) and not self._renewal_due(slot, fitted, start):
                return Part(slot, fitted, lasts, fails, old=True)

    def _renewal_due(self, slot: Slot, fitted: date, day: date) -> bool:
        practice, slack = PRACTICE[slot[0]], 1.0 if self.car.storage == GARAGE else 1.5
        years, km = (day - fitted).days / 365.25, self.road.km(day) - self.road.km(fitted)
        by_age = practice.renew_years is not None and years >= practice.renew_years * slack
        return by_age or (practice.renew_km is not None and km >= practice.renew_km * slack)

    def _put(self, part: Part) -> None:
        self.parts.append(part)
        self.now[part.slot] = part
        if part.practice.gauge is None:
            self._at(part.fails, partial(self._failure, part))

    def _renew(self, part: Part, out: Out, *, renewed: bool = True, used_next: bool = False) -> None:
        part.out = out
        if not renewed:
            del self.now[part.slot]
            return
        lasts = draw_life(part.slot[0], self.rng)
        used = used_next or self.rng.random() < part.practice.second_hand
        fails = self.road.failure_day(out.day, *(x * (0.6 if used else 1.0) for x in lasts))
        self._put(Part(part.slot, out.day, lasts, fails, condition="second-hand" if used else "new"))
        for kind in part.practice.companions:
            other = self.now.get((kind, None)) or self.now.get((kind, "top"))
            if other and (out.day - other.fitted).days > 200 and self.rng.random() < 0.6:
                self._renew(
                    other, Out(out.day, "while there", note=f"Out of the way for the {_word(part)} anyway.")
                )

    def _used(self, part: Part, day: date) -> tuple[float, float]:
        """The shares of its two lives that a part has used: by distance, by age."""
        km = self.road.km(day) - self.road.km(part.fitted)
        return km / part.lasts[0], (day - part.fitted).days / 365.25 / part.lasts[1]

    def _visit(self, day: date) -> None:
        for part in list(self.now.values()):
            if part.out is None and (day - part.fitted).days > 60 and part.fails > day - timedelta(days=1):
                self._look_at(part, day)
            elif part.out is None and part.practice.gauge is not None and part.fails <= day:
                part.looks.append(Look(day, "worn to limit", *self._used(part, day)))
                self._renew(part, Out(day, "worn to limit"))

    def _look_at(self, part: Part, day: date) -> None:
        (worn, aged), does, rng = self._used(part, day), part.practice, self.rng
        used = max(worn, aged)
        told = part.old and part.slot in self._told
        if not told and self._renewal_due(part.slot, part.fitted, day) and rng.random() < 0.85:
            self._renew(part, Out(day, "preventive"))
        elif used > 0.8 and rng.random() < does.looked_worn:
            self._renew(part, Out(day, "looked worn"))
        elif does.repair is not None and rng.random() < 0.16:
            part.looks.append(Look(day, action=does.repair))
        elif rng.random() < (0.17 if does.gauge else 0.02):
            part.looks.append(Look(day, "near limit" if used > 0.85 else "good", worn, aged))

    def _failure(self, part: Part, day: date) -> None:
        if part.out is not None:
            return
        if self.car.laid_up and self.car.laid_up[0] <= day <= self.car.laid_up[1]:
            self._at(self.car.laid_up[1] + timedelta(days=1), partial(self._found_dead, part))
            return
        story = FAULTS.get((self.car.ref, part.slot))
        blamed = self._blamed(part, story) if RECORDS_END - day > timedelta(days=30) else []
        for i, (slot, note) in enumerate(blamed):
            out = Out(day + timedelta(days=3 + 6 * i), "on suspicion", cured=False, note=note)
            self._at(out.day, partial(self._wrong_guess, slot, out))
        self._at(day + timedelta(days=2 + 6 * len(blamed)), partial(self._cure, part, story))

    def _blamed(self, part: Part, story: Fault | None) -> list[tuple[Slot, str]]:
        if story is not None:
            return list(story.blamed)
        suspects = [slot for slot in self.now if slot[0] in part.practice.suspects]
        if not suspects or self.rng.random() > 0.6:
            return []
        slot = self.rng.choice(suspects)
        return [(slot, f"Renewed on suspicion, complaint stayed; it was the {_word(part)}.")]

    def _wrong_guess(self, slot: Slot, out: Out, _: date) -> None:
        if slot in self.now:
            self._renew(self.now[slot], out)

    def _cure(self, part: Part, story: Fault | None, day: date) -> None:
        if part.out is not None:
            return
        if story is not None:
            self._renew(part, Out(day, "failed, confirmed", cured=True, note=story.cure_note))
            return
        shares = [share for *_, share in _AS_THE_BILL_SAYS]
        reason, cured, _ = self.rng.choices(_AS_THE_BILL_SAYS, shares)[0]
        together = 2 if reason == "on suspicion" and self.rng.random() < 0.4 else 1
        self._renew(part, Out(day, reason, cured, together))

    def _found_dead(self, part: Part, day: date) -> None:
        if part.out is None:
            dead = part.slot[0] in _STANDING_KILLS
            self._renew(
                part, Out(day, "found dead after standing" if dead else "failed, confirmed", cured=True)
            )

    def _mishap(self, mishap: Mishap, day: date) -> None:
        out = Out(day, mishap.reason, note=mishap.note)
        self._renew(self.now[mishap.slot], out, renewed=mishap.renewed, used_next=mishap.used_next)


def _word(part: Part) -> str:
    return load_catalogue()[part.slot[0]].name_gb.split(" (")[0]


def _visits(car: Car, rng: Random) -> list[date]:
    """Workshop days: before the season, in summer and autumn for those that earn their keep, often for the busiest."""
    days = []
    for year in range(car.followed_from.year, RECORDS_END.year + 1):
        months = [(2, 14)]
        if car.km_per_year > 4000:
            months += [(10, 8)]
        if car.km_per_year > 15000:
            months += [(4, 20), (7, 3), (12, 1)]
        days += [date(year, month, day) + timedelta(days=rng.randrange(24)) for month, day in sorted(months)]
    stood = car.laid_up or (RECORDS_END, RECORDS_END)
    return [d for d in days if car.followed_from < d <= RECORDS_END and not stood[0] <= d <= stood[1]]


def _chosen_slots(car: Car, rng: Random) -> list[Slot]:
    """The parts its papers speak of: the model's always, and some of the rest."""
    told = told_slots(car) + [m.slot for m in MISHAPS if m.car == car.ref]
    sure = [
        slot for slot in car.slots if slot in car.model.always or slot in told or slot[0] == "harness_degr"
    ]
    rest = [slot for slot in car.slots if slot not in sure]
    wanted = rng.randint(13, 15) + sum(m.car == car.ref and not m.renewed for m in MISHAPS)
    some = rng.sample(rest, max(0, min(len(rest), wanted - len(sure))))
    return [slot for slot in car.slots if slot in sure or slot in some]


def told_slots(car: Car) -> list[Slot]:
    """The parts of the story: the one at fault and those blamed for it, left alone until it happens."""
    mine = [(slot, fault) for (ref, slot), fault in FAULTS.items() if ref == car.ref]
    return [slot for slot, _ in mine] + [slot for _, fault in mine for slot, _ in fault.blamed]
