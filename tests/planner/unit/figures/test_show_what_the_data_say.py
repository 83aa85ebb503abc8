"""The pictures' lines and words against closed forms: what is drawn is what the life says."""

import math
from datetime import date, timedelta
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from planner import Costs, Spells, best_interval, fit_life, known_life, survival_curve
from planner.errors import InputError
from planner.figures import (
    OwnPath,
    TimelineRow,
    interval_cost,
    life_curve,
    probability_plot,
    timeline,
    weeks_ahead,
)
from planner.figures.lives import Course

SVG = "{http://www.w3.org/2000/svg}"
TODAY = date(2026, 11, 25)


def letters(picture, *, narrow=False):
    return [t.text for t in ET.fromstring(picture.svg(narrow=narrow)).iter(f"{SVG}text")]  # noqa: S314 - our own drawing


def test_words_of_a_life_curve_are_the_weibull_quantiles():
    shape, scale = 2.0, 40_000.0
    text = life_curve(known_life(distance=(shape, scale))).text
    for share, shown in (
        (0.9, "13,000"),
        (0.5, "33,000"),
        (0.1, "61,000"),
    ):  # scale·(-ln share)^(1/shape), to two figures
        assert abs(scale * (-math.log(share)) ** (1 / shape) - float(shown.replace(",", ""))) < 500
        assert f"{100 * share:.0f} % at {shown}" in text


def test_distance_is_shown_in_the_keepers_unit():
    text = life_curve(known_life(distance=(2.0, 40_000.0)), unit="mi").text
    assert "50 % at 21,000" in text  # 33,300 km are 20,700 miles
    assert "mi since fitting" in text


def test_an_own_path_passes_through_both_clocks_now_and_goes_on_at_the_cars_pace():
    course = Course(by_distance=False, km_per_year=2_000.0, own=OwnPath(km=9_000.0, years=3.0))
    clocks = course.clocks(np.array([0.0, 1.5, 3.0, 5.0]))
    assert clocks["km"].tolist() == [0.0, 4_500.0, 9_000.0, 13_000.0]
    assert clocks["years"].tolist() == [0.0, 1.5, 3.0, 5.0]


def test_two_clocks_need_a_yearly_distance():
    with pytest.raises(InputError, match="km_per_year"):
        life_curve(known_life(distance=(2.0, 40_000.0), age=(3.0, 15.0)))
    with pytest.raises(InputError, match="km_per_year"):
        life_curve(known_life(distance=(2.0, 40_000.0)), own=OwnPath(1.0, 1.0))


def test_a_stepped_curve_is_drawn_only_where_there_is_one():
    spells = Spells.on_distance(lower=[8e3, 1.2e4, 2e4, 3e4], upper=[8e3, 1.2e4, 2e4, math.inf])
    life = fit_life(spells, seed=1)
    assert not any("records alone" in text for text in letters(life_curve(life)))
    assert any(
        "Kaplan-Meier: the records alone" in text
        for text in letters(life_curve(life, curve=survival_curve(spells)))
    )


def test_the_records_own_limits_are_drawn_where_it_has_any():
    exact = Spells.on_age(lower=[2.0, 5.0, 9.0], upper=[2.0, 5.0, math.inf])
    life = fit_life(exact, seed=1)
    assert "its 80 % limits" in letters(life_curve(life, curve=survival_curve(exact, level=0.8)))
    turnbull = Spells.on_age(lower=[0.0, 2.0, 3.0], upper=[4.0, 6.0, math.inf])
    found = letters(life_curve(life, curve=survival_curve(turnbull)))
    assert any("Turnbull" in text for text in found)
    assert not any("% limits" in text for text in found)


def test_the_cost_picture_tells_the_advice_and_what_doing_without_costs():
    life, costs = known_life(age=(3.0, 10.0)), Costs(planned=50.0, failure=500.0)
    rule = best_interval(life, costs, 1_400.0)
    picture = interval_cost(life, costs, km_per_year=1_400.0, interval=rule, currency="GBP")
    without = costs.failure / (10.0 * math.gamma(1 + 1 / 3.0))  # failure cost over the mean life
    assert f"Running to failure costs about {without:.0f} GBP a year" in picture.text
    assert f"costs about {rule.cost_per_year:.0f} GBP a year" in picture.text
    assert "within 5 % of the advice" in letters(picture)


