"""Each kind of slip in a scenario is told with its key and its fix."""

import pytest

from optimiser.domain.material import CATEGORIES, PARTS
from optimiser.domain.properties import PROPERTIES
from optimiser.reading.duties import shipped_markets
from optimiser.reading.kinds import READERS

MARKETS = ", ".join(shipped_markets())
BLENDED = ", ".join(each.name for each in PROPERTIES.values() if each.mixing)
KINDS_KEYS = ", ".join(each.KEY for each in READERS)


def first_twenty(*known):
    """What a message says of the names that are known: so many of them are told."""
    more = f" and {len(known) - 20} more" if len(known) > 20 else ""
    return f"the known ones are {', '.join(known[:20])}{more}"


# Text in the scenario, text instead, key, what is wrong, what would fix it.
CHANGED = [
    (
        'title = "Winter bar"\n',
        "",
        "title",
        "is missing",
        'write title = "Massage bar" above the first [table]',
    ),
    (
        '"Winter bar"',
        '"  "',
        "title",
        "is blank",
        'write title = "Massage bar" above the first [table]',
    ),
    (
        'use = "leave-on"\n',
        "",
        "use",
        "is missing",
        'write use = "leave-on" above the first [table]',
    ),
    (
        "leave-on",
        "leave on skin",
        "use",
        "'leave on skin' is not a known use; the nearest known name is leave-on",
        "the known ones are leave-on, rinse-off",
    ),
    (
        'workshop = "demo"\n',
        "",
        "workshop",
        "is missing, and prices and stock come from it",
        'write workshop = "demo" above the first [table], or an aim without cost',
    ),
    (
        '"demo"',
        '"dmo"',
        "workshop",
        "'dmo' is not a workshop of catalogues/workshops",
        "the nearest known name is demo; the workshops are demo",
    ),
    (
        '"EU"',
        '"ZZ"',
        "market",
        "'ZZ' is not a known market; no known name is near it",
        f"the known ones are {MARKETS}; for one that is not, write"
        ' unchecked = ["ZZ"] too, or add its rows to a folder markets of your workshop',
    ),
    (
        '["EU"]',
        '"EU"',
        "market",
        "'EU' is text, not a list",
        'put it in brackets: ["EU"]',
    ),
    (
        '["EU"]',
        "[1]",
        "market[1]",
        "'1' is a number, not text",
        'put it in quotes: "1"',
    ),
    (
        'market = ["EU"]',
        'markets = ["EU"]',
        "markets",
        "is not a known key; the nearest known names are market, parts",
        (
            "the keys here are title, extends, workshop, use, market, "
            "product, on, unchecked, cautious, batch, aim, base, exclude, only, parts, "
            "bands, limits, constituents, pins, windows, choices, "
            "least_if_used, closeness, amounts, stock, envelope, climate, "
            f"guard, emulsifiers, eased, dropped, {KINDS_KEYS}"
        ),
    ),
    (
        "= 40",
        '= "40"',
        "base.cocoa butter",
        "'40' is text, not a number",
        "write 40 without quotes",
    ),
    (
        "= 40",
        '= "40,5"',
        "base.cocoa butter",
        "'40,5' is not a number",
        "write the decimal with a point, as in 40.5",
    ),
    (
        "= 40",
        "= true",
        "base.cocoa butter",
        "'true' is true or false, not a number",
        "write a plain number, as in 2.65",
    ),
    (
        "= 40",
        "= 40,5",
        None,
        (
            "line 7 is not written as TOML (expected newline or end of "
            "document after a statement)"
        ),
        "write the decimal with a point, as in 40.5",
    ),
    (
        "= 40",
        "= 37",
        "base",
        "sums to 97, not to 100",
        "add the 3 percent that are missing",
    ),
    ("= 40", "= 42.5", "base", "sums to 102.5, not to 100", "take 2.5 percent away"),
    (
        "= 40",
        "= -40",
        "base.cocoa butter",
        "'-40' is negative",
        "write a percentage from 0 to 100",
    ),
    (
        "= 40",
        "= 140",
        "base.cocoa butter",
        "'140' is more than 100 percent",
        "write a percentage from 0 to 100",
    ),
    (
        "= 40",
        "= nan",
        "base.cocoa butter",
        "'nan' is not a number that can be used",
        "write a plain number, as in 2.65",
    ),
    (
        "= 40",
        "= inf",
        "base.cocoa butter",
        "'inf' is not a number that can be used",
        "write a plain number, as in 2.65",
    ),
    (
        "= 40",
        "= { percent = 40 }",
        "base.cocoa butter",
        "'{ percent }' is a table, not a number",
        "write a plain number, as in 2.65",
    ),
    (
        "= 40",
        "= [40]",
        "base.cocoa butter",
        "'[...]' is a list, not a number",
        "write a plain number, as in 2.65",
    ),
    (
        '"shea butter"',
        '"sheaa butter"',
        "base.sheaa butter",
        (
            "'sheaa butter' is not a known ingredient; the nearest known "
            "names are shea butter, cacao butter"
        ),
        "correct the name, or add the ingredient to ingredients.csv",
    ),
    (
        '"shea butter" = 20',
        '"cacao butter" = 20',
        "base",
        "'cacao butter' is the same as 'cocoa butter'",
        "write it once, with what you want in all",
    ),
    (
        '"shea butter"',
        '"soft butter"',
        "base.soft butter",
        "'soft butter' is not an ingredient",
        "name an ingredient; this is a group of them",
    ),
    (
        '"shea butter" = 20',
        '"cocoa butter" = 20',
        None,
        "'cocoa butter' in line 8 is written twice",
        "write each name and each [table] once in a file",
    ),
    (
        '"shea butter" = 20',
        "shea butter = 20",
        None,
        (
            "line 8 is not written as TOML (expected '=' after a key in a "
            "key/value pair)"
        ),
        'put a name of several words in quotes, as in "cocoa butter" = 40',
    ),
    (
        '"leave-on"',
        "leave-on",
        None,
        "line 3 is not written as TOML (invalid value)",
        'put text in quotes, as in use = "leave-on"',
    ),
    (
        '"leave-on"',
        "“leave-on”",
        None,
        "line 3 is not written as TOML (invalid value)",
        'write straight quotes, as in "cocoa butter"',
    ),
    (
        "= 40",
        "= 40 %",
        None,
        (
            "line 7 is not written as TOML (expected newline or end of "
            "document after a statement)"
        ),
        "write the number alone, as in 40, or all of it in quotes",
    ),
    (
        '"Winter bar"',
        '"Winter\\bar\\x"',
        None,
        "line 1 is not written as TOML (unescaped '\\' in a string)",
        "write / instead of \\ in a path",
    ),
    (
        '"Winter bar"',
        '"Winter bar',
        None,
        "line 1 is not written as TOML (illegal character '\\n')",
        "close the quote that this line opens",
    ),
]

