"""Answers about parts to order."""

from datetime import date

from api.schemas import Answer


class MonthNeedOut(Answer):
    """Parts of one kind wanted in one month.

    Attributes:
        planned: how many stand in the plan.
        expected: mean number, failures included.
        enough: number that is enough with the chance asked for.
        needed_by: the first planned renewal's day; null where only failures are expected.
        order_by: so much earlier as delivery takes.
        late: delivery takes longer than there is time.
    """

    month: date
    planned: int
    expected: float
    enough: int
    needed_by: date | None
    order_by: date | None
    late: bool


class OrderOut(Answer):
    """What will be wanted of one kind over all the months.

    Attributes:
        enough: number that is enough over all the months together: less than the sum of the months' own.
        shelf: what to mind before buying ahead; null where nothing speaks against it.
    """

    kind: str
    part: str
    expected: float
    enough: int
    safety: bool
    cautions: list[str]
    shelf: str | None
    months: list[MonthNeedOut]


class MonthHoursOut(Answer):
    """Workshop hours of one month; low and high: every engine accessible, or cramped."""

    month: date
    planned: float
    unplanned: float
    low: float
    high: float


class PartsToOrder(Answer):
    """What the fleet will want, kind by kind in the order of first need, and the hours that go with it."""

    as_of: date
    chance: float
    lead_days: int
    parts_in_service: int
    items: list[OrderOut]
    workshop: list[MonthHoursOut]
    notes: list[str]
