"""Spreadsheets in and out: what a CSV file may be, an .xlsx file may be too."""

import csv
import json
import sys
import zipfile
from datetime import datetime

import pytest
import xlsxwriter
from python_calamine import CalamineWorkbook

from optimiser.errors import Problem

BAR = "scenarios/bar.toml"
SHEET = "catalogues/workshops/demo"
FORMULA = [
    ["ingredient", "percent"],
    ["cocoa butter", 45],
    ["refined shea butter", 20],
    ["beeswax", 4],
    ["sunflower oil", 31],
]


def book(path, rows, name="table", *more):
    """Write a spreadsheet; dates as a spreadsheet keeps them."""
    with xlsxwriter.Workbook(str(path)) as made:
        day = made.add_format({"num_format": "dd.mm.yyyy"})
        for title, lines in ((name, rows), *more):
            sheet = made.add_worksheet(title)
            for row, line in enumerate(lines):
                for column, value in enumerate(line):
                    if isinstance(value, datetime):
                        sheet.write_datetime(row, column, value, day)
                    else:
                        sheet.write(row, column, value)
    return path


def cells(path, sheet=0):
    found = CalamineWorkbook.from_path(str(path)).get_sheet_by_index(sheet)
    return found.to_python()


def flat(text):
    return " ".join(text.split())


def told(run, *arguments, code=0):
    found = run(*arguments)
    assert found.code == code, found.err
    return found


# -- in ------------------------------------------------------------------------------


def test_a_formula_is_read_alike_from_both(run, workspace):
    text = "\n".join(",".join(map(str, row)) for row in FORMULA)
    (workspace / "mine.csv").write_text(text, encoding="utf-8")
    book(workspace / "mine.xlsx", FORMULA)
    plain = json.loads(told(run, "check", "mine.csv", BAR, "--json").out)
    assert json.loads(told(run, "check", "mine.xlsx", BAR, "--json").out) == plain


def test_a_kitchen_table_and_recipes_are_read_too(run, workspace):
    rows = [["ingredient", "amount", "unit"], ["cocoa butter", 69, "g"],
            ["sunflower oil", "31", "g"]]  # fmt: skip
    book(workspace / "kitchen.xlsx", rows)
    found = json.loads(told(run, "check", "kitchen.xlsx", BAR, "--json", code=1).out)
    shares = {x["ingredient"]: x["percent"] for x in found["formula"]}
    assert shares["cocoa_butter"] == pytest.approx(69.0)
    head = ["recipe", "class", *rows[0]]
    recipes = [[f"R{n}", "balm", *row] for n in range(3) for row in rows[1:]]
    book(workspace / "recipes.xlsx", [head, *recipes], "found")
    surveyed = told(run, "survey", "recipes.xlsx", "--class", "balm").out
    assert "recipes.xlsx, sheet found; 3 recipes of 3, 3 of them used" in flat(surveyed)


def test_weights_and_a_batch_sheet_are_read_too(run, workspace):
    book(workspace / "units.xlsx", [["unit", "net"], *[[n, 60 + n] for n in range(6)]])
    judged = told(run, "fill", "units.xlsx", "--net", "60 g", "--json").out
    assert json.loads(judged)["markets"][0]["mean"] == pytest.approx(62.5)
    head = ["ingredient", "lots", "weighed_grams"]
    rows = [[name, "", 10.0 * amount] for name, amount in FORMULA[1:]]
    book(workspace / "sheet.xlsx", [head, *rows])
    told(run, "record", "batch", BAR, "sheet.xlsx", "--number", "N1")
    seen = json.loads(told(run, "record", "show", "N1", "--json").out)
    assert sum(line["grams"] for line in seen["weighed"]) == pytest.approx(1000.0)


def test_prices_may_be_a_spreadsheet_and_dates_of_it_are_dates(run, workspace):
    folder = workspace / SHEET
    before = json.loads(told(run, "formulate", BAR, "--json").out)
    for name in ("prices", "stock"):
        with (folder / f"{name}.csv").open(encoding="utf-8") as file:
            rows = list(csv.reader(file))
        place = rows[0].index("date" if name == "prices" else "expiry")
        for row in rows[1:]:
            if row[place]:
                row[place] = datetime.fromisoformat(row[place])
        book(folder / f"{name}.xlsx", rows, name)
        (folder / f"{name}.csv").unlink()
    found = told(run, "formulate", BAR, "--json").out
    again = json.loads(found)
    assert again["cost_per_kg"] == before["cost_per_kg"]
    assert again["formula"] == before["formula"]
    listed = json.loads(told(run, "catalogue", "check", "--json").out)
    assert listed["files"]["workshops/demo/prices.xlsx"] > 100
    (folder / "prices.csv").write_text("ingredient\n", encoding="utf-8")
    both = told(run, "formulate", BAR, code=1).err
    assert "demo/prices.xlsx: is there, and so is prices.csv." in flat(both)