# Tables of other kinds than they should be, and entries in the wrong place.
KINDS = [
    (
        '[batch]\nproduct = "bar"',
        "batch.product",
        "does not belong here",
        "write it above the first [table]",
    ),
    (
        '[choices]\n"all" = { at_most = "3" }',
        "choices.all.at_most",
        "'3' is text, not a number",
        "write 3 without quotes",
    ),
    (
        '[choices]\n"all" = { at_most = true }',
        "choices.all.at_most",
        "'true' is true or false, not a number",
        "write a whole number, as in 3",
    ),
    (
        '[climate]\nzone = ["II"]',
        "climate.zone",
        "'[...]' is a list, not text",
        "write one text in quotes",
    ),
    (
        "[exclude]\nallergens = 3",
        "exclude.allergens",
        "'3' is a number, not a list",
        'write a list in brackets, as in ["one", "two"]',
    ),
    (
        "[stock]\ntoday = 12:30:00",
        "stock.today",
        "'12:30:00' is a time, not a date",
        "write it without quotes or time, as in 2026-11-25",
    ),
    (
        "[stock]\ntoday = 2026-11-25T12:30:00",
        "stock.today",
        "'2026-11-25 12:30:00' has a time of day",
        "write it without quotes or time, as in 2026-11-25",
    ),
]

