"""What is believed of every part in place or taken out since the complaint came, as unnormalised masses.

A *piece* is one physical part in one position, from one renewal to the next. Its two masses are the joint
probabilities of (faulty, its checks' results) and (sound, its checks' results), so that checks multiply in and
nothing is rounded away. The complaint is watched from the start to the last renewal without cure: moment 0 is
before any renewal, moment k is after the k-th.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from planner.faults.values import Chance, FaultFinding, Reading


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One physical part: its position, when it came in, when it went out, and its two masses.

    Attributes:
        position: index of the candidate whose place it takes.
        first: first moment at which it was in place.
        last: moment at which it was out again; None while it is in place.
        faulty: P(faulty and its checks' results).
        sound: P(sound and its checks' results).
        share: P(it shows the complaint | faulty).
        check_ratio: product of the likelihood ratios of its checks.
    """

    position: int
    first: int
    last: int | None
    faulty: Chance
    sound: Chance
    share: float
    check_ratio: float = 1.0

    @property
    def mass(self) -> Chance:
        """P(its checks' results)."""
        return self.faulty + self.sound

    @property
    def acts(self) -> Chance:
        """P(it shows the complaint | its checks' results), the complaint itself not yet counted."""
        return self.faulty * self.share / self.mass

    @property
    def weight(self) -> Chance:
        """P(faulty | its checks' results), the complaint not yet counted."""
        return self.faulty / self.mass

    def read(self, reading: Reading, *, bad: bool) -> Piece:
        """The piece after one check of it showed bad or good."""
        if bad:
            like_faulty, like_sound = reading.sensitivity, 1.0 - reading.specificity
        else:
            like_faulty, like_sound = 1.0 - reading.sensitivity, reading.specificity
        return replace(
            self,
            faulty=self.faulty * like_faulty,
            sound=self.sound * like_sound,
            check_ratio=self.check_ratio * like_faulty / like_sound,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """All pieces, the number of renewals without cure so far, and the leak.

    Attributes:
        in_place: the piece in each candidate's place, in the candidates' order.
        removed: pieces taken out without cure.
        renewals: number of renewals without cure.
        leak: P(the complaint shows | every piece sound).
        new_part_faults: pi0 per candidate.
    """

    in_place: tuple[Piece, ...]
    removed: tuple[Piece, ...]
    renewals: int
    leak: float
    new_part_faults: tuple[float, ...]

    def after_all_good(self, readings: dict[int, Reading]) -> Belief:
        """Belief, up to the factor P(good | all sound), once one result for several parts together was good.

        Each faulty part among them would have let it pass with (1 - sensitivity) / specificity.
        """
        pieces = list(self.in_place)
        for position, reading in readings.items():
            passed = (1.0 - reading.sensitivity) / reading.specificity
            pieces[position] = replace(pieces[position], faulty=pieces[position].faulty * passed)
        return replace(self, in_place=tuple(pieces))

    def after_reading(self, position: int, reading: Reading, *, bad: bool) -> Belief:
        """Belief once a check of the part in this place showed bad or good."""
        pieces = list(self.in_place)
        pieces[position] = pieces[position].read(reading, bad=bad)
        return replace(self, in_place=tuple(pieces))

    def after_renewal(self, positions: tuple[int, ...]) -> Belief:
        """Belief once the parts in these places were renewed together and the complaint stayed."""
        moment = self.renewals + 1
        pieces, removed = list(self.in_place), list(self.removed)
        for position in positions:
            old, pi0 = pieces[position], self.new_part_faults[position]
            removed.append(replace(old, last=moment))
            pieces[position] = Piece(position, moment, None, pi0, 1.0 - pi0, old.share)
        return replace(self, in_place=tuple(pieces), removed=tuple(removed), renewals=moment)


def first_belief(finding: FaultFinding, *, averaged: bool = False) -> Belief:
    """Belief before any step; draws kept, or averaged to one number per part.

    Averaging first is exact wherever the parts' draws are independent: every joint probability of the model is
    linear in each p_i.
    """
    pieces = []
    for position, candidate in enumerate(finding.candidates):
        p: Chance = float(np.mean(candidate.faulty)) if averaged else candidate.faulty
        pieces.append(Piece(position, 0, None, p, 1.0 - p, candidate.share))
    pi0 = tuple(candidate.new_part_fault for candidate in finding.candidates)
    return Belief(tuple(pieces), (), 0, finding.something_else, pi0)
