"""The picture after the steps: beliefs of product form, added up where one check looked at several parts together.

A check with a result per part multiplies into the belief of that part. A check with one result for several parts
(a dead needle: one of the trigger parts) is good with P(good | all sound) times (1 - sensitivity) / specificity for
each faulty one among them, so a good result keeps the product form; a bad one is everything minus the good one.
The picture is then a sum of signed terms, twice as many for each bad result of that kind.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from planner.faults.belief import first_belief
from planner.faults.errors import ContradictoryResults, FaultError, PartNotOnCar
from planner.faults.values import Checked, Renewed

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.faults.belief import Belief
    from planner.faults.values import Check, FaultFinding, Reading

Seen: TypeAlias = dict[tuple[str, int, int], bool]
"""Results so far: (check, position, moment the piece came in) -> shows bad."""


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """What is known after some steps.

    Attributes:
        terms: signed weights and beliefs; their weighted sum is the truth.
        simple: one belief of product form in which a bad result for several parts counts as bad for each of
            them: the same for a single fault, an approximation for several.
    """

    terms: tuple[tuple[float, Belief], ...]
    simple: Belief

    def after_reading(self, position: int, reading: Reading, *, bad: bool) -> Picture:
        """The picture once a check of the part in this place showed bad or good."""
        return self._each(lambda belief: belief.after_reading(position, reading, bad=bad))

    def after_renewal(self, positions: tuple[int, ...]) -> Picture:
        """The picture once the parts in these places were renewed together and the complaint stayed."""
        return self._each(lambda belief: belief.after_renewal(positions))

    def after_one_result(self, readings: dict[int, Reading], *, bad: bool) -> Picture:
        """The picture once one result for several parts together was bad or good."""
        if len(readings) == 1:
            ((position, reading),) = readings.items()
            return self.after_reading(position, reading, bad=bad)
        specificity = next(iter(readings.values())).specificity
        good = tuple((weight * specificity, belief.after_all_good(readings)) for weight, belief in self.terms)
        simple = self.simple
        for position, reading in readings.items():
            simple = simple.after_reading(position, reading, bad=bad)
        if not bad:
            return Picture(good, simple)
        return Picture((*self.terms, *((-weight, belief) for weight, belief in good)), simple)

    def _each(self, change: Callable[[Belief], Belief]) -> Picture:
        return Picture(tuple((w, change(belief)) for w, belief in self.terms), change(self.simple))


def picture_after(finding: FaultFinding, *, averaged: bool = False) -> Picture:
    """The picture after the finding's steps; a check repeated on the same piece adds nothing.

    Args:
        finding: the question with its steps.
        averaged: whether the draws of each part are averaged to one number first.

    Raises:
        PartNotOnCar: a step names a part or check that this finding does not hold.
        ContradictoryResults: the same check of the same piece showed bad and good.
        FaultError: a bad result without saying where, of a check that shows where.
    """
    belief = first_belief(finding, averaged=averaged)
    picture, seen = Picture(((1.0, belief),), belief), Seen()
    for number, step in enumerate(finding.steps):
        field = f"steps[{number}]"
        if isinstance(step, Renewed):
            picture = picture.after_renewal(tuple(place(finding, part, field) for part in step.parts))
        else:
            picture = _after_check(finding, picture, step, seen, field)
    return picture


def checks_done(finding: FaultFinding) -> frozenset[tuple[str, str]]:
    """(check, part) pairs already made on the pieces now in place."""
    last_renewal = {
        part: number
        for number, step in enumerate(finding.steps)
        if isinstance(step, Renewed)
        for part in step.parts
    }
    return frozenset(
        (step.check, part)
        for number, step in enumerate(finding.steps)
        if isinstance(step, Checked)
        for part in looked_at(finding, step, f"steps[{number}]")
        if number > last_renewal.get(part, -1)
    )


def looked_at(finding: FaultFinding, step: Checked, field: str) -> tuple[str, ...]:
    """References of the suspects that a check was made of."""
    if not isinstance(step.shows_bad, bool):
        return tuple(part for part, _ in step.shows_bad)
    suspects = {candidate.part for candidate in finding.candidates}
    parts = tuple(r.part for r in _check(finding, step, field).readings if r.part in suspects)
    if not parts:
        raise PartNotOnCar(field, "a check that looks at one of this car's suspects", step.check)
    return parts


def place(finding: FaultFinding, part: str, field: str) -> int:
    """Index of a part among the suspects.

    Raises:
        PartNotOnCar: it is not among them.
    """
    for position, candidate in enumerate(finding.candidates):
        if candidate.part == part:
            return position
    raise PartNotOnCar(field, "a part among this car's suspects", part)


def _after_check(finding: FaultFinding, picture: Picture, step: Checked, seen: Seen, field: str) -> Picture:
    check = _check(finding, step, field)
    readings = {
        place(finding, part, field): _reading(finding, check, step, part, field)
        for part in looked_at(finding, step, field)
    }
    if isinstance(step.shows_bad, bool):
        return _after_one_result(picture, check, readings, seen, field, bad=step.shows_bad)
    for (_, bad), (position, reading) in zip(step.shows_bad, readings.items(), strict=True):
        key = (check.id, position, picture.simple.in_place[position].first)
        if key not in seen:
            seen[key] = bad
            picture = picture.after_reading(position, reading, bad=bad)
        elif seen[key] is not bad:
            raise ContradictoryResults(
                field, f"the outcome reported before for {check.id!r} of that part", bad
            )
    return picture


def _after_one_result(
    picture: Picture, check: Check, readings: dict[int, Reading], seen: Seen, field: str, *, bad: bool
) -> Picture:
    """One result for all its parts. Made again after one of them was renewed, it speaks of the new part only."""
    if bad and len(readings) > 1 and not check.one_result:
        raise FaultError(field, f"which part {check.id!r} showed to be bad", bad)
    keys = {position: (check.id, position, picture.simple.in_place[position].first) for position in readings}
    known = [seen[key] for key in keys.values() if key in seen]
    if len(known) == len(keys):
        if any(known) is not bad:
            raise ContradictoryResults(field, f"the outcome reported before for {check.id!r}", bad)
        return picture
    news = {position: reading for position, reading in readings.items() if keys[position] not in seen}
    seen.update(dict.fromkeys((keys[position] for position in news), bad))
    if bad and known:  # the parts looked at before may still be what shows
        return picture
    return picture.after_one_result(news, bad=bad)


def _check(finding: FaultFinding, step: Checked, field: str) -> Check:
    check = next((check for check in finding.checks if check.id == step.check), None)
    if check is None:
        raise PartNotOnCar(field, "a check that applies to this car", step.check)
    return check


def _reading(finding: FaultFinding, check: Check, step: Checked, part: str, field: str) -> Reading:
    """What the check says of a part, at the chance that the fault was there."""
    reading = check.of(part)
    if reading is None:
        raise PartNotOnCar(field, f"a part that {check.id!r} looks at", part)
    present = finding.fault_present if step.fault_present is None else step.fault_present
    return reading.with_presence(present if check.needs_fault_present else 1.0)