# Text after the scenario, key, what is wrong, what would fix it.
ADDED = [
    (
        '[batch]\nsize = "2kg"',
        "batch.size",
        "'2kg' is not a number, a space and a unit",
        'put a space between them: "2 kg"',
    ),
    (
        '[batch]\nsize = "2kgs"',
        "batch.size",
        "'2kgs' is not a number, a space and a unit",
        'write it like "2 kg"',
    ),
    (
        "[emulsifiers]\ntotal = 10",
        "emulsifiers.total",
        "'10' is a number, not a list",
        "write a list in brackets, as in [10, 12, 14]",
    ),
    (
        '[envelope]\nfile = "zz.toml"',
        "envelope.file",
        "'zz.toml' is not there",
        "correct the name; no file there has a name like it",
    ),
    (
        '[batch]\nsize = "2"',
        "batch.size",
        "'2' is not a number, a space and a unit",
        'write the unit too, as in "2 kg"',
    ),
    (
        "[batch]\nsize = 2",
        "batch.size",
        "'2' is a number, not text",
        'write number and unit in quotes, as in "2 kg"',
    ),
    (
        '[batch]\nsize = "2 litres"',
        "batch.size",
        "'2 litres' is not an amount that can be told in kg",
        'write it like "2 kg"',
    ),
    (
        '[batch]\nsize = "2,5 kg"',
        "batch.size",
        "'2,5 kg' is not a number, a space and a unit",
        'write the decimal with a point: "2.5 kg"',
    ),
    (
        '[batch]\nsize = "0 kg"',
        "batch.size",
        "'0 kg' is no amount to make",
        'write it like "2 kg"',
    ),
    (
        '[batch]\nsize = "a lot"',
        "batch.size",
        "'a lot' is not a number, a space and a unit",
        'write it like "2 kg"',
    ),
    (
        '[batch]\nsize = "2 kg**99"',
        "batch.size",
        "'2 kg**99' is not an amount that can be told in kg",
        'write it like "2 kg"',
    ),
    (
        '[batch]\nsizes = "2 kg"',
        "batch.sizes",
        "is not a known key; the nearest known name is size",
        "the keys here are size",
    ),
    (
        '[batch]\nsize = "1e999 kg"',
        "batch.size",
        "'1e999 kg' is not a finite number",
        'write it like "2 kg"',
    ),
    (
        '[bands]\n"hard butter" = { min = 55, max = 40 }',
        "bands.hard butter",
        "has min 55 above max 40",
        "correct one of the two",
    ),
    (
        '[bands]\n"hard butter" = { why = "x" }',
        "bands.hard butter",
        "has neither min nor max",
        "write one of them, or both",
    ),
    (
        '[bands]\n"hard butter" = 40',
        "bands.hard butter",
        "'40' is a number, not a table",
        "write { min = 10, max = 40 }",
    ),
    (
        '[bands]\n"cocoa butter" = { min = 4 }',
        "bands.cocoa butter",
        "'cocoa butter' is an ingredient, not a category",
        "write it below [limits]",
    ),
    (
        '[bands]\n"hard buter" = { min = 4 }',
        "bands.hard buter",
        (
            "'hard buter' is not a known category or part; the nearest known "
            "name is hard butter"
        ),
        first_twenty(*(part for part in PARTS if part != "product"), *CATEGORIES),
    ),
    (
        '[bands]\n"hard butter" = { min = 4, of = "lipid" }',
        "bands.hard butter.of",
        "'lipid' is not a known part; the nearest known name is lipids",
        (
            "name a category, an ingredient, a part of [parts], or one of: "
            "product, butters, fats, fats and waxes, lipids, oil phase, water phase, solids"  # noqa: E501 - a message whole
        ),
    ),
    (
        '[bands]\n"hard butter" = { min = -4 }',
        "bands.hard butter.min",
        "'-4' is negative",
        "write a percentage from 0 to 100",
    ),
    (
        '[bands]\n"hard butter" = { max = 104 }',
        "bands.hard butter.max",
        "'104' is more than 100 percent",
        "write a percentage from 0 to 100",
    ),
    (
        '[bands]\n"hard butter" = { mx = 10 }',
        "bands.hard butter.mx",
        "is not a known key; the nearest known name is max",
        "the keys here are min, max, of, why",
    ),
    (
        '[bands]\nproduct = "bar"',
        "bands.product",
        "'bar' is text, not a table",
        "write product above the first [table]",
    ),
    (
        '[limits]\n"hard butter" = { max = 4 }',
        "limits.hard butter",
        "'hard butter' is a category, not an ingredient",
        "write it below [bands]",
    ),
    (
        '[limits]\n"bees wax" = { max = 7 }',
        "limits.bees wax",
        "'bees wax' is not a known ingredient; the nearest known name is beeswax",
        "correct the name, or add the ingredient to ingredients.csv",
    ),
    (
        '[limits]\n"beeswax" = { max = "7,5" }',
        "limits.beeswax.max",
        "'7,5' is not a number",
        "write the decimal with a point, as in 7.5",
    ),
    (
        '[constituents]\n"phenoxyetanol" = { max = 0.9 }',
        "constituents.phenoxyetanol",
        (
            "'phenoxyetanol' is not a known constituent; the nearest known "
            "name is phenoxyethanol"
        ),
        "the known ones are linalool, phenoxyethanol, ethylhexylglycerin",
    ),
    (
        '[constituents]\n"phenoxyethanol" = { }',
        "constituents.phenoxyethanol",
        "has neither min nor max",
        "write one of them, or both",
    ),
    (
        '[pins]\n"lavender" = 1.0',
        "pins.lavender",
        (
            "'lavender' is not a known ingredient; the nearest known name is "
            "lavender oil"
        ),
        "correct the name, or add the ingredient to ingredients.csv",
    ),
    (
        '[pins]\n"lavender oil" = -1',
        "pins.lavender oil",
        "'-1' is negative",
        "write a percentage from 0 to 100",
    ),
    (
        '[[windows]]\nproperty = "solid fat"\nat = "30 degC"',
        "windows[1]",
        "has neither min nor max",
        "write one of them, or both",
    ),
    (
        '[[windows]]\nproperty = "sold fat"\nat = "30 degC"\nmin = 3',
        "windows[1].property",
        (
            "'sold fat' is not a known property; the nearest known names are "
            "solid fat, solids load"
        ),
        f"the known ones are {BLENDED}",
    ),
    (
        "[[windows]]\nmin = 3",
        "windows[1].property",
        "is missing",
        "write property = ... here",
    ),
    (
        '[[windows]]\nproperty = "melting point"\nmin = 30',
        "windows[1].property",
        "'melting point' is never averaged over a blend, so no window can hold it",
        "use solid fat at a temperature",
    ),
    (
        '[[windows]]\nproperty = "solid fat"\nat = "warm"\nmin = 3',
        "windows[1].at",
        "'warm' is not a known temperature; no known name is near it",
        'write "storage", "transit", "skin", or a temperature like "30 degC"',
    ),
    (
        '[[windows]]\nproperty = "solid fat"\nat = "30"\nmin = 3',
        "windows[1].at",
        "'30' is not a number, a space and a unit",
        'write the unit too, as in "30 degC"',
    ),
    (
        '[[windows]]\nproperty = "solid fat"\nat = 30\nmin = 3',
        "windows[1].at",
        "'30' is a number, not text",
        'write number and unit in quotes, as in "30 degC"',
    ),
    (
        '[[windows]]\nproperty = "solid fat"\nmin = 3',
        "windows[1]",
        "has no temperature, which solid fat needs",
        'write at = "30 degC", "storage", "transit" or "skin"',
    ),
    (
        '[[windows]]\nproperty = "solid fat"\nat = "storage"\nmin = 3',
        "windows[1].at",
        "'storage' needs a climate zone",
        'write [climate] and, below it, zone = "II"',
    ),
    (
        ('[[windows]]\nproperty = "solid fat"\nat = "30 degC"\nover = "oils"\nmin = 3'),
        "windows[1].over",
        "'oils' is not a known part; the nearest known names are oil phase, solids",
        (
            "name a category, an ingredient, a part of [parts], or one of: "
            "product, butters, fats, fats and waxes, lipids, oil phase, water phase, solids"  # noqa: E501 - a message whole
        ),
    ),
    (
        '[[windows]]\nproperty = "solid fat"\nat = "30 degC"\nmin = 300',
        "windows[1].min",
        "'300' is more than 100 percent",
        "write a percentage from 0 to 100",
    ),
    (
        '[windows]\nproperty = "solid fat"',
        "windows",
        "'{ property }' is a table, not a list",
        "write [[windows]] with two brackets on each side",
    ),
    (
        '[climate]\nzone = "IIX"',
        "climate.zone",
        "'IIX' is not a known climate zone; the nearest known name is II",
        "write one of II: subtropical, 25 degC",
    ),
    ("[climate]\n", "climate.zone", "is missing", "write zone = ... here"),
    (
        '[closeness]\nby_ingredient = { why = "x" }',
        "closeness.by_ingredient",
        "has no max",
        "write how many points at most",
    ),
    (
        "[closeness]\nby_ingredient = { min = 1, max = 3 }",
        "closeness.by_ingredient",
        "takes no min and no of",
        "write max alone, with a why if you like",
    ),
    (
        "[closeness]\nby_categry = 3",
        "closeness.by_categry",
        "is not a known key; the nearest known name is by_category",
        "the keys here are by_ingredient, by_kind, by_category",
    ),
    (
        '[closeness]\nby_category = "3"',
        "closeness.by_category",
        "'3' is text, not a number",
        "write 3 without quotes",
    ),
    (
        '[aim]\norder = ["cheap"]',
        "aim.order",
        "'cheap' is not a known aim; no known name is near it",
        "the known ones are cost, change, kind change, category change, count, bought",
    ),
    (
        "[aim]\norder = []",
        "aim.order",
        "names no aim",
        "name at least one, or leave out the line",
    ),
    (
        '[aim]\norder = ["cost","cost"]',
        "aim.order",
        "'cost' is there twice",
        "name each aim once",
    ),
    (
        "[aim]\nslack = { change = 1 }",
        "aim.slack",
        "'change' is not among the aims",
        "add it to the order, or take its slack out",
    ),
    (
        "[aim]\nslack = { cost = -1 }",
        "aim.slack.cost",
        "'-1' is negative",
        "write a number from 0 to 1000000000",
    ),
    (
        "[aim]\nslack = { costs = 1 }",
        "aim.slack",
        "'costs' is not a known aim; the nearest known names are cost, count",
        "the known ones are cost, change, kind change, category change, count, bought",
    ),
    (
        '[exclude]\nallergens = ["tree nutz"]',
        "exclude.allergens",
        "'tree nutz' is not a known allergen; the nearest known name is tree nut",
        "the known ones are tree nut",
    ),
    (
        '[exclude]\nreading = "careful"',
        "exclude.reading",
        "'careful' is not a known reading; no known name is near it",
        "the known ones are listed, cautious",
    ),
    (
        '[exclude]\ningredients = ["jojoba oyl"]',
        "exclude.ingredients[1]",
        (
            "'jojoba oyl' is not a known ingredient; the nearest known name "
            "is jojoba oil"
        ),
        "correct the name, or add the ingredient to ingredients.csv",
    ),
    (
        '[exclude]\ncategories = ["oils"]',
        "exclude.categories",
        "'oils' is not a known category; no known name is near it",
        first_twenty(*CATEGORIES),
    ),
    (
        '[exclude]\nvegan = "yes"',
        "exclude.vegan",
        "'yes' is text, not true or false",
        "write true or false, without quotes",
    ),
    (
        "[only]\ningredients = []",
        "only",
        "lists no ingredients",
        "name what may be chosen, or take [only] out",
    ),
    (
        '[only]\ningredients = ["bee wax"]',
        "only.ingredients[1]",
        "'bee wax' is not a known ingredient; the nearest known name is beeswax",
        "correct the name, or add the ingredient to ingredients.csv",
    ),
    (
        '[parts]\n"lipids" = ["beeswax"]',
        "parts.lipids",
        "'lipids' is the name of something else already",
        "choose another name for the part",
    ),
    (
        '[parts]\n"mine" = []',
        "parts.mine",
        "has nothing in it",
        "list what belongs to it",
    ),
    (
        '[parts]\n"mine" = ["beewax"]',
        "parts.mine[1]",
        "'beewax' is not a known part; the nearest known names are beeswax, wax",
        (
            "name a category, an ingredient, a part of [parts], or one of: "
            "product, butters, fats, fats and waxes, lipids, oil phase, water phase, solids"  # noqa: E501 - a message whole
        ),
    ),
    (
        '[parts]\n"beeswax" = ["wax"]',
        "parts.beeswax",
        "'beeswax' is the name of something else already",
        "choose another name for the part",
    ),
    (
        '[choices]\n"hard butter" = { at_least = 3, at_most = 1 }',
        "choices.hard butter",
        "has at_least 3 above at_most 1",
        "correct one of the two",
    ),
    (
        '[choices]\n"hard butter" = { at_most = 1.5 }',
        "choices.hard butter.at_most",
        "'1.5' is not a whole number",
        "write a whole number, as in 3",
    ),
    (
        '[choices]\n"hard buter" = { at_most = 1 }',
        "choices.hard buter",
        (
            "'hard buter' is not a known category or part; the nearest known "
            "name is hard butter"
        ),
        first_twenty("all", *PARTS, *CATEGORIES),
    ),
    (
        '[choices]\n"all" = { }',
        "choices.all",
        "has neither at_least nor at_most",
        "write one of them, or both",
    ),
    (
        '[choices]\n"all" = { at_most = -1 }',
        "choices.all.at_most",
        "'-1' is negative",
        "write a whole number from 0 to 1000",
    ),
    (
        '[stock]\nonly = "yes"',
        "stock.only",
        "'yes' is text, not true or false",
        "write true or false, without quotes",
    ),
    (
        '[stock]\ntoday = "2026-11-25"',
        "stock.today",
        "'2026-11-25' is text, not a date",
        "write it without quotes or time, as in 2026-11-25",
    ),
    (
        '[envelope]\nfile = "envelop.toml"',
        "envelope.file",
        "'envelop.toml' is not there",
        "correct the name; the nearest file there is envelope.toml",
    ),
    (
        "[guard]\nlauric = 10",
        "guard.lauric",
        "'10' is a number, not a table",
        'write { max = 10, of = "butters" }, or false',
    ),
    (
        "[guard]\nlaurik = false",
        "guard.laurik",
        "is not a known key; the nearest known name is lauric",
        "the keys here are lauric, wax, second_opinion, margin",
    ),
    (
        "[emulsifiers]\nwithin = 0.3",
        "emulsifiers",
        "names no total",
        "list percents of the lipids, as in total = [10, 12, 14]",
    ),
    (
        "[emulsifiers]\ntotal = [0]",
        "emulsifiers.total",
        "'0' is no total",
        "write percents of the lipids, above 0 and up to 100",
    ),
    (
        "[emulsifiers]\ntotal = [10]\nwithin = 0",
        "emulsifiers.within",
        "'0' is not above zero",
        "write how far apart the two may be, as in 0.3",
    ),
]