def test_what_is_wrong_is_told_with_sheet_and_cell(run, workspace):
    rows = [["ingredient", "percent"], ["cocoa buter", "2,65"], ["beeswax", ""]]
    book(workspace / "mine.xlsx", rows, "my bar")
    said = flat(told(run, "check", "mine.xlsx", BAR, code=1).err)
    place = "mine.xlsx, sheet my bar, cell"
    assert f"{place} B2, column percent: '2,65' is not a number." in said
    assert f"{place} B3, column percent: is blank." in said
    assert f"{place} A2, column ingredient: 'cocoa buter' is not a known" in said
    data = json.loads(told(run, "check", "mine.xlsx", BAR, "--json", code=1).out)
    assert {each["cell"] for each in data["problems"]} == {"A2", "B2", "B3"}
    book(workspace / "mine.xlsx", [["ingredient", "percentt"], ["beeswax", 1]], "b")
    said = flat(told(run, "fill", "mine.xlsx", "--net", "60 g", code=1).err)
    assert "mine.xlsx" in said


def test_the_first_sheet_that_holds_something_counts(run, workspace):
    more = ("mine", FORMULA), ("notes", [["not", "this"]])
    book(workspace / "mine.xlsx", [], "empty", *more)
    told(run, "check", "mine.xlsx", BAR)
    book(workspace / "none.xlsx", [], "empty")
    said = told(run, "check", "none.xlsx", BAR, code=1).err
    assert "none.xlsx: holds no sheet with anything in it." in said


def test_a_table_may_begin_below_the_first_row_and_keeps_its_numbers(run, workspace):
    rows = [[], [], *FORMULA[:2], ["nothing", 55]]
    book(workspace / "mine.xlsx", rows, "m")
    said = flat(told(run, "check", "mine.xlsx", BAR, code=1).err)
    assert "mine.xlsx, sheet m, cell A5, column ingredient: 'nothing'" in said


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 broken", b"plain text"])
def test_what_is_no_spreadsheet_is_told(run, workspace, content):
    (workspace / "mine.xlsx").write_bytes(content)
    said = flat(told(run, "check", "mine.xlsx", BAR, code=1).err)
    assert "mine.xlsx: is no spreadsheet that can be read." in said
    assert "is not there" in flat(told(run, "check", "no.xlsx", BAR, code=1).err)


def test_a_small_file_that_unpacks_to_a_huge_one_is_refused(run, workspace):
    with zipfile.ZipFile(workspace / "mine.xlsx", "w", zipfile.ZIP_DEFLATED) as packed:
        for n in range(3):
            packed.writestr(f"{n}.xml", b" " * 80_000_000)
    said = flat(told(run, "check", "mine.xlsx", BAR, code=1).err)
    assert "mine.xlsx: holds more than 200 MB." in said


@pytest.mark.parametrize(
    ("library", "arguments"),
    [
        ("python_calamine", ("check", "mine.xlsx", BAR)),
        ("xlsxwriter", ("formulate", BAR, "--csv", "new.xlsx")),
    ],
)
def test_a_missing_library_is_told_with_its_extra(
    run, workspace, monkeypatch, library, arguments
):
    book(workspace / "mine.xlsx", FORMULA)
    monkeypatch.setitem(sys.modules, library, None)
    said = flat(told(run, *arguments, code=1).err)
    assert "needs a library for spreadsheets that is not installed" in said
    assert "pip install '.[xlsx]'" in said


def test_a_problem_names_its_cell_rather_than_its_row():
    problem = Problem("is blank", "a.xlsx, sheet p", 7, "price", cell="C7")
    assert str(problem) == "a.xlsx, sheet p, cell C7, column price: is blank."


# -- out -----------------------------------------------------------------------------

