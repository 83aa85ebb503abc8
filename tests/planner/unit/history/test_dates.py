"""Rough dates: ISO 8601-2 text becomes earliest, likely and latest day, and gives its text back."""

from __future__ import annotations

from datetime import date

import pytest

from planner.errors import RecordError
from planner.history.dates import FIRST_MOTOR_CAR, UncertainDate, years_between

D = date.fromisoformat


@pytest.mark.parametrize(
    ("text", "earliest", "latest"),
    [
        ("1998-05-17", "1998-05-17", "1998-05-17"),
        ("1998-05", "1998-05-01", "1998-05-31"),
        ("2000-02", "2000-02-01", "2000-02-29"),
        ("1998", "1998-01-01", "1998-12-31"),
        ("198X", "1980-01-01", "1989-12-31"),
        ("19XX", "1900-01-01", "1999-12-31"),
        ("1998-XX", "1998-01-01", "1998-12-31"),
        ("1998-05-XX", "1998-05-01", "1998-05-31"),
        ("1985/1989", "1985-01-01", "1989-12-31"),
        ("1985-06/1985-08-02", "1985-06-01", "1985-08-02"),
        ("1987-21", "1987-03-01", "1987-05-31"),
        ("1987-22", "1987-06-01", "1987-08-31"),
        ("1987-23", "1987-09-01", "1987-11-30"),
        ("1987-24", "1987-12-01", "1988-02-29"),
        ("1987-30", "1987-12-01", "1988-02-29"),
        ("1998~", "1997-01-01", "1999-12-31"),
        ("1998?", "1997-01-01", "1999-12-31"),
        ("1998%", "1996-01-01", "2000-12-31"),
        ("1998-01~", "1997-12-01", "1998-02-28"),
        ("1998-12%", "1998-10-01", "1999-02-28"),
        ("1998-05-17~", "1998-05-10", "1998-05-24"),
        ("1987-21~", "1986-12-01", "1987-08-31"),
        ("198X~", "1970-01-01", "1999-12-31"),
        ("1985~/1989", "1984-01-01", "1989-12-31"),
    ],
)
def test_text_is_read_as_the_days_that_fit_it(text, earliest, latest):
    read = UncertainDate.parse(text)
    assert (read.earliest, read.latest) == (D(earliest), D(latest))
    assert read.earliest <= read.likely <= read.latest
    assert str(read) == text


def test_open_ends_lean_on_the_end_that_is_known():
    before = UncertainDate.parse("../1990")
    assert (before.earliest, before.likely, before.latest) == (
        FIRST_MOTOR_CAR,
        D("1990-12-31"),
        D("1990-12-31"),
    )
    assert before.open_start
    assert not before.open_end
    after = UncertainDate.parse("1990/..")
    assert (after.earliest, after.likely, after.latest) == (D("1990-01-01"), D("1990-01-01"), date.max)
    assert after.open_end


@pytest.mark.parametrize(
    "text",
    ["", "..", "../..", "about 1998", "1998-13", "1998-02-30", "98", "1998-21-03", "198X-05", "1998-XX-03", "17.05.1998",
     "1998-05-17T10:00", "1989/1985", "1750", "1998/1999/2000", "１９９８", "1998-5", None, 1998],
)  # fmt: skip
def test_what_is_no_date_is_refused_with_the_field_named(text):
    with pytest.raises(RecordError) as refused:
        UncertainDate.parse(text, field="fitted_on")
    assert refused.value.field == "fitted_on"


def test_narrowing_keeps_a_likely_day_that_still_fits_and_tells_a_contradiction():
    about = UncertainDate.parse("1998~")
    assert about.within(earliest=D("1998-01-01")).likely == about.likely
    narrowed = about.within(earliest=D("1999-01-01"))
    assert (narrowed.earliest, narrowed.latest) == (D("1999-01-01"), D("1999-12-31"))
    assert narrowed.likely == D("1999-07-02")
    assert about.within(latest=D("1996-12-31")) is None


def test_an_open_start_narrowed_by_the_build_date_no_longer_leans_on_the_end():
    narrowed = UncertainDate.parse("../1990").within(earliest=D("1980-12-31"))
    assert narrowed.likely == D("1985-12-31")


def test_years_are_days_over_365_and_a_quarter():
    assert years_between(D("2000-01-01"), D("2004-01-01")) == pytest.approx(4.0, abs=1e-12)
