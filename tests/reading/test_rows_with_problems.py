"""Each kind of slip in a catalogue's table is told with its place and its fix."""

import pytest

from optimiser.domain.material import CATEGORIES
from optimiser.reading.duties import shipped_markets

# Table, text there, text instead, place, what is wrong, what would fix it.
SLIPS = [
    (
        "materials/properties.csv",
        "0.86,,,g/ml",
        '"0,86",,,g/ml',
        "row 7, column value",
        "'0,86' is not a number",
        "write the decimal with a point, as in 0.86",
    ),
    (
        "workshops/demo/prices.csv",
        "500,g",
        '"1,500",g',
        "row 3, column pack",
        "'1,500' is not a number",
        (
            "write the decimal with a point, as in 1.500, or thousands "
            "without a comma, as in 1500"
        ),
    ),
    (
        "materials/properties.csv",
        "0.86",
        "nan",
        "row 7, column value",
        "'nan' is not a number",
        "leave it blank when the value is not known",
    ),
    (
        "materials/properties.csv",
        "0.86",
        "inf",
        "row 7, column value",
        "'inf' is not a number that can be used",
        "write a plain number, as in 2.65",
    ),
    (
        "materials/properties.csv",
        "0.86",
        "0.86-0.9",
        "row 7, column value",
        "'0.86-0.9' is not a number",
        "write one number; the ends of a range have places of their own",
    ),
    (
        "materials/properties.csv",
        "0.86",
        "0.86 g/ml",
        "row 7, column value",
        "'0.86 g/ml' is not a number",
        "write the number alone, as in 0.86",
    ),
    (
        "materials/properties.csv",
        "0.86",
        "n/a",
        "row 7, column value",
        "'n/a' is not a number",
        "leave it blank when the value is not known",
    ),
    (
        "materials/properties.csv",
        "jojoba_oil",
        "jojoba_oyl",
        "row 7, column ingredient",
        (
            "'jojoba_oyl' is not a known ingredient; the nearest known name "
            "is jojoba_oil"
        ),
        "correct the name, or add the ingredient to ingredients.csv",
    ),
    (
        "materials/properties.csv",
        "melting point",
        "meltng point",
        "row 5, column property",
        (
            "'meltng point' is not a known property; the nearest known name "
            "is melting point"
        ),
        "correct the name, or choose one that is less like it",
    ),
    (
        "materials/properties.csv",
        "solid fat,30 degC,46",
        "solid fat,,46",
        "row 3, column at",
        "is blank, but solid fat needs a temperature",
        "write 30 degC",
    ),
    (
        "materials/properties.csv",
        "25 degC",
        "25",
        "row 7, column at",
        "'25' is not a number, a space and a unit",
        'write the unit too, as in "25 degC"',
    ),
    (
        "materials/properties.csv",
        "25 degC",
        "25degC",
        "row 7, column at",
        "'25degC' is not a number, a space and a unit",
        'put a space between them: "25 degC"',
    ),
    (
        "materials/properties.csv",
        "25 degC",
        "25 kg",
        "row 7, column at",
        "'25 kg' is not a temperature that can be told in degC",
        'write it like "30 degC"',
    ),
    (
        "materials/properties.csv",
        "g/ml",
        "kg",
        "row 7, column unit",
        "'kg' is not a unit of density",
        "give the figure in kg/m^3",
    ),
    (
        "materials/properties.csv",
        "46,,,%",
        "46,,,g",
        "row 3, column unit",
        "'g' is not the unit of solid fat",
        "give the figure in %",
    ),
    (
        "materials/properties.csv",
        "g/ml",
        "kg/m^3",
        "row 7, column value",
        "'0.86' makes a density of 0.86 kg/m^3",
        "write it in kg/m^3, as in 910, or with its unit, as in g/ml",
    ),
    (
        "materials/properties.csv",
        "40,35,45",
        "40,41,45",
        "row 2, column low",
        "'41' is more than value",
        "correct one of the two",
    ),
    (
        "materials/properties.csv",
        "40,35,45",
        "40,35,39",
        "row 2, column high",
        "'39' is less than value",
        "correct one of the two",
    ),
    (
        "materials/properties.csv",
        ",,31,35,",
        ",,36,35,",
        "row 5, column low",
        "'36' is more than high",
        "swap the two",
    ),
    (
        "materials/properties.csv",
        ",,31,35,",
        ",,31,,",
        "row 5, column value",
        "is blank",
        "write the value, or both low and high",
    ),
    (
        "materials/properties.csv",
        "46,,,%",
        "146,,,%",
        "row 3, column value",
        "'146' is more than 100",
        "write a number of at most 100",
    ),
    (
        "materials/properties.csv",
        "5,4,6",
        "-5,,6",
        "row 6, column value",
        "'-5' is negative",
        "write a number of at least 0",
    ),
    (
        "materials/properties.csv",
        "estimated",
        "guessed",
        "row 6, column evidence",
        "'guessed' is not one of the words allowed here",
        (
            "write one of: defined, measured, review, compilation, retrieved,"
            " supplier, mixed, estimated, memory, memory_low, assumed"
        ),
    ),
    (
        "materials/properties.csv",
        "estimated",
        "invented",
        "row 6, column evidence",
        "'invented' is not one of the words allowed here",
        (
            "write one of: defined, measured, review, compilation, retrieved,"
            " supplier, mixed, estimated, memory, memory_low, assumed"
        ),
    ),
    (
        "materials/properties.csv",
        "estimated,paper",
        "estimated,",
        "row 6, column source",
        "is blank",
        "name a key of sources.csv",
    ),
    (
        "materials/properties.csv",
        "estimated,paper",
        "estimated,papers",
        "row 6, column source",
        "'papers' is not a known source; the nearest known name is paper",
        "correct the key, or add the source to sources.csv",
    ),
    (
        "materials/ingredients.csv",
        "white wax,no,no,melt,,book",
        "white wax,no,no,melt,,bok",
        "row 4, column source",
        "'bok' is not a known source; the nearest known name is book",
        "correct the key, or add the source to sources.csv",
    ),
    (
        "materials/ingredients.csv",
        "shea_butter,shea butter",
        "beeswax,shea butter",
        "row 4, column key",
        "'beeswax' is in row 3 already",
        "give each ingredient one row and a key of its own",
    ),
    (
        "materials/ingredients.csv",
        "white wax",
        "shea butter",
        "row 4, column aliases",
        (
            "'shea butter' is a name of shea butter already "
            "(catalogues/materials/ingredients.csv, row 3)"
        ),
        "keep it for one of the two",
    ),
    (
        "materials/ingredients.csv",
        "shea_butter,shea butter",
        "Shea Butter,shea butter",
        "row 3, column key",
        "'Shea Butter' is not a key of small letters, digits and underscores",
        "write it like cocoa_butter",
    ),
    (
        "materials/ingredients.csv",
        "other,,yes",
        "other,,perhaps",
        "row 3, column vegan",
        "'perhaps' is not one of the words allowed here",
        "write one of: yes, no, ask",
    ),
    (
        "materials/ingredients.csv",
        "soft butter",
        "soft buter",
        "row 3, column category",
        "'soft buter' is not one of the words allowed here",
        f"write soft butter, or another of: {', '.join(CATEGORIES)}",
    ),
    (
        "materials/ingredients.csv",
        "shea_butter,shea butter",
        "shea_butter,",
        "row 3, column name",
        "is blank",
        "write the name of this row",
    ),
    (
        "materials/ingredients.csv",
        "slips;food-look",
        "slips;dusty",
        "row 2, column cautions",
        "'slips;dusty' is not a known caution; the nearest known name is dust",
        (
            "write some of: dust; slips; sun; children; eyes; heat; "
            "food-look; sensitiser; broken-skin"
        ),
    ),
    (
        "materials/constituents.csv",
        ",90,",
        ",-90,",
        "row 4, column value",
        "'-90' is negative",
        "write a number of at least 0",
    ),
    (
        "materials/constituents.csv",
        ",90,",
        ",190,",
        "row 4, column value",
        "'190' is more than 100",
        "write a number of at most 100",
    ),
    (
        "materials/constituents.csv",
        "90,,%",
        "90,,g",
        "row 4, column unit",
        "'g' is not the unit of a constituent",
        "give the figure in %",
    ),
    (
        "materials/constituents.csv",
        ",90,",
        ",,",
        "row 4, column value",
        "is blank, and so is high",
        "write one of the two",
    ),
    (
        "materials/limits.csv",
        "0.5,1",
        ",",
        "row 2, column max_percent",
        "and min_percent are both blank",
        "write one of them",
    ),
    (
        "materials/limits.csv",
        "0.5,1",
        "5,1",
        "row 2, column min_percent",
        "'5' is more than max_percent",
        "swap the two",
    ),
    (
        "materials/limits.csv",
        "lipids",
        "oils",
        "row 3, column of",
        "'oils' is not one of the words allowed here",
        (
            "write oil phase, or another of: product, butters, fats, fats and waxes, lipids, "  # noqa: E501 - a message whole
            "oil phase, water phase, solids"
        ),
    ),
    (
        "materials/allergens.csv",
        "no,no,yes,,no",
        "no,no,maybe,,no",
        "row 2, column US",
        "'maybe' is not one of the words allowed here",
        "write one of: yes, no",
    ),
    (
        "materials/allergens.csv",
        "cocoa_butter",
        "shea_butter",
        "row 3, column allergen",
        "'tree nut' is in row 2 already for shea_butter",
        "give each ingredient and allergen one row",
    ),
    (
        "materials/sources.csv",
        "paper,",
        "book,",
        "row 3, column key",
        "'book' is in row 2 already",
        "give each source one row",
    ),
    (
        "materials/sources.csv",
        "paper,A paper on waxes",
        "paper,",
        "row 3, column reference",
        "is blank",
        "write the reference of this row",
    ),
    (
        "markets/restricted.csv",
        "GB",
        "Narnia",
        "row 2, column market",
        "'Narnia' is not the code of a market",
        f"write any, or a code such as {', '.join(shipped_markets())}",
    ),
    (
        "markets/restricted.csv",
        "linalool",
        "linalol",
        "row 2, column limit",
        "'linalol' has no substance that counts toward it",
        "add a row to substances.csv, or correct the name",
    ),
    (
        "markets/restricted.csv",
        "rinse-off",
        "rinse",
        "row 2, column use",
        "'rinse' is not one of the words allowed here",
        "write rinse-off, or another of: leave-on, rinse-off, any",
    ),
    (
        "markets/restricted.csv",
        ",5,",
        ",100.1,",
        "row 2, column max_percent",
        "'100.1' is more than 100",
        "write a number of at most 100",
    ),
    (
        "markets/restricted.csv",
        ",5,",
        ",,",
        "row 2, column max_percent",
        "is blank",
        "write the max_percent of this row",
    ),
    (
        "markets/substances.csv",
        "0.7464",
        "x",
        "row 3, column factor",
        "'x' is not a number",
        "write a plain number, as in 2.65",
    ),
    (
        "markets/substances.csv",
        "potassium sorbate",
        "sorbic acid",
        "row 3, column substance",
        "'sorbic acid' is there twice for sorbic acid",
        "give each limit and substance one row",
    ),
    (
        "markets/substances.csv",
        "sorbic acid,potassium",
        "sorbik acid,potassium",
        "row 3, column limit",
        "'sorbik acid' is not a known limit; the nearest known name is sorbic acid",
        "correct the name, or add the limit to restricted.csv",
    ),
    (
        "markets/shared_limits.csv",
        "lime",
        "lemon",
        "row 3, column substance",
        "'lemon oil' is there twice for phototoxic oils",
        "keep one row of it",
    ),
    (
        "markets/shared_limits.csv",
        "0.7",
        "170",
        "row 3, column max_percent",
        "'170' is more than 100",
        "write a number of at most 100",
    ),
    (
        "markets/scent_allergens.csv",
        "neral,0.001",
        "neral,0.002",
        "row 4, column leave_on_percent",
        "'0.002' differs from an earlier row",
        "give every row of Citral the same two percentages",
    ),
    (
        "markets/climate.csv",
        "32,35",
        "36,35",
        "row 3, column low_degC",
        "'36' is more than high_degC",
        "swap the two",
    ),
    (
        "markets/climate.csv",
        "transit,transit",
        "skin,transit",
        "row 5, column zone",
        "'skin' is there twice",
        "give each zone one row",
    ),
    (
        "workshops/demo/prices.csv",
        "43",
        "-43",
        "row 4, column price",
        "'-43' is negative",
        "write a number of at least 0",
    ),
    (
        "workshops/demo/prices.csv",
        "43,0,EUR",
        "43,0,USD",
        "row 4, column currency",
        "'USD' is a second currency beside EUR (catalogues/workshops/demo/scale.toml)",
        "convert the price to EUR",
    ),
    (
        "workshops/demo/prices.csv",
        "43,0,EUR",
        "43,0,euro",
        "row 4, column currency",
        "'euro' is not a code of three capital letters",
        "write its code, as in EUR",
    ),
    (
        "workshops/demo/prices.csv",
        "12,,EUR,2026-11-02",
        "12,,EUR,02.11.2026",
        "row 3, column date",
        "'02.11.2026' is not a date",
        "write 2026-11-02 if the day stands first, 2026-02-11 if the month does",
    ),
    (
        "workshops/demo/prices.csv",
        "12,,EUR,2026-11-02",
        "12,,EUR,2026/11/25",
        "row 3, column date",
        "'2026/11/25' is not a date",
        "write the date as 2026-11-25",
    ),
    (
        "workshops/demo/prices.csv",
        "12,,EUR,2026-11-02",
        "12,,EUR,2026-13-02",
        "row 3, column date",
        "'2026-13-02' is not a date",
        "write year-month-day, as in 2026-11-25",
    ),
    (
        "workshops/demo/prices.csv",
        "1,lb",
        "0,lb",
        "row 5, column pack",
        "'0' is an empty pack",
        "write how much one pack holds",
    ),
    (
        "workshops/demo/prices.csv",
        "1,lb",
        "1,m",
        "row 5, column unit",
        "'m' is not a unit of mass or volume",
        "write kg, g, lb, oz, l or ml",
    ),
    (
        "workshops/demo/prices.csv",
        "1,lb",
        "1,bucket",
        "row 5, column unit",
        "'bucket' is not a unit of mass or volume",
        "write kg, g, lb, oz, l or ml",
    ),
    (
        "workshops/demo/prices.csv",
        "beeswax,1,lb",
        "beeswax,1,l",
        "row 5, column unit",
        "'l' is a volume, but no density is known of beeswax",
        "give it by weight, or add to your workshop's properties.csv"
        " (ingredient,property,at,value,unit,evidence) the row"
        " beeswax,density,20 degC,VALUE,g/ml,supplier with the grams of a millilitre"
        " from your supplier's sheet",
    ),
    (
        "workshops/demo/prices.csv",
        "beeswax,1,lb",
        "beeswax,1,Fl. Oz",
        "row 5, column unit",
        "'Fl. Oz' is not the same everywhere",
        "write US fl oz (29.57 ml) or UK fl oz (28.41 ml), or how many ml or l it is",
    ),
    (
        "workshops/demo/prices.csv",
        "beeswax,1,lb",
        "beeswax,1,gallons",
        "row 5, column unit",
        "'gallons' is not the same everywhere",
        "write US gallon (3.785 l) or UK gallon (4.546 l), or how many ml or l it is",
    ),
    (
        "workshops/demo/prices.csv",
        "beeswax,1,lb",
        "beeswax,1,fluid_ounce",
        "row 5, column unit",
        "'fluid_ounce' is not the same everywhere",
        "write US fl oz (29.57 ml) or UK fl oz (28.41 ml), or how many ml or l it is",
    ),
    (
        "workshops/demo/prices.csv",
        "beeswax,1,lb",
        "beeswax,1,gal",
        "row 5, column unit",
        "'gal' is not the same everywhere",
        "write US gallon (3.785 l) or UK gallon (4.546 l), or how many ml or l it is",
    ),
    (
        "workshops/demo/prices.csv",
        "beeswax,1,lb",
        "beeswax,100,drops",
        "row 5, column unit",
        "'drops' has no size of its own",
        "weigh it and write g, or write ml",
    ),
    (
        "workshops/demo/prices.csv",
        "1,lb",
        ",lb",
        "row 5, column pack",
        "is blank",
        "write the pack of this row",
    ),
    (
        "workshops/demo/prices.csv",
        "jojoba_oil",
        "jojoba",
        "row 4, column ingredient",
        "'jojoba' is not a known ingredient; the nearest known name is jojoba_oil",
        "correct the name, or add the ingredient to ingredients.csv",
    ),
    (
        "workshops/demo/stock.csv",
        "2027-09-30",
        "soon",
        "row 2, column expiry",
        "'soon' is not a date",
        "write year-month-day, as in 2026-11-25",
    ),
    (
        "materials/properties.csv",
        "0.86,,,g/ml",
        "0,86,,,g/ml,x,y,z",
        "row 7",
        "the row has 16 cells, but the header has 12",
        "write decimals with a point, and text that holds a comma in quotes; the"
        " columns are ingredient, property, at, value, low, high, unit, basis,"
        " variant, evidence, source, note",
    ),
    (
        "materials/properties.csv",
        "NMR,,",
        '"NMR,,',
        "row 2",
        "has a quote that does not end, or goes on after its end",
        'close each quote that is opened, and write " inside quotes twice',
    ),
    (
        "materials/properties.csv",
        "evidence,source",
        "source",
        "row 1, column evidence",
        "is missing",
        (
            "the columns are "
            "ingredient,property,at,value,low,high,unit,basis,variant,evidence,source,note"
        ),
    ),
    (
        "materials/properties.csv",
        "variant",
        "variants",
        "row 1, column variants",
        "is not a known column; the nearest known name is variant",
        "correct its name, or take the column out",
    ),
    (
        "materials/properties.csv",
        "low,high",
        "low,low",
        "row 1, column low",
        "is there twice",
        "take one of them out",
    ),
    (
        "materials/properties.csv",
        "variant",
        "",
        "row 1",
        "a column has no name",
        "name the column, or take it out",
    ),
]