OUT = {
    "formulate": ("formulate", BAR, "--csv"),
    "batch": ("batch", BAR, "--units", 6, "--net", "60 g", "--csv"),
    "cost": ("cost", BAR, "--units", 6, "--net", "60 g", "--csv"),
    "plan": ("plan", "scenarios/plans/autumn.toml", "--csv"),
    "buy": ("buy", BAR, "--csv"),
    "stock": ("stock", BAR, "--csv"),
    "variants": ("variants", BAR, "--count", 3, "--csv"),
    "themes": ("variants", BAR, "--theme", "scenarios/themes", "--csv"),
    "substitute": ("substitute", BAR, "--without", "sunflower oil", "--csv"),
    "tradeoff": ("tradeoff", BAR, "--csv"),
    "robust": ("robust", BAR, "--draws", 200, "--budget", 1, "--csv"),
    "sweep": ("sweep", BAR, "--to"),
    "trials": ("trials", BAR, "--bars", 3, "--write"),
}


@pytest.mark.usefixtures("asked_once")
@pytest.mark.parametrize("name", OUT)
def test_a_spreadsheet_holds_what_the_csv_file_does_with_numbers_as_numbers(
    run, workspace, name
):
    asked = OUT[name]
    if name in {"substitute", "trials", "stock", "themes"}:
        asked = (asked[0], "scenarios/massage_bar.toml", *asked[2:])
    plain, kept = run(*asked, "kept.csv"), run(*asked, "kept.xlsx")
    assert (plain.code, kept.code) == (0, 0), kept.err
    assert "kept.xlsx: written." in kept.err
    with (workspace / "kept.csv").open(encoding="utf-8-sig") as file:
        head, *rows = csv.reader(file)
    own_head, *own = cells(workspace / "kept.xlsx")
    assert [x.partition(",")[0] for x in own_head] == [
        x.partition(",")[0] for x in head
    ]
    assert len(own) == len(rows) > 0
    numbers = 0
    for row, line in zip(rows, own, strict=True):
        for text, value in zip(row, line, strict=True):
            if isinstance(value, float):
                numbers += 1
                assert float(text) == pytest.approx(value, rel=1e-6, abs=0.051)
            else:
                assert str(value) == text.lstrip("'")
    assert numbers or name == "trials"
    # Asked again it is written again, and nothing else is written over.
    assert run(*asked, "kept.xlsx").code == 0 or name == "trials"
    book(workspace / "other.xlsx", [["mine", "alone"], [1, 2]])
    refused = run(*asked, "other.xlsx")
    assert refused.code == 1
    assert "is there already" in refused.err
    assert cells(workspace / "other.xlsx")[0] == ["mine", "alone"]


def test_heads_tell_the_money_and_a_formula_is_read_back(run, workspace):
    told(run, "formulate", BAR, "--csv", "kept.xlsx")
    assert "price_per_kg, EUR" in cells(workspace / "kept.xlsx")[0]
    assert run("check", "kept.xlsx", BAR).code == 0


def test_names_that_look_like_sums_are_no_sums(run, workspace):
    scale = workspace / SHEET / "costs.toml"
    text = scale.read_text(encoding="utf-8")
    name = "=HYPERLINK(1)"
    scale.write_text(text.replace('name = "tin"', f'name = "{name}"'), encoding="utf-8")
    size = ("--units", 6, "--net", "60 g")
    told(run, "cost", BAR, *size, "--csv", "kept.xlsx")
    assert name in {row[1] for row in cells(workspace / "kept.xlsx")}
    with zipfile.ZipFile(workspace / "kept.xlsx") as packed:
        sheet = packed.read("xl/worksheets/sheet1.xml")
    assert b"<f>" not in sheet
    assert b"hyperlink" not in sheet


def test_entries_and_verdicts_of_the_book_are_exported_too(run, workspace):
    rows = [["ingredient", "lots", "weighed_grams"], ["cocoa butter", "", 100]]
    book(workspace / "sheet.xlsx", rows)
    told(run, "record", "batch", BAR, "sheet.xlsx", "--number", "N1")
    told(run, "record", "verdict", "N1", "right", "--room", "22 degC")
    told(run, "record", "export", "entries.xlsx")
    assert len(cells(workspace / "entries.xlsx")) > 2
    told(run, "record", "export", "trials.xlsx", "--trials")
    head, row = cells(workspace / "trials.xlsx")
    assert dict(zip(head, row, strict=True))["cocoa_butter"] == 100.0
    found = run("calibrate", "trials.xlsx", BAR)
    assert "trials.xlsx" not in found.err, found.err


# -- a workshop ----------------------------------------------------------------------


