"""Cars whose odometer figures plainly rise as their file brings them, so that the database need not be asked about them again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.bridge import agreement

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from datetime import date

    from sqlmodel import Session

MOST_CARS = 100_000
"""So that what is remembered stays small; of a file with more cars, each is asked about."""

_SPECIAL = ("new_instrument", "rollovers", "dial_digits")


class Rising:
    """The last figure of each car in one file of readings, while nothing about the car calls for a second look.

    It holds for what the file itself brings to cars that had no figure before: whoever else changes a car meanwhile is
    known from the import's own notes, and the car looked at again.

    Args:
        whole: whether the file is read from its first row on; otherwise earlier rows are not known here.
    """

    def __init__(self, *, whole: bool) -> None:
        self._whole = whole
        self._last: dict[str, tuple[date, float]] = {}
        self._doubtful: set[str] = set()

    def meet(self, session: Session, fleet_id: str, cars: Collection[str]) -> None:
        """Before rows are staged: cars that have figures already are left to the database."""
        if not self._whole:
            return
        new = set(cars) - self._last.keys() - self._doubtful
        if len(self._last) + len(self._doubtful) + len(new) > MOST_CARS:
            self._whole = False
            self._last.clear()
            self._doubtful.clear()
        elif new:
            self._doubtful |= agreement.with_figures(session, fleet_id, new)

    def add(self, cars: Sequence[str], values: dict[str, list[Any]]) -> None:
        """Rows were staged, in the file's order."""
        if not self._whole:
            return
        last, doubtful = self._last, self._doubtful
        for car, day, km, *special in zip(
            cars, values["read_on"], values["km_total"], *(values[name] for name in _SPECIAL), strict=True
        ):
            if car in doubtful:
                continue
            before = last.get(car)
            if special != _NOTHING_SPECIAL or (
                before is not None and not agreement.plainly_rises(*before, day, km)
            ):
                doubtful.add(car)
                last.pop(car, None)
            else:
                last[car] = (day, km)

    def without(self, cars: Collection[str]) -> set[str]:
        """The cars that the database is to be asked about."""
        return {car for car in cars if car not in self._last}


_NOTHING_SPECIAL = [False, None, None]
