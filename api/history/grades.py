"""A part's grade as a record gives it: one that the catalogue knows is kept in the catalogue's spelling."""

from typing import Annotated

from pydantic import AfterValidator, Field

from planner.catalogue import grades_of_parts

GRADE = '"pattern": a cheap pattern part, which lasts as the catalogue says of those (in any case); any other text is kept and changes nothing'


def _as_the_book_spells_it(grade: str) -> str:
    known = {name.casefold(): name for name in grades_of_parts()}
    return known.get(grade.casefold(), grade)


Grade = Annotated[
    str,
    AfterValidator(_as_the_book_spells_it),
    Field(max_length=80, examples=["maker's", "aftermarket", "pattern"]),
]
"""A part's grade; one that the catalogue knows, written in any case, is kept in the catalogue's spelling."""
