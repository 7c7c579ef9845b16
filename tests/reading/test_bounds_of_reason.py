"""Figures and limits beyond all reason are problems, not crashes or answers."""

from pathlib import Path

import pytest

from optimiser.errors import InputError
from optimiser.reading import read_catalogue, read_scenario
from optimiser.reading.grids import is_grid, read_grid
from optimiser.reading.layers import read_overlays

HUGE = "1" + "0" * 400
HEX = "0x" + "f" * 5000
OVER = "windows[1].at"

# Text after the scenario, key, what is wrong, what would fix it.
SLIPS = [
    (
        '[constituents]\n"linalool" = { max = 1, of = "wax" }',
        "constituents.linalool.of",
        "'wax' takes no of",
        "take of out; it is percent of the finished product",
    ),
    (
        '[eased]\n"window/density/product/max" = -1e7',
        "eased.window/density/product/max",
        "'-10000000' is less than -1000000",
        "write a number from -1000000 to 1000000",
    ),
    (
        '[dropped]\nrules = ["band/wax/max", "band/wax/max"]',
        "dropped.rules",
        "'band/wax/max' is listed twice",
        "list each rule once",
    ),
    (
        '[eased]\n"band/wax/max" = 3\n[dropped]\nrules = ["band/wax/max"]',
        "dropped.rules",
        "'band/wax/max' is eased as well",
        "give the rule a limit or drop it",
    ),
    (
        '[[ratios]]\nfirst = ["wax"]\nsecond = ["soft butter"]\nmax = 1e5',
        "ratios[1].max",
        "'100000' is more than 10000",
        "write 0, or a number from 0.0001 to 10000",
    ),
    (
        '[[ratios]]\nfirst = ["wax"]\nsecond = ["soft butter"]\nmin = 1e-5',
        "ratios[1].min",
        "'1e-05' is less than 0.0001",
        "write 0, or a number from 0.0001 to 10000",
    ),
    (
        '[[ratios]]\nfirst = ["wax"]\nsecond = ["white wax"]\nmax = 1',
        "ratios[1]",
        "is about the same thing on both sides",
        "name on one side what the other does not hold",
    ),
    (
        f'[choices]\n"all" = {{ at_most = {HUGE} }}',
        "choices.all.at_most",
        "'a number of many digits' is more than 1000",
        "write a whole number from 0 to 1000",
    ),
    (
        f'[choices]\n"all" = {{ at_least = {HEX} }}',
        "choices.all.at_least",
        "'a number of many digits' is more than 1000",
        "write a whole number from 0 to 1000",
    ),
    (
        f'[pins]\n"beeswax" = {HEX}',
        "pins.beeswax",
        "'a number of many digits' is too large a number",
        "write a plain number, as in 2.65",
    ),
    (
        "[aim]\nslack = { cost = 1e12 }",
        "aim.slack.cost",
        "'1000000000000' is more than 1000000000",
        "write a number from 0 to 1000000000",
    ),
    (
        "[emulsifiers]\ntotal = [10]\nwithin = 1e300",
        "emulsifiers.within",
        "'1e+300' is more than 20",
        "write a number from 0 to 20",
    ),
    (
        '[batch]\nsize = "0.5 g"',
        "batch.size",
        "'0.5 g' is less than 1 g",
        "write from 1 g to 1000000 kg",
    ),
    (
        '[batch]\nsize = "1e9 kg"',
        "batch.size",
        "'1e9 kg' is more than 1000000 kg",
        "write from 1 g to 1000000 kg",
    ),
    (
        '[batch]\nsize = "2 KG"',
        "batch.size",
        "'2 KG' has its unit in other letters than kg",
        "write kg",
    ),
    (
        '[batch]\nsize = "200 G"',
        "batch.size",
        "'200 G' has its unit in other letters than g",
        "write g",
    ),
    (
        '[[windows]]\nproperty = "firmness"\nat = "20 degC"\nmin = -3',
        "windows[1].min",
        "'-3' is negative",
        "write a number from 0 to 1000000",
    ),
    (
        '[[windows]]\nproperty = "density"\nmax = 1e7',
        "windows[1].max",
        "'10000000' is more than 1000000",
        "write a number from 0 to 1000000",
    ),
    (
        '[[windows]]\nproperty = "density"\nat = "301 degC"\nmax = 900',
        OVER,
        "'301 degC' is not between -50 and 300 degC",
        'write a temperature like "30 degC"',
    ),
    (
        '[[windows]]\nproperty = "density"\nat = "-51 degC"\nmax = 900',
        OVER,
        "'-51 degC' is not between -50 and 300 degC",
        'write a temperature like "30 degC"',
    ),
    (
        '[[windows]]\nproperty = "iodine value"\nat = "30 degC"\nmax = 90',
        OVER,
        "'30 degC' is given, but iodine value has no temperature",
        "take the line at = ... out of this window",
    ),
    (
        '[parts]\n"all" = ["wax"]',
        "parts.all",
        "'all' is a word that stands for every ingredient",
        "choose another name for the part",
    ),
    (
        '[parts]\n"Default" = ["wax"]',
        "parts.Default",
        "'Default' is a word that stands for every ingredient",
        "choose another name for the part",
    ),
    (
        '[envelope]\nfile = "catalogues"',
        "envelope.file",
        "'catalogues' is a folder, not a file",
        "name a file in it",
    ),
]