def message(key, wrong, fix):
    place = "bar.toml" if key is None else f"bar.toml, key {key}"
    return f"{place}: {wrong}.\n  To fix: {fix}."


@pytest.mark.parametrize(("old", "new", "key", "wrong", "fix"), CHANGED)
def test_a_slip_in_the_head_or_the_base_is_the_only_problem_told(
    desk, old, new, key, wrong, fix
):
    assert desk.said_instead(old, new) == message(key, wrong, fix)


@pytest.mark.parametrize(("text", "key", "wrong", "fix"), ADDED + KINDS)
def test_a_slip_in_a_table_is_the_only_problem_told(desk, text, key, wrong, fix):
    desk.write("envelope.toml", "")
    assert desk.said_with(text) == message(key, wrong, fix)


def test_several_problems_of_one_entry_are_all_told(desk):
    text = '[[ratios]]\nfirst = ["beeswax"]\nsecond = []\nmin = -1'
    assert desk.said_with(text) == (
        "bar.toml, key ratios[1].min: '-1' is negative.\n"
        "  To fix: write 0, or a number from 0.0001 to 10000.\n"
        "bar.toml, key ratios[1].second: has nothing in it.\n"
        "  To fix: list what is counted."
    )


def test_a_number_too_large_for_any_use_is_told(desk):
    assert desk.said_instead("= 40", "= 1" + "0" * 400) == message(
        "base.cocoa butter",
        "'a number of many digits' is too large a number",
        "write a plain number, as in 2.65",
    )


