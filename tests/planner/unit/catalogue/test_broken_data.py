"""Broken catalogue data are refused with the file, the entry and the field; nothing half-read comes out."""

from __future__ import annotations

import pytest

from planner.catalogue import read_catalogue
from planner.catalogue.loader import package_texts
from planner.errors import CatalogueError

FAMILIES = """
[[family]]
name = "ignition"
files = ["trial"]
cautions = ["high_tension"]
"""
TRIAL = """
[kind.rotor_arm]
name_gb = "rotor arm"
name_us = "distributor rotor"
systems = ["points"]
wear = "tip erosion"
shape_class = "mild wear-out"
failure_effect = "stranded"
stops_car = 0.9
new_part_fault = 0.03
labour_hours = [0.2, 0.6]
cost_class = "A"
access_group = "coil and module"
together_with = ["cap"]
symptoms = "no spark"
cheap_check = "spark to the centre"
shortened_by = "heat"
scale_multiplier = 1.5

[kind.rotor_arm.distance]
p10 = 40_000
p50 = 90_000
spread_scale = 0.45
basis = "judgement"
sources = ["cap_rotor_answers"]

[kind.cap]
name_gb = "cap"
name_us = "cap"
wear = "erosion"
shape_class = "mild wear-out"
failure_effect = "misfire"
stops_car = 0.5
new_part_fault = 0.01
safety = true
max_risk = 0.1
labour_hours = [0.2, 0.6]
cost_class = "B"
access_group = "coil and module"
symptoms = "misfire"
cheap_check = "look"
shortened_by = "damp"
scale_multiplier = 1.0

[kind.cap.age]
p10 = 5
p50 = 13
spread_scale = 0.45
note = "judged"

[kind.cap.cap]
basis = "common practice"
years = 10
note = "ten years at most"
"""


def texts(trial=TRIAL, **others):
    commons = {name: text for name, text in package_texts("commons").items() if name != "wear_shows.toml"}
    return commons | {"families.toml": FAMILIES, "trial.toml": trial} | others


def test_the_trial_itself_is_sound():
    catalogue = read_catalogue(texts())
    assert list(catalogue) == ["rotor_arm", "cap"]
    assert catalogue["rotor_arm"].distance.p10 == 60_000
    assert catalogue["cap"].cap.years == 10


@pytest.mark.parametrize(
    ("old", "new", "field", "wanted"),
    [
        ("p10 = 40_000", "p10 = 95_000", "rotor_arm: distance: p50", "above the 10 % point"),
        ("p10 = 40_000", "p10 = 0", "rotor_arm: distance: p10", "a number from 100"),
        ("p10 = 40_000", "p10 = -5", "rotor_arm: distance: p10", "a number from 100"),
        ("p10 = 40_000", "p10 = nan", "rotor_arm: distance: p10", "a number"),
        ("p50 = 90_000", "p50 = inf", "rotor_arm: distance: p50", "a number"),
        ("p10 = 40_000", 'p10 = "40 000"', "rotor_arm: distance: p10", "a number"),
        ("p10 = 40_000", "p10 = true", "rotor_arm: distance: p10", "a number"),
        ("p10 = 40_000\n", "", "rotor_arm: distance: p10", "a value"),
        ("stops_car = 0.9", "stops_car = 1.2", "rotor_arm: stops_car", "from 0 to 1"),
        ("stops_car = 0.9", "stops_car = -0.1", "rotor_arm: stops_car", "from 0 to 1"),
        ("new_part_fault = 0.03", "new_part_fault = 0.3", "rotor_arm: new_part_fault", "from 0 to 0.1"),
        ("labour_hours = [0.2, 0.6]", "labour_hours = [0.6, 0.2]", "rotor_arm: labour_hours", "rising"),
        ("labour_hours = [0.2, 0.6]", "labour_hours = [0.6]", "rotor_arm: labour_hours", "2 numbers"),
        ("labour_hours = [0.2, 0.6]", "labour_hours = 0.6", "rotor_arm: labour_hours", "2 numbers"),
        ('cost_class = "A"', 'cost_class = "F"', "rotor_arm: cost_class", "one of A, B, C, D, E"),
        ('systems = ["points"]', 'systems = ["magneto"]', "rotor_arm: systems", "electronic distributor"),
        ('systems = ["points"]', 'systems = ["points", "points"]', "rotor_arm: systems", "each text once"),
        ('systems = ["points"]', 'systems = "points"', "rotor_arm: systems", "a list of texts"),
        ('access_group = "coil and module"', 'access_group = "coil"', "rotor_arm: access_group", "coil and module"),
        ('together_with = ["cap"]', 'together_with = ["cup"]', "rotor_arm: together_with", "ids of other kinds"),
        ('together_with = ["cap"]', 'together_with = ["rotor_arm"]', "rotor_arm: together_with", "other kinds"),
        ('sources = ["cap_rotor_answers"]', 'sources = ["hearsay"]', "rotor_arm: distance: sources", "a known name"),
        ('sources = ["cap_rotor_answers"]', "", "rotor_arm: distance: note", "a source or a reason"),
        ('sources = ["cap_rotor_answers"]', 'note = "x"\np10_basis = "page"', "rotor_arm: distance: sources", "page"),
        ('basis = "judgement"', 'basis = "gossip"', "rotor_arm: distance: basis", "common practice"),
        ('symptoms = "no spark"', 'symptoms = " "', "rotor_arm: symptoms", "a non-empty text"),
        ('symptoms = "no spark"', "symptoms = 7", "rotor_arm: symptoms", "a non-empty text"),
        ('symptoms = "no spark"', 'symptons = "no spark"', "rotor_arm: symptoms", "a value"),
        ('symptoms = "no spark"', 'symptoms = "no spark"\nsmell = "hot"', "rotor_arm: smell", "no such field"),
        ("safety = true", 'safety = "yes"', "cap: safety", "true or false"),
        ("max_risk = 0.1", "max_risk = 0.9", "cap: max_risk", "from 0.0001 to 0.5"),
        ("years = 10\n", "", "cap: cap: basis", "somebody's with one"),
        ('basis = "common practice"', 'basis = "none"', "cap: cap: basis", "unknown or none without a limit"),
        ('basis = "common practice"', 'basis = "maker"', "cap: cap: sources", "limit of the maker"),
        ("years = 10\n", "years = -1\n", "cap: cap: years", "from 0.1"),
        ('name_us = "cap"', 'name_us = "distributor rotor"', "cap: name", "a name of its own (rotor_arm has it)"),
    ],
)  # fmt: skip
def test_a_broken_field_is_named_with_its_file_and_kind(old, new, field, wanted):
    assert old in TRIAL
    with pytest.raises(CatalogueError) as refused:
        read_catalogue(texts(TRIAL.replace(old, new, 1)))
    assert refused.value.field.endswith(field)
    assert wanted in refused.value.wanted
    assert refused.value.field.startswith("trial.toml: ") or field == "cap: name"


