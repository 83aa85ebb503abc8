"""Answers about fault-findings."""

from datetime import date, datetime
from typing import Literal

from api.schemas import Answer

State = Literal["open", "closed"]


class ChanceShown(Answer):
    """A chance and the same as odds in words."""

    chance: float
    odds: str


class SuspectOut(Answer):
    """One part that was on the car, as a suspect.

    Attributes:
        chance: that it shows the complaint; causes may coincide, so these can add up to more than 1.
        low, high: its 80 % range, from what is not known of the part's life.
        book: the same for an average car's parts before any step; null where it is not known.
        car_ratio: weight of this car's part against an average car's; null where it was renewed since.
        check_ratio: by how much its checks moved its odds; 1: not at all.
        renewed: it was renewed without cure.
    """

    fitment_id: str
    kind: str
    part: str
    position: str | None
    chance: float
    low: float
    high: float
    odds: str
    book: ChanceShown | None
    car_ratio: float | None
    check_ratio: float
    renewed: bool
    reason: str
    cautions: list[str]


class RankingOut(Answer):
    """Every suspect, the likeliest first; nothing is ever certain, and none is on the list where none is on record.

    Attributes:
        something_else: nothing on the list is it.
        second_fault: two or more parts in place are faulty.
    """

    suspects: list[SuspectOut]
    something_else: ChanceShown
    second_fault: ChanceShown


class NotOnRecordOut(Answer):
    """A kind of part that the complaint can come from and that the car has none of on record.

    Attributes:
        share: of all such complaints, how many come from it by the book; it hides in "something else".
    """

    kind: str
    part: str
    share: float


class SharesOut(Answer):
    """What the odds between parts rest on: the book's shares, and the fleet's closed cases when it was opened."""

    cases: int
    book_share: float
    words: str


class StepOut(Answer):
    """One step: a check with its outcome, or parts renewed together.

    Attributes:
        shows_bad: per fitment, what the check showed; null: one outcome for all that it looks at.
    """

    number: int
    check: str | None
    check_name: str | None
    outcome: str | None
    shows_bad: dict[str, bool] | None
    fault_present: float | None
    renewed: list[str] | None
    cured: bool | None
    done_on: date
    note: str | None
    words: str


class RemovalWritten(Answer):
    """What closing the case wrote into one part's history.

    Attributes:
        shared_event, complaint_fit: set where several parts cured it together; which one was guilty is weighed by each
            one's hazard and by how well its failure fits.
        written: false where the record was left as it is; `why` says why.
    """

    fitment_id: str
    reason: str
    cured: bool
    changed_together: int
    removed_on: date
    shared_event: str | None = None
    complaint_fit: float | None = None
    written: bool
    why: str | None


class FitmentWritten(Answer):
    """A new part that closing the case wrote down."""

    fitment_id: str
    in_place_of: str
    fitted_on: date


class EmptyPlace(Answer):
    """A part that came off during the case and has nothing on record in its place since."""

    fitment_id: str
    kind: str
    part: str
    position: str | None


class CauseOut(Answer):
    """A part, or null for something else, with the chance that it was the cause."""

    fitment_id: str | None
    part: str
    chance: float


class ClosingOut(Answer):
    """How the case ended; `causes` is empty where it was given up.

    Attributes:
        fitted: new parts that closing the case wrote down.
        nothing_in_place: parts off the car with nothing on record in their place, as things stand now: write it down.
    """

    closed_on: date
    cured: bool
    by: list[str]
    confirmed: list[str]
    causes: list[CauseOut]
    removals: list[RemovalWritten]
    fitted: list[FitmentWritten]
    nothing_in_place: list[EmptyPlace]
    note: str | None


class FaultFindingItem(Answer):
    """A fault-finding in a list."""

    id: str
    vehicle_id: str
    complaint: str
    title: str
    conditions: list[str]
    last_ran_well: date
    noted_on: date
    note: str | None
    state: State
    closed_on: date | None
    external_ref: str | None
    created_at: datetime


class FaultFindingOut(FaultFindingItem):
    """A fault-finding with its suspects.

    Attributes:
        stop_driving: why the car must not be driven; null if it may.
        warning: what else to mind; null if nothing.
        not_on_record: kinds that the complaint can come from and that are not on record, the likeliest first.
        record: the same in words, with what to do; null where there are none.
        cautions: these odds are no inspection.
    """

    fault_present: float
    stop_driving: str | None
    warning: str | None
    ranking: RankingOut
    not_on_record: list[NotOnRecordOut]
    record: str | None
    shares: SharesOut
    steps: list[StepOut]
    closing: ClosingOut | None
    cautions: list[str]


class OptionOut(Answer):
    """One thing that can be done next; money in the fleet's currency, of the order of a euro where it is book.

    Attributes:
        ref: id of the check or of the fitment; null: a specialist.
        outlay: money and time of this step.
        expected_cost: that and what is still to come until the cure, the best known way, less what would be spent anyway.
        due_anyway: why the part is to be renewed whatever the fault is; null where it is not.
        spent_anyway: of the outlay, what would be spent on that part before long whatever the fault is: the renewal takes the
            place of a planned one that is due or near. 0 where none is.
    """

    kind: Literal["check", "renew", "hand over"]
    ref: str | None
    name: str
    money: float
    minutes: float
    outlay: float
    expected_cost: float
    caution: str | None
    due_anyway: str | None
    spent_anyway: float


class OutcomeOut(Answer):
    """What may come of the step; no ranking once it is cured."""

    words: str
    chance: float
    odds: str
    ranking: RankingOut | None


class NextStepOut(Answer):
    """The cheapest expected way to the cure.

    Attributes:
        options: everything that can be done, cheapest expected way first.
        value_of_checking: what checking first saves against renewing or handing over now; 0 where the step is no check.
        due_anyway: suspects that are to be renewed whatever the fault is, past a limit or a safety part whose day has come, and
            those whose own renewal is near; with what of each renewal would be spent anyway.
        dont_buy_yet: why not to buy a part yet, other than those; null where buying is right or nothing is to be bought.
        record: which kinds that can cause it are not on record, and that they should be; null where there are none.
        exact: the whole tree of steps was searched; otherwise some steps ahead.
    """

    finding_id: str
    currency: str
    step: OptionOut
    reason: str
    due_anyway: str | None
    dont_buy_yet: str | None
    stop_driving: str | None
    warning: str | None
    record: str | None
    value_of_checking: float
    outcomes: list[OutcomeOut]
    options: list[OptionOut]
    exact: bool
    cautions: list[str]