def test_a_number_too_long_to_read_is_told(desk):
    assert desk.said_instead("= 40", "= " + "9" * 5000) == message(
        None,
        "holds a value that cannot be read (Exceeds the limit (4300 digits) for "
        "integer string conversion: value has 5000 digits)",
        "correct the number or date that is out of range",
    )


def test_lists_in_lists_without_end_are_told(desk):
    assert desk.said("x = " + "[" * 5000) == message(
        None,
        "has too many levels in each other",
        "write the tables and lists less deep",
    )


def test_problems_of_shape_names_numbers_and_catalogue_are_told_at_once(desk):
    desk.table("workshops/demo/prices.csv", "9,,,", "-9,,,")
    text = """
        [limits]
        "bees wax" = { max = 7 }
        "jojoba oil" = { max = "4,5" }

        [bands]
        "hard butter" = { min = 55, max = 40 }
    """
    told = desk.said_with(text)
    assert [line for line in told.splitlines() if not line.startswith(" ")] == [
        "bar.toml, key limits.jojoba oil.max: '4,5' is not a number.",
        "catalogues/workshops/demo/prices.csv, row 5, column price: '-9' is negative.",
        "bar.toml, key bands.hard butter: has min 55 above max 40.",
        "bar.toml, key limits.bees wax: 'bees wax' is not a known ingredient; "
        "the nearest known name is beeswax.",
    ]