def test_a_safety_part_without_a_word_on_its_limit_is_refused():
    broken = TRIAL[: TRIAL.index("[kind.cap.cap]")]
    with pytest.raises(CatalogueError, match=r'trial.toml: cap: cap: wanted a cap, or basis "unknown"'):
        read_catalogue(texts(broken))


def test_a_safety_part_may_say_that_its_limit_is_unknown_but_not_that_there_is_none():
    start = TRIAL[: TRIAL.index("[kind.cap.cap]")]
    unknown = read_catalogue(texts(start + '[kind.cap.cap]\nbasis = "unknown"\nnote = "ask the maker"\n'))
    assert unknown["cap"].cap.note == "limit unknown: look it up. ask the maker"
    with pytest.raises(CatalogueError, match=r"because the kind is a safety part"):
        read_catalogue(texts(start + '[kind.cap.cap]\nbasis = "none"\nnote = "no limit"\n'))


def test_a_kind_without_any_clock_is_refused():
    broken = TRIAL[: TRIAL.index("[kind.rotor_arm.distance]")] + TRIAL[TRIAL.index("[kind.cap]") :]
    with pytest.raises(
        CatalogueError, match=r"trial.toml: rotor_arm: age: wanted a distance clock, an age clock or both"
    ):
        read_catalogue(texts(broken))


def test_text_that_is_no_toml_is_refused_with_the_file_and_the_line():
    with pytest.raises(CatalogueError, match=r"trial.toml: wanted valid TOML.*line 2"):
        read_catalogue(texts("\nthis is not TOML"))


def test_a_kind_written_twice_is_refused():
    with pytest.raises(CatalogueError, match=r"trial.toml: wanted valid TOML"):
        read_catalogue(texts(TRIAL + "\n[kind.cap]\n"))
    twice = FAMILIES.replace('["trial"]', '["trial", "again"]')
    with pytest.raises(
        CatalogueError, match=r"again.toml: rotor_arm: wanted an id that trial.toml does not use"
    ):
        read_catalogue(texts(**{"families.toml": twice, "again.toml": TRIAL}))


@pytest.mark.parametrize(
    "name", ["sources.toml", "figures.toml", "cautions.toml", "access_groups.toml", "families.toml"]
)
def test_a_missing_common_file_is_named(name):
    given = texts()
    del given[name]
    with pytest.raises(CatalogueError, match=f"{name}: wanted a file of the catalogue"):
        read_catalogue(given)


def test_a_missing_family_file_and_an_empty_one_are_named():
    given = texts()
    del given["trial.toml"]
    with pytest.raises(CatalogueError, match=r"families.toml: files: .*trial.toml"):
        read_catalogue(given)
    with pytest.raises(CatalogueError, match=r"trial.toml: kind: wanted a value"):
        read_catalogue(texts(""))
    with pytest.raises(CatalogueError, match=r"trial.toml: kind: wanted at least one table"):
        read_catalogue(texts("kind = {}"))
    with pytest.raises(CatalogueError, match=r"trial.toml: x: wanted a table"):
        read_catalogue(texts("kind.x = 3"))


def test_a_default_provenance_that_is_missing_is_named():
    figures = package_texts("commons")["figures.toml"].replace("[figure.stops_car]", "[figure.stops]")
    with pytest.raises(CatalogueError, match=r"figures.toml: stops_car: wanted a default provenance"):
        read_catalogue(texts(**{"figures.toml": figures}))


def test_an_unknown_caution_is_named_with_its_neighbours():
    families = FAMILIES.replace("high_tension", "hi_tension")
    with pytest.raises(CatalogueError, match=r"families.toml: family\[0\]: cautions: .*high_tension"):
        read_catalogue(texts(**{"families.toml": families}))
