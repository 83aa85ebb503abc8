"""Every picture: the same bytes for the same data, named for screen readers, nothing active in it, readable in grey."""

import re
import subprocess
import sys
from datetime import date, timedelta
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from planner import Costs, Spells, best_interval, fit_life, known_life, survival_curve
from planner.figures import (
    OwnPath,
    TimelineRow,
    interval_cost,
    life_curve,
    look,
    probability_plot,
    timeline,
    weeks_ahead,
)

SVG = "{http://www.w3.org/2000/svg}"
TODAY = date(2026, 11, 25)
HOSTILE = '</text><script>alert(1)</script> $\\frac{1}{0}$ \u202edekcip \x0b=1+1 & "quoted" 部品 ' + "x" * 300


def spells():
    return Spells.on_distance(
        lower=np.array([8e3, 1.2e4, 2e4, 2.5e4, 3e4, 3e4]),
        upper=np.array([8e3, 1.2e4, 2e4, 2.5e4, np.inf, np.inf]),
    )


def pictures():
    fitted = fit_life(spells(), seed=1)
    both = known_life(distance=(2.5, 30_000.0), age=(3.0, 15.0))
    costs = Costs(planned=40.0, failure=400.0)
    day = timedelta(days=1)
    rows = [
        TimelineRow("Rotor arm", TODAY - 90 * day, TODAY, TODAY + 400 * day),
        TimelineRow(HOSTILE, TODAY + 30 * day, TODAY + 200 * day, TODAY + 300 * day, TODAY + 310 * day),
        TimelineRow("Bulb", None, None, None),
    ]
    return {
        "life": life_curve(fitted, curve=survival_curve(spells()), unit="mi"),
        "own path": life_curve(both, km_per_year=2000.0, own=OwnPath(20_000.0, 9.0, (8.0, 12.0))),
        "costs": interval_cost(
            both, costs, km_per_year=2000.0, interval=best_interval(both, costs, 2000.0), currency=HOSTILE
        ),
        "timeline": timeline(rows, today=TODAY, years=5.0),
        "weeks": weeks_ahead([3, 0, 1, 2, 5] * 5, first=TODAY, due_before=53),
        "probability": probability_plot(fitted, survival_curve(spells())),
    }


NAMES = ("life", "own path", "costs", "timeline", "weeks", "probability")


@pytest.fixture(scope="module")
def drawn():
    return {name: (picture, picture.svg(), picture.svg(narrow=True)) for name, picture in pictures().items()}


@pytest.mark.parametrize("name", NAMES)
def test_a_picture_made_again_has_the_same_bytes(drawn, name):
    picture, wide, narrow = drawn[name]
    again = pictures()[name]
    assert again.svg() == wide
    assert again.svg(narrow=True) == narrow != wide
    assert again.png() == picture.png()


def test_another_process_with_other_settings_writes_the_same_bytes(drawn):
    program = (
        "import matplotlib; matplotlib.rcParams['font.size'] = 20; matplotlib.rcParams['svg.hashsalt'] = 'x'\n"
        "from datetime import date\nfrom planner.figures import weeks_ahead\n"
        "print(weeks_ahead([3, 0, 1, 2, 5] * 5, first=date(2026, 11, 25), due_before=53).svg(), end='')"
    )
    found = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert found.stdout == drawn["weeks"][1]


@pytest.mark.parametrize("name", NAMES)
def test_a_picture_names_itself_and_holds_nothing_active(drawn, name):
    picture, wide, narrow = drawn[name]
    for text in (wide, narrow):
        root = ET.fromstring(text)  # noqa: S314 - our own drawing
        assert root.get("role") == "img"
        assert root.find(f"{SVG}title").text == picture.title
        assert root.find(f"{SVG}desc").text == picture.text
        for element in root.iter():
            assert element.tag not in {f"{SVG}script", f"{SVG}style", f"{SVG}metadata", f"{SVG}foreignObject"}
            assert "style" not in element.attrib
            assert not [name for name in element.attrib if name.startswith("on")]
            target = element.get("{http://www.w3.org/1999/xlink}href", "#")
            assert target.startswith("#")
        assert not re.search(r"\d{4}-\d\d-\d\dT", text), "no moment of drawing"


def test_a_label_loses_control_and_direction_marks_and_is_shortened(drawn):
    _, wide, _ = drawn["timeline"]
    shown = [t.text for t in ET.fromstring(wide).iter(f"{SVG}text") if t.text and "script" in t.text]  # noqa: S314 - our own drawing
    assert len(shown) == 1
    assert len(shown[0]) <= 40
    assert not set(shown[0]) & {"\u202e", "\x0b"}


def test_the_process_gets_its_own_settings_back():
    import matplotlib as mpl

    before = dict(mpl.rcParams)
    weeks_ahead([1], first=TODAY).svg()
    assert dict(mpl.rcParams) == before


def relative_luminance(colour):
    """WCAG 2.2, definition of relative luminance."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    light, dark = sorted((relative_luminance(one), relative_luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("ink", [look.INK, look.MODEL, look.SEEN, look.FAINT])
def test_lines_and_letters_stand_out_from_paper_without_colour(ink):
    assert contrast(ink, look.PAPER) >= 4.5, "WCAG 2.2, 1.4.3"


def test_lines_stand_out_from_the_bands_behind_them_without_colour():
    for line in (look.MODEL, look.SEEN, look.INK):
        for band in (look.BAND, look.SLACK):
            assert contrast(line, band) >= 3.0, "WCAG 2.2, 1.4.11"