def test_a_name_is_not_called_unknown_when_its_table_could_not_be_read(desk):
    desk.write("catalogues/materials/ingredients.csv", "")
    told = desk.said_with(
        '[limits]\n"cocoa butter" = { max = 4 }\n[pins]\n"shea butter" = 1\n'
        '[exclude]\nallergens = ["tree nut"]\n[climate]\nzone = "II"'
    )
    assert told == (
        "catalogues/materials/ingredients.csv: is empty: it has no header row.\n"
        "  To fix: write the header row key,name,inci,inci_evidence,category,kind,"
        "dissolves,family,aliases,vegan,palm,stage,cautions,made_in,source,note."
    )


def test_an_empty_scenario_lacks_what_is_required(desk):
    assert desk.said("").splitlines()[::2] == [
        "bar.toml, key workshop: is missing, and prices and stock come from it.",
        "bar.toml, key title: is missing.",
        "bar.toml, key use: is missing.",
    ]


def test_a_base_in_fractions_is_recognised(desk):
    head = 'title = "a"\nuse = "leave-on"\nworkshop = "demo"\n'
    assert desk.said(head + '[base]\n"cocoa butter" = 0.6\n"beeswax" = 0.4') == message(
        "base",
        "sums to 1, not to 100",
        "write percent of the finished product, as in 40 for 0.4",
    )