BLANKS = [
    (
        "materials/properties.csv",
        "beeswax,wax firmness",
        "beeswax,",
        "row 6",
        "property",
    ),
    ("materials/properties.csv", "0.86,,,g/ml", ",0.8,,g/ml", "row 7", "value"),
    (
        "materials/allergens.csv",
        "cocoa_butter,tree nut",
        "cocoa_butter,",
        "row 3",
        "allergen",
    ),
    ("markets/shared_limits.csv", "lime oil", "", "row 3", "substance"),
    ("markets/shared_limits.csv", "0.7", "", "row 3", "max_percent"),
    ("markets/scent_allergens.csv", "neral", "", "row 4", "substance"),
    (
        "markets/scent_allergens.csv",
        "neral,0.001",
        "neral,",
        "row 4",
        "leave_on_percent",
    ),
    ("markets/climate.csv", "50,70", ",70", "row 5", "low_degC"),
    ("workshops/demo/stock.csv", "1.5,kg", "1.5,", "row 2", "unit"),
]


@pytest.mark.parametrize(
    ("table", "old", "new", "place"),
    [
        ("restricted", "rinse-off,5,", "rinse-off,%s,", "row 2, column max_percent"),
        ("shared_limits", "2,St", "%s,St", "row 2, column max_percent"),
        (
            "scent_allergens",
            "linalool,0.001",
            "linalool,%s",
            "row 2, column leave_on_percent",
        ),
        ("scent_allergens", "0.01,84", "%s,84", "row 2, column rinse_off_percent"),
    ],
)
def test_the_law_allows_no_more_than_the_whole(desk, table, old, new, place):
    desk.table(f"markets/{table}.csv", old, new % "100.5")
    where = f"catalogues/markets/{table}.csv, {place}: '100.5' is "
    told = [line for line in desk.catalogue_said().splitlines() if "100.5" in line]
    assert [line.removeprefix(where) for line in told] == ["more than 100."]