# Table, text there, text instead, place, what is wrong, what would fix it.
ROWS = [
    (
        "materials/properties.csv",
        "beeswax,wax firmness,,5,4,6",
        "beeswax,wax firmness,,5,4,1e7",
        "row 6, column high",
        "'1e7' is more than 1000000",
        "write a number of at most 1000000",
    ),
    (
        "materials/properties.csv",
        "cocoa_butter,melting point,,,31,35",
        "cocoa_butter,melting point,,33,-1e7,35",
        "row 5, column low",
        "'-1e7' is less than -1000000",
        "write a number of at least -1000000",
    ),
    (
        "materials/properties.csv",
        "20 degC",
        "3000 degC",
        "row 4, column at",
        "'3000 degC' is not between -50 and 300 degC",
        "write it like 30 degC",
    ),
    (
        "materials/properties.csv",
        "beeswax,wax firmness",
        "beeswax,firmness",
        "row 6, column property",
        "'firmness' is computed",
        "write wax firmness for a wax (what 1 % adds) or solid fat for a fat",
    ),
    (
        "materials/properties.csv",
        "beeswax,wax firmness",
        "beeswax,Solids_load",
        "row 6, column property",
        "'Solids_load' is computed",
        "write density for each solid and for what it lies in",
    ),
    (
        "materials/properties.csv",
        "46,,,%,NMR,other,review,paper,\n",
        "46,,,%,NMR,other,review,paper,\n"
        "cocoa_butter,solid fat,35 degC,47,46.5,48,%,NMR,other,review,paper,\n",
        "row 4, column value",
        "'47' is more than at 30 degC (row 3: 46)",
        "correct one of the two; fat melts as it gets warmer",
    ),
    (
        "workshops/demo/prices.csv",
        "5,kg,90,10",
        "5,kg,2e7,10",
        "row 2, column price",
        "'2e7' is more than 10000000",
        "write a number of at most 10000000",
    ),
    (
        "workshops/demo/prices.csv",
        "5,kg,90,10",
        "5,kg,90,2e7",
        "row 2, column freight",
        "'2e7' is more than 10000000",
        "write a number of at most 10000000",
    ),
    (
        "workshops/demo/prices.csv",
        "5,kg,90",
        "2e5,kg,90",
        "row 2, column pack",
        "'2e5' is more than 100000 kg",
        "write how much one pack holds, and in which unit",
    ),
    (
        "workshops/demo/prices.csv",
        "500,g,12",
        "0.0005,g,12",
        "row 3, column pack",
        "'0.0005' is less than 1 mg",
        "write how much one pack holds, and in which unit",
    ),
    (
        "workshops/demo/prices.csv",
        "5,kg,90",
        "5,Kg,90",
        "row 2, column unit",
        "'Kg' has its unit in other letters than kg",
        "write kg",
    ),
    (
        "workshops/demo/stock.csv",
        "250,g",
        "250,G",
        "row 3, column unit",
        "'G' has its unit in other letters than g",
        "write g",
    ),
    (
        "workshops/demo/stock.csv",
        "1.5,kg",
        "2e6,kg",
        "row 2, column amount",
        "'2e6' is more than 1000000 kg",
        "correct the amount or its unit",
    ),
    (
        "workshops/demo/stock.csv",
        "beeswax,A2",
        "cacao butter,A1",
        "row 3, column lot",
        "'A1' is in row 2 already for cocoa_butter",
        "give each lot one row, or another name",
    ),
    (
        "markets/substances.csv",
        "0.7464",
        "0",
        "row 3, column factor",
        "'0' is zero",
        "write what one part of it counts as, above 0",
    ),
    (
        "markets/climate.csv",
        "50,70",
        "50,700",
        "row 5, column high_degC",
        "'700' is more than 300",
        "write a number of at most 300",
    ),
]