@pytest.mark.parametrize(
    ("table", "text"),
    [
        ("properties.csv", '[[windows]]\nproperty = "gloss"\nmin = 3'),
        ("constituents.csv", '[constituents]\n"menthol" = { max = 1 }'),
        ("allergens.csv", '[exclude]\nallergens = ["soy"]'),
    ],
)
def test_a_name_is_not_called_unknown_while_its_table_has_problems(desk, table, text):
    desk.write(f"catalogues/materials/{table}", "x")
    told = desk.said_with(text)
    assert told.count("is not a known column") == 1
    assert "bar.toml" not in told


def test_a_temperature_is_not_called_unknown_while_the_climate_has_problems(desk):
    desk.table("markets/climate.csv", "transit,transit", "transit,")
    told = desk.said_with(
        '[climate]\nzone = "IX"\n'
        '[[windows]]\nproperty = "density"\nat = "warm"\nmin = 9'
    )
    assert told == (
        "catalogues/markets/climate.csv, row 5, column kind: is blank.\n"
        "  To fix: write the kind of this row."
    )


@pytest.mark.parametrize(
    ("table", "names"),
    [
        # an ingredient, then two that are nothing; a category, then one
        ("bands", ("cocoa butter", "gloop", "wibble")),
        ("limits", ("wax", "gloop", "wibble")),
        ("constituents", ("gloop", "wibble")),
        ("pins", ("gloop", "wibble")),
    ],
)
def test_a_slip_in_one_entry_hides_none_in_those_after_it(desk, table, names):
    value = "2" if table == "pins" else "{ max = 2 }"
    told = desk.said_with(
        "\n".join([f"[{table}]", *(f'"{name}" = {value}' for name in names)])
    )
    for name in names:
        assert f"bar.toml, key {table}.{name}: '{name}' is " in told
