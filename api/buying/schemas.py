"""Bodies and answers for buying a car."""

from typing import Annotated

from pydantic import Field, ValidationInfo, field_validator

from api.history.schemas import KindId
from api.risks.schemas import OddsOut
from api.schedules.schemas import ChanceOf
from api.schemas import Answer, Body, DistanceIn, DistanceOut, UncertainDateText
from api.vehicles.schemas import System


class DrivenIn(DistanceIn):
    """A yearly distance."""

    value: float = Field(ge=1, le=200_000)


class PaperIn(Body):
    """A paper that dates a part: an invoice, a stamp, a date code. What is merely told is no paper."""

    kind: KindId
    fitted_on: UncertainDateText


class BuyingListCreate(Body):
    """A car on offer, by what can be seen of it."""

    built: UncertainDateText
    odometer: DistanceIn = Field(
        description="true distance as far as it is known; never less than the dial shows"
    )
    per_year: DrivenIn = Field(description="how it is going to be driven")
    system: System | None = Field(default=None, description="ignition and fuel system; null: not known")
    kinds: Annotated[list[KindId], Field(min_length=1, max_length=200)] | None = Field(
        default=None, description="only these part kinds; null: all that such a car has"
    )
    papers: Annotated[list[PaperIn], Field(max_length=200)] = Field(default_factory=list)

    @field_validator("papers")
    @classmethod
    def _each_kind_once(cls, papers: list[PaperIn], info: ValidationInfo) -> list[PaperIn]:
        named = [paper.kind for paper in papers]
        twice = [kind for kind in named if named.count(kind) > 1]
        if twice:
            raise ValueError(f"one paper for each kind, the latest; {twice[0]} has several")
        kinds = info.data.get("kinds")
        strange = [] if kinds is None else [kind for kind in named if kind not in kinds]
        if strange:
            raise ValueError(f"papers of the kinds asked about, which {strange[0]} is not")
        return papers


class BuyingItemOut(Answer):
    """One part of the car.

    Attributes:
        due: to be reckoned with at once.
        cost_now: of renewing it, in the fleet's currency.
        chance_if_left: within two years if it is left as it is.
        chance_of: what that chance is of.
        look_at: what can be seen of it before buying, and how much a look is worth.
    """

    kind: str
    part: str
    due: bool
    cost_now: float
    chance_if_left: OddsOut
    chance_of: ChanceOf
    reason: str
    look_at: str
    safety: bool
    cautions: list[str]


class CostRangeOut(Answer):
    """A cost: the mean, and the 10 % and 90 % points."""

    mean: float
    low: float
    high: float


class BuyingListOut(Answer):
    """What a buyer should reckon with over the first two years.

    Attributes:
        years_old: greatest age that the date of building allows: what nobody can date is treated as that old.
        items: due ones first, safety parts before the rest.
        due_cost: of renewing everything that is due at once.
        if_done: two years with that done, its cost included.
        if_left: two years in which only what fails is renewed.
        stops_if_done, stops_if_left: expected stops on the road in two years.
        ask: what to ask and look at before a price is agreed.
    """

    currency: str
    years_old: float
    odometer: DistanceOut
    items: list[BuyingItemOut]
    due_cost: float
    if_done: CostRangeOut
    if_left: CostRangeOut
    stops_if_done: float
    stops_if_left: float
    ask: list[str]
    notes: list[str]