@pytest.mark.parametrize(("text", "key", "wrong", "fix"), SLIPS)
def test_what_no_bar_can_have_is_the_only_problem_told(desk, text, key, wrong, fix):
    said = desk.said_with(text)
    assert said == f"bar.toml, key {key}: {wrong}.\n  To fix: {fix}."


@pytest.mark.parametrize(("name", "old", "new", "place", "wrong", "fix"), ROWS)
def test_what_no_table_can_hold_is_the_only_problem_told(
    desk, name, old, new, place, wrong, fix
):
    desk.table(name, old, new)
    said = desk.catalogue_said()
    assert said == f"catalogues/{name}, {place}: {wrong}.\n  To fix: {fix}."


def test_limits_at_the_edge_are_taken(desk):
    scenario = desk.scenario_with(
        '[batch]\nsize = "1 g"\n'
        '[[ratios]]\nfirst = ["wax"]\nsecond = ["soft butter"]\nmin = 0\nmax = 1e4\n'
        '[choices]\n"all" = { at_least = 0, at_most = 1000 }\n'
        '[[windows]]\nproperty = "density"\nat = "300 degC"\nmin = 0\n'
        '[eased]\n"band/wax/max" = 100\n"ratio/x/max" = 101'
    )
    assert scenario.batch_kg == pytest.approx(0.001)


def test_a_property_of_the_catalogue_without_temperatures_takes_no_at(desk):
    row = "cocoa_butter,gloss,,3,,,GU,,,measured,book,"
    desk.add("materials/properties.csv", row)
    window = '[[windows]]\nproperty = "gloss"\nmin = -3\n'
    assert desk.scenario_with(window).windows[0].low == -3
    assert desk.said_with(f'{window}at = "20 degC"').startswith(
        "bar.toml, key windows[1].at: '20 degC' is given, but gloss has no temperature."
    )


def test_solid_fat_may_rise_within_its_spread_and_between_variants(desk):
    rows = (
        "cocoa_butter,solid fat,35 degC,46,44,48,%,,,measured,book,",
        "cocoa_butter,solid fat,36 degC,99,,,%,,third,measured,book,",
    )
    desk.add("materials/properties.csv", "\n".join(rows))
    assert desk.catalogue().figures["solid fat"]["cocoa_butter"][36.0].value == 99


