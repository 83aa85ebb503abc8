"""Bodies and answers for the fleet itself."""

from typing import Annotated

from pydantic import Field

from api.schemas import Answer, Body

Rate = Annotated[
    float,
    Field(
        ge=0,
        le=0.5,
        description="how much less a cost counts for each year that it lies ahead (0.03: 3 %); 0: as much as today",
    ),
]


class FleetUpdate(Body):
    """Changes to the fleet: a field left out stays."""

    discount_rate: Rate = Field(default_factory=float)
    pooling: bool = Field(
        default_factory=bool,
        description="whether this fleet's records teach other fleets that share too, and theirs this one; an admin's choice",
    )


class FleetOut(Answer):
    """The fleet that the key belongs to.

    Attributes:
        jobs: addresses of the jobs that bring the dates of its parts to a changed discount rate, one for each kind.
    """

    name: str
    currency: str
    time_zone: str
    discount_rate: float
    pooling: bool
    jobs: list[str] = Field(default_factory=list)
