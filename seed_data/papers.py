"""From what truly happened to what the firm's papers say: vague dates, missing distances, dials that start again."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from planner.units import from_km
from seed_data.firm import RECORDS_END, Car
from seed_data.garage import told_slots

if TYPE_CHECKING:
    from random import Random

    from seed_data.garage import Garage, Look, Out, Part
    from seed_data.lives import Road

Line = dict[str, Any]


class Dial:
    """What the car's odometer shows on a day."""

    def __init__(self, car: Car, road: Road) -> None:
        self._car, self._road = car, road
        self._full: int = 10**car.model.dial_digits

    def shows(self, day: date) -> int:
        """Whole miles or kilometres on the dial."""
        swapped = self._car.new_instrument
        zero = self._road.km(swapped) if swapped and day >= swapped else 0.0
        return int(from_km(self._road.km(day) - zero, self._car.unit)) % self._full

    def distance(self, day: date) -> Line:
        """The dial as a distance on the wire."""
        return {"value": self.shows(day), "unit": self._car.unit}

    def rollovers(self, day: date) -> int | None:
        """How often it went past all nines within the records; None for a dial that is not known to."""
        if not self._car.rolls_over:
            return None
        return int(from_km(self._road.km(day), self._car.unit)) // self._full


class Papers:
    """One car's records as the firm kept them; each list holds lines in order of time."""

    def __init__(self, garage: Garage, rng: Random) -> None:
        self.car, self.rng = garage.car, rng
        self.dial, self._road = Dial(garage.car, garage.road), garage.road
        self.readings = self._readings(garage.visits)
        self.fitments: list[Line] = []
        self.inspections: list[Line] = []
        self.repairs: list[Line] = []
        self.removals: list[Line] = []
        self._bill: dict[tuple[Any, date], Line] = {}
        for i, part in enumerate(
            sorted(garage.parts, key=lambda p: (p.fitted, p.slot[0], p.slot[1] or "")), 1
        ):
            self._write_down(f"{self.car.ref}-F{i:02d}", part)

    @property
    def vehicle(self) -> Line:
        """The car itself."""
        car = self.car
        notes = [car.notes] if car.notes else []
        if car.here_since < car.followed_from:
            notes.insert(
                0, f"With the firm since {car.here_since.year}; papers before the office fire are lost."
            )
        return _tidy({
            "external_ref": car.ref, "name": car.name, "make": car.model.make, "model": car.model.name,
            "built": car.built, "system": car.model.system, "distance_unit": car.unit, "storage": car.storage,
            "joined_on": car.followed_from.isoformat(), "notes": " ".join(notes) or None,
        })  # fmt: skip

    def _readings(self, visits: list[date]) -> list[Line]:
        days = [(self.car.followed_from, "handover sheet")]
        days += [(day, "workshop visit") for day in visits if self.rng.random() < 0.6]
        for year in range(2021, 2027):
            day = date(year, 6, 5) + timedelta(days=self.rng.randrange(50))
            if day > self.car.followed_from and self.rng.random() < 0.35:
                days.append((day, "inspection certificate"))
        if self.car.new_instrument is not None:
            days.append((self.car.new_instrument - timedelta(days=1), "workshop visit"))
            days.append((self.car.new_instrument, "new instrument"))
        days.append((RECORDS_END - timedelta(days=self.rng.randrange(3, 20)), "photograph"))
        return [self._reading(i, *day) for i, day in enumerate(sorted(set(days)), 1)]

    def _reading(self, number: int, day: date, source: str) -> Line:
        reading = self.dial.distance(day)
        digits: int | None = self.car.model.dial_digits
        if source == "inspection certificate" and "kilometres" in self.car.notes:
            reading, digits = {"value": int(self._road.km(day)), "unit": "km"}, None
        return _tidy({
            "vehicle": self.car.ref, "external_ref": f"{self.car.ref}-O{number:02d}", "read_on": day.isoformat(),
            "reading": reading, "dial_digits": digits, "rollovers": self.dial.rollovers(day),
            "new_instrument": True if day == self.car.new_instrument else None, "source": source,
        })  # fmt: skip

    def _write_down(self, ref: str, part: Part) -> None:
        kind, position = part.slot
        line: Line = {"vehicle": self.car.ref, "external_ref": ref, "kind": kind, "position": position}
        line |= self._found_with(part) if part.old else self._entry(part, part.fitted)
        line["fitted_on"] = line.pop("day")
        line["condition"] = None if part.condition == "new" else part.condition
        if part.condition == "second-hand" and (kind == "radiator" or self.rng.random() < 0.4):
            donor = {"value": self.rng.randrange(30, 110) * 1000, "unit": "km"}
            line["donor"] = {"distance": donor, "years": self.rng.randint(8, 25)}
        if kind == "tyres" and self.rng.random() < 0.6:
            line["made_on"] = (part.fitted - timedelta(days=self.rng.randrange(60, 500))).strftime("%Y-%m")
        self.fitments.append({**_tidy(line), "fitted_on": line["fitted_on"]})
        for look in part.looks:
            self._looked(ref, part, look)
        if part.out is not None:
            self._removed(ref, part, part.out)

    def _found_with(self, part: Part) -> Line:
        """How well the papers know a part that was in the car when they begin; a part of the story is known exactly."""
        day, luck = part.fitted, 0.0 if part.slot in told_slots(self.car) else self.rng.random()
        odometer = self._older_distance(day) if luck < 0.68 else None
        if luck < 0.45:
            return {"day": day.isoformat(), "odometer": odometer}
        if luck < 0.68 or day.year >= self.car.followed_from.year:
            return {"day": day.strftime("%Y-%m"), "odometer": odometer}
        if luck < 0.82:
            return {"day": f"{day.year}~"}
        return {"day": str(day.year) if luck < 0.9 else None}

    def _older_distance(self, day: date) -> Line | None:
        shown = from_km(self._road.km(day), self.car.unit)
        return {"value": int(shown) // 10 * 10, "unit": self.car.unit} if shown > 500 else None

    def _entry(self, part: Part, day: date) -> Line:
        """Date and distance of one job; a removal and the fitting after it share one bill."""
        key = (part.slot, day)
        if key not in self._bill:
            vague = not _something_else_near(part, day) and self.rng.random() < 0.1
            bare = vague or self.rng.random() < 0.15
            written = day.strftime("%Y-%m") if vague else day.isoformat()
            self._bill[key] = {"day": written, "odometer": None if bare else self.dial.distance(day)}
        return dict(self._bill[key])

    def _looked(self, ref: str, part: Part, look: Look) -> None:
        at = {"fitment": ref}
        odometer = None if self.rng.random() < 0.1 else self.dial.distance(look.day)
        if look.action is not None:
            at["external_ref"] = f"{ref}-R{sum(r['fitment'] == ref for r in self.repairs) + 1}"
            self.repairs.append(_tidy({
                **at, "repaired_on": look.day.isoformat(), "odometer": odometer, "action": look.action,
            }))  # fmt: skip
            return
        at["external_ref"] = f"{ref}-I{sum(r['fitment'] == ref for r in self.inspections) + 1}"
        self.inspections.append(_tidy({
            **at, "inspected_on": look.day.isoformat(), "odometer": odometer, "finding": look.finding,
            **self._measured(part, look),
        }))  # fmt: skip

    def _measured(self, part: Part, look: Look) -> Line:
        gauge = part.practice.gauge
        if look.aged > 1 > look.worn > 0:
            return {"note": "Walls cracked; tread good." if part.slot[0] == "tyres" else "Perished with age."}
        if gauge is None or self.rng.random() < 0.15:
            return {}
        value = gauge.new - (gauge.new - gauge.limit) * (look.worn or look.aged)
        return {"measurement": {"value": round(max(value, 0.5), 1), "unit": gauge.unit, "limit": gauge.limit}}

    def _removed(self, ref: str, part: Part, out: Out) -> None:
        entry = self._entry(part, out.day)
        self.removals.append(_tidy({
            "fitment": ref, "external_ref": f"{ref}-X", "removed_on": entry["day"], "odometer": entry["odometer"],
            "reason": out.reason, "cured": out.cured, "note": out.note or None,
            "changed_together": None if out.together == 1 else out.together,
        }))  # fmt: skip


def _something_else_near(part: Part, day: date) -> bool:
    days = [part.fitted, *(look.day for look in part.looks)] + ([part.out.day] if part.out else [])
    return any(0 < abs((other - day).days) < 62 for other in days)


def _tidy(line: Line) -> Line:
    return {key: value for key, value in line.items() if value is not None}