@pytest.mark.parametrize(
    ("target", "wrong", "fix"),
    [
        (".", "is a folder, not a file", "name a file in it"),
        ("/dev/zero", "is a device, not a file", "name a file"),
        (
            "round.toml",
            "cannot be read (too many levels of symbolic links)",
            "check the name of the file",
        ),
    ],
)
def test_what_is_extended_is_told_apart_from_what_is_not_there(
    desk, target, wrong, fix
):
    (desk.folder / "round.toml").symlink_to("round.toml")
    assert desk.said(f'extends = "{target}"') == (
        f"bar.toml, key extends: '{target}' {wrong}.\n  To fix: {fix}."
    )


def test_a_pipe_is_not_extended(desk):
    import os  # noqa: PLC0415

    os.mkfifo(desk.folder / "pipe")
    assert desk.said('extends = "pipe"') == (
        "bar.toml, key extends: 'pipe' is a pipe, not a file.\n"
        "  To fix: write it to a file, and name that."
    )


def test_a_scenario_that_links_to_itself_is_told(desk):
    path = desk.folder / "round.toml"
    path.symlink_to("round.toml")
    with pytest.raises(InputError) as caught:
        read_scenario(path)
    assert str(caught.value) == (
        f"{path}: cannot be read (too many levels of symbolic links).\n"
        "  To fix: check the name of the file."
    )


@pytest.mark.parametrize(
    ("text", "found", "line"),
    [
        ('[limits]\n"beeswax" = { max = 7 }\n"beeswax" = {\n}', None, None),
        ('[pins]\n"bees wax" = 1\n"bees wax" = 2', "bees wax", 14),
        ("[pins]\nbeeswax = 1\nbeeswax = 2", "beeswax", 14),
        ("[pins]\nbeeswax = 1\n[pins]\njojoba = 2", "[pins]", 14),
        ("[limits]\nbeeswax = { max = 7, max = 8 }", "max", 13),
        ('[parts]\n"a b" = ["wax"]\n"a b" = [\n"wax",\n]', "a b", 14),
    ],
)
def test_what_is_written_twice_is_named(desk, text, found, line):
    said = desk.said_with(text)
    if found is None:  # another slip of the same line is told first
        assert "line 14 is not written as TOML" in said
        return
    assert said == (
        f"bar.toml: '{found}' in line {line} is written twice.\n"
        "  To fix: write each name and each [table] once in a file."
    )


def test_eased_rules_are_inherited_one_by_one(desk):
    desk.write(
        "first.toml",
        """
title = "First"
workshop = "demo"
use = "leave-on"
[eased]
"band/wax/max" = 3
"band/wax/min" = 2
""",
    )
    scenario = desk.scenario(
        'extends = "first.toml"\n[eased]\n"band/wax/max" = 5\n"band/wax/min" = false'
    )
    limit, origin = scenario.eased["band/wax/max"]
    assert list(scenario.eased) == ["band/wax/max"]
    assert (limit, origin.field) == (5, "eased.band/wax/max")


@pytest.mark.parametrize(
    "read",
    [
        read_scenario,
        read_grid,
        lambda path: read_overlays([path]),
        lambda path: read_catalogue(path, None),
    ],
    ids=["scenario", "grid", "themes", "catalogue"],
)
def test_a_name_too_long_for_a_file_is_told(read):
    with pytest.raises(InputError):
        read(Path("a" * 400))
    assert not is_grid(Path("a" * 400))


@pytest.mark.parametrize(
    ("key", "value", "wrong"),
    [
        ("title", HEX, "'a number of many digits' is no text"),
        ("scenarios", "[1]", "'1' is no file"),
        ("scenarios", '["."]', "'.' is a folder, not a file"),
    ],
)
def test_a_grid_of_the_wrong_kind_of_value_is_told(desk, key, value, wrong):
    path = desk.write("grid.toml", f"{key} = {value}")
    with pytest.raises(InputError) as caught:
        read_grid(path)
    assert f"key {key}: {wrong}." in str(caught.value)
