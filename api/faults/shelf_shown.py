"""Answers about complaints and checks."""

from api.schemas import Answer


class CauseLine(Answer):
    """One line of a complaint's causes; several kinds are alternatives."""

    kinds: list[str]
    weight: float
    systems: list[str]
    cohort: bool
    note: str


class OtherCauseLine(Answer):
    """A cause that is no wear part of the catalogue."""

    what: str
    weight: float
    systems: list[str]


class ComplaintOut(Answer):
    """A complaint: the book's, or the fleet's own.

    Attributes:
        changed: the fleet's own weights stand in place of the book's.
        basis, source: where the weights come from.
    """

    id: str
    title: str
    own: bool
    changed: bool
    conditions: list[str]
    stop_driving: bool
    engine_dead: bool
    warning: str
    causes: list[CauseLine]
    others: list[OtherCauseLine]
    basis: str
    source: str
    external_ref: str | None


class CheckWorth(Answer):
    """What a check is worth by the book."""

    sensitivity: float
    specificity: float
    minutes: float
    money: float


class CheckOut(Answer):
    """A check: the book's, or the fleet's own.

    Attributes:
        changed: the fleet's own figures stand in place of some of the book's.
        book: what it is worth by the book, where it is changed; else null.
        shows_where: it shows which of several kinds is bad; else it gives one result for all of them.
        not_with: complaints, and conditions noticed, with which it is not offered: it cannot be made, or tells nothing new.
        note: how to read it.
        basis, source: where sensitivity and specificity come from.
        targets: part kinds that it looks at; empty where it can be made of any part or looks at none of the catalogue.
    """

    id: str
    name: str
    own: bool
    changed: bool
    book: CheckWorth | None
    targets: list[str]
    sensitivity: float
    specificity: float
    minutes: float
    money: float
    systems: list[str]
    needs_fault_present: bool
    needs_running: bool
    needs_dead: bool
    shows_where: bool
    not_with: list[str]
    caution: str
    note: str
    basis: str
    source: str
    external_ref: str | None