def test_the_cost_picture_discounts_as_the_advice_does():
    """Where renewing is the advice, the curve at it costs what the advice says, at any discount rate."""
    life, costs = known_life(age=(3.0, 10.0)), Costs(planned=50.0, failure=500.0)
    rule = best_interval(life, costs, 1_400.0, discount=0.2)
    plain, later = (
        interval_cost(life, costs, km_per_year=1_400.0, interval=rule, discount=rate) for rate in (0.0, 0.2)
    )
    assert f"Running to failure costs about {rule.cost_run_to_failure:.0f} a year" in later.text
    assert later.text != plain.text


def test_run_to_failure_marks_no_interval():
    life, costs = known_life(age=(1.0, 10.0)), Costs(planned=50.0, failure=60.0)
    picture = interval_cost(life, costs, km_per_year=1_400.0, interval=best_interval(life, costs, 1_400.0))
    assert picture.text.startswith("The advice is to run it to failure")
    assert "within 5 % of the advice" not in letters(picture)


def test_a_timeline_names_every_part_and_says_which_runs_to_failure():
    rows = [
        TimelineRow("Late", TODAY, TODAY, TODAY),
        TimelineRow("Later", *(TODAY + timedelta(days=n) for n in (300, 400, 500))),
        TimelineRow("Bulb", None, None, None),
    ]
    picture = timeline(rows, today=TODAY, years=5.0)
    assert (
        picture.text
        == "3 parts, 1 of them due now. First by their likely day: Late Nov 2026; Later Dec 2027."
    )
    for narrow in (False, True):
        found = letters(picture, narrow=narrow)
        assert {"Late", "Later", "Bulb", "run to failure", "due now", "likely day"} <= set(found)
    assert timeline([], today=TODAY, years=5.0).text == "No part is on record."
    with pytest.raises(InputError, match="years"):
        timeline(rows, today=TODAY, years=0.0)


def test_a_window_without_an_end_is_drawn_and_one_beyond_the_picture_is_told():
    rows = [
        TimelineRow("Open", TODAY, TODAY + timedelta(days=900), None, TODAY + timedelta(days=1000)),
        TimelineRow("W" * 40, *(date(2040, month, 1) for month in (1, 6, 12))),
    ]
    for narrow in (False, True):
        found = letters(timeline(rows, today=TODAY, years=5.0), narrow=narrow)
        assert "run to failure" not in found
        assert "later: likely 2040" in found
        assert {"2028", "2030"} <= set(found)
    assert _place_of("2030", rows) == _place_of("2030", rows[:1]), "a long name takes no room from the axis"


def _place_of(label, rows):
    """Where a label of the narrow timeline stands."""
    drawn = ET.fromstring(timeline(rows, today=TODAY, years=5.0).svg(narrow=True))  # noqa: S314 - our own drawing
    (found,) = [text for text in drawn.iter(f"{SVG}text") if text.text == label]
    return found.get("x"), found.get("transform", "").partition(" ")[0]


def test_weeks_show_their_counts_and_name_the_fullest():
    picture = weeks_ahead([0, 4, 1], first=date(2026, 11, 30), due_before=7)
    assert picture.text == "7 due now, 5 in the 3 weeks ahead. The fullest week begins on 7 Dec 2026 with 4."
    assert {"4", "1", "7"} <= set(letters(picture))
    assert weeks_ahead([0, 0], first=TODAY).text == "0 due now, 0 in the 2 weeks ahead."


def test_points_on_weibull_paper_stand_at_the_middle_of_each_fall():
    spells = Spells.on_age(lower=[1.0, 2.0, 3.0, 4.0], upper=[1.0, 2.0, 3.0, 4.0])
    life = fit_life(spells, seed=1)
    picture = probability_plot(life, survival_curve(spells))
    failed = (np.arange(4) + 0.5) / 4  # (i - 1/2)/n, the plotting position of a complete sample
    off = np.abs(1 - life.survival(years=np.array([1.0, 2.0, 3.0, 4.0])) - failed).max()
    assert f"off by {100 * off:.0f} % of all parts" in picture.text
    assert picture.text.startswith("4 points")
    with pytest.raises(InputError, match="life"):
        probability_plot(known_life(distance=(2, 1e4), age=(2, 10)), survival_curve(spells))