@pytest.mark.parametrize(("table", "old", "new", "row", "column"), BLANKS)
def test_a_cell_that_must_not_be_blank_is_told(desk, table, old, new, row, column):
    desk.table(table, old, new)
    assert desk.catalogue_said().startswith(
        f"catalogues/{table}, {row}, column {column}: is blank."
    )


@pytest.mark.parametrize(("table", "old", "new", "place", "wrong", "fix"), SLIPS)
def test_a_slip_in_a_row_is_the_only_problem_told(
    desk, table, old, new, place, wrong, fix
):
    desk.table(table, old, new)
    assert desk.catalogue_said() == (
        f"catalogues/{table}, {place}: {wrong}.\n  To fix: {fix}."
    )


@pytest.mark.parametrize(
    ("table", "old", "new", "said"),
    [
        (
            "materials/ingredients.csv",
            "cocoa-type,cacao butter;theobroma oil,yes",
            "cocoa-typed,cacao butter;theobroma oil,yes",
            "column family: 'cocoa-typed' is not one of the words allowed here",
        ),
        (
            "materials/ingredients.csv",
            "beeswax,beeswax,Cera Alba",
            "Bees Wax,beeswax,Cera Alba",
            "column key: 'Bees Wax' is not a key of small letters",
        ),
        (
            "materials/ingredients.csv",
            "preserver,ready-mixed preservative",
            "preserver,",
            "column name: is blank",
        ),
        (
            "markets/preservatives.csv",
            "EU,sorbic acid,any,0.6",
            "EU,sorbic acid,any,0;6",
            "column max_percent: '0;6' is not a number",
        ),
    ],
)
def test_one_slip_does_not_make_other_rows_wrong(desk, table, old, new, said):
    """Names of a row with a slip are used elsewhere; a pack waits for its density."""
    desk.add("workshops/demo/prices.csv", "cacao butter,2,kg,40,,EUR,")
    desk.add("workshops/demo/prices.csv", "white wax,2,kg,40,,EUR,")
    desk.add("materials/limits.csv", "ready-mixed preservative,practice,leave-on,,1,"
             "product,assumed,book,")  # fmt: skip
    desk.table(table, old, new)
    told = desk.said()
    assert said in told
    assert told.count("To fix:") == 1


def test_a_window_as_the_base_waits_for_a_row_of_the_base(desk):
    desk.table("materials/ingredients.csv", "hard butter,cocoa-type", "hard,cocoa-type")
    told = desk.said_with(
        '[[windows]]\nproperty = "solid fat"\nat = "30 degC"\n'
        'over = "hard butter"\nmin = "as the base"'
    )
    assert "column category: 'hard' is not one of the words" in told
    assert told.count("To fix:") == 1
