"""What a digest says."""

from datetime import date, datetime
from typing import Literal

from pydantic import Field

from api.risks.schemas import OddsOut
from api.schedules.schemas import ChanceOf, Decides, DoNotDrive, Forbidding, PutOffShown, Status, WindowOut
from api.schemas import Answer


class DigestPart(Answer):
    """One part in a digest: when it is due, what decides, what waiting risks, and why."""

    fitment_id: str
    vehicle_id: str
    vehicle_name: str
    kind: str
    part: str
    position: str | None
    clocks: str
    window: WindowOut
    status: Status
    decides: Decides
    chance: str = Field(
        description="of what `chance_of` says before the window closes, in words that say by when"
    )
    chance_of: ChanceOf = "failing"
    reason: str
    put_off: PutOffShown | None
    safety: bool
    cautions: list[str]


class DigestParts(Answer):
    """Parts of one section, most urgent first; of many only the first are named, all are counted.

    Attributes:
        safety: how many of them are safety parts; null in digests made before it was told.
    """

    count: int
    safety: int | None = None
    items: list[DigestPart]


class DigestDone(Answer):
    """Work done: a part that came off, or one that was worked on and stayed."""

    fitment_id: str
    vehicle_id: str
    vehicle_name: str
    part: str
    position: str | None
    done_on: date
    what: Literal["came off", "worked on"]
    how: str = Field(description="the removal's reason, or what was done")


class DigestAccepted(Answer):
    """A keeper's decision that stands: accepted risk.

    Attributes:
        warning: the limit that it does not move, or what was found; null if nothing is in its way.
    """

    fitment_id: str
    vehicle_id: str
    vehicle_name: str
    part: str
    position: str | None
    until: date | None
    reason: str
    decided_on: date
    warning: str | None = None
    safety: bool = False
    cautions: list[str] = Field(default_factory=list)


class DigestOdometer(Answer):
    """A car whose odometer nobody has read lately: its dates rest on what it did before."""

    vehicle_id: str
    vehicle_name: str
    last_read_on: date | None


class DigestCar(Answer):
    """The chance that a part on record stops the car in the coming month."""

    vehicle_id: str
    vehicle_name: str
    stop: OddsOut


class DigestOrder(Answer):
    """Parts of one kind that the plan wants within the weeks ahead.

    Attributes:
        needed_by: the first planned renewal's day, or the digest's own where that has passed.
        order_by: two weeks earlier, but not before the digest's day; null in digests made before it was told.
        late: delivery takes longer than there is time.
        shelf: what to mind before buying ahead; null where nothing speaks against it.
    """

    kind: str
    part: str
    planned: int
    needed_by: date
    order_by: date | None = None
    late: bool = False
    safety: bool = False
    shelf: str | None = None
    cautions: list[str] = Field(default_factory=list)


class DigestWeeks(Answer):
    """How much comes due in each week, from the Monday of the digest's week on."""

    first: date
    due_before: int
    counts: list[int]


class DigestContent(Forbidding):
    """What a digest says of one week.

    Attributes:
        do_not_drive: cars that nobody should drive when the digest was made; empty in digests made before it was told.
        became_due: parts whose likely day came since the week before.
        still_due: parts due for longer.
        due_soon: parts whose likely day comes within the weeks ahead.
        cars: all cars of a small fleet; of a large one those with work named above; the likeliest to stop first.
        cars_left_out: cars that are not among them.
    """

    do_not_drive: list[DoNotDrive] = Field(default_factory=list)
    week: str
    as_of: date
    since: date
    soon_until: date
    became_due: DigestParts
    still_due: DigestParts
    due_soon: DigestParts
    done: list[DigestDone]
    accepted: list[DigestAccepted]
    unread_odometers: list[DigestOdometer]
    cars: list[DigestCar]
    cars_left_out: int = 0
    to_order: list[DigestOrder]
    weeks: DigestWeeks
    notes: list[str]


class DigestOut(DigestContent):
    """A digest as it was made."""

    made_at: datetime


class DigestListed(Answer):
    """A digest in the list."""

    week: str
    as_of: date
    made_at: datetime
    became_due: int
    still_due: int
    due_soon: int