def test_a_workshop_goes_out_and_back_unchanged(run, workspace):
    folder = workspace / SHEET
    before = {x.name: x.read_bytes() for x in folder.glob("*.csv")}
    told(run, "catalogue", "workbook", "w.xlsx")
    prices = cells(workspace / "w.xlsx")
    assert isinstance(prices[1][prices[0].index("price")], float)
    taken = told(run, "catalogue", "workbook", "w.xlsx", "--take", "--json")
    rows = json.loads(taken.out)["rows"]
    assert rows["prices"] == before["prices.csv"].count(b"\n") - 1
    assert {x.name: x.read_bytes() for x in folder.glob("*.csv")} == before


def test_what_was_edited_in_a_spreadsheet_counts_once_it_is_taken(run, workspace):
    told(run, "catalogue", "workbook", "w.xlsx")
    prices, stock = (cells(workspace / "w.xlsx", n) for n in (0, 1))
    place = prices[0].index("price")
    doubled = [
        [*row[:place], 2 * row[place], *row[place + 1 :]]
        if row[0] in {"sunflower_oil", "sunflower oil"}
        else row
        for row in prices[1:]
    ]
    assert doubled != prices[1:]
    rows = [prices[0], *doubled]
    book(workspace / "w.xlsx", rows, "prices", ("stock", stock))
    cost = json.loads(told(run, "formulate", BAR, "--json").out)["cost_per_kg"]
    told(run, "catalogue", "workbook", "w.xlsx", "--take")
    again = json.loads(told(run, "formulate", BAR, "--json").out)["cost_per_kg"]
    assert again > cost


def test_nothing_is_taken_of_a_workbook_with_anything_wrong(run, workspace):
    folder = workspace / SHEET
    before = {x.name: x.read_bytes() for x in folder.glob("*.csv")}
    prices = [["ingredient", "pack", "unit", "price"], ["cocoa buter", 1, "kg", 9]]
    stock = [["ingredient", "lot", "amount", "unit"], ["beeswax", 7, "-3", "kg"]]
    book(workspace / "w.xlsx", prices, "prices", ("stock", stock))
    said = flat(told(run, "catalogue", "workbook", "w.xlsx", "--take", code=1).err)
    assert "w.xlsx, sheet prices, cell A2, column ingredient: 'cocoa buter'" in said
    assert "w.xlsx, sheet stock, cell C2, column amount: '-3' is negative." in said
    assert {x.name: x.read_bytes() for x in folder.glob("*.csv")} == before
    book(workspace / "w.xlsx", prices, "prises")
    said = flat(told(run, "catalogue", "workbook", "w.xlsx", "--take", code=1).err)
    assert "w.xlsx: 'prises' is no table of a workshop; the nearest known" in said


OWN = "key,name,inci,category,source\nmy_oil,my oil,,liquid oil,\n"
OF_MINE = [["ingredient", "pack", "unit", "price"], ["my oil", 1, "kg", 9]]


def test_sheets_are_checked_beside_the_files_that_stay(run, workspace):
    folder = workspace / SHEET
    (folder / "ingredients.csv").write_text(OWN, "utf-8")
    book(workspace / "w.xlsx", OF_MINE, "prices")
    told(run, "catalogue", "workbook", "w.xlsx", "--take")
    assert "my oil" in (folder / "prices.csv").read_text("utf-8")
    told(run, "catalogue", "check", "--workshop", "demo")


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("prices.csv", "ingredient,pack,unit,price\nmy oil,1,kg,9\n"),
        (
            "fatty_acids.csv",
            "ingredient,fatty_acid,low,high,variant,evidence,source\n"
            "my_oil,oleic,50,70,,supplier,\n",
        ),
    ],
)
def test_a_sheet_takes_away_nothing_that_a_file_which_stays_names(
    run, workspace, name, text
):
    folder = workspace / SHEET
    (folder / "ingredients.csv").write_text(OWN, "utf-8")
    (folder / name).write_text(text, "utf-8")
    other = [line.split(",") for line in OWN.replace("my", "your").splitlines()]
    book(workspace / "w.xlsx", other, "ingredients")
    before = {x.name: x.read_bytes() for x in folder.glob("*.csv")}
    said = flat(told(run, "catalogue", "workbook", "w.xlsx", "--take", code=1).err)
    assert f"demo/{name}, row 2, column ingredient: 'my" in said
    assert {x.name: x.read_bytes() for x in folder.glob("*.csv")} == before
