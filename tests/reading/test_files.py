"""Files as spreadsheets and editors save them: what is read, what is explained."""

import os

import pytest

from optimiser.errors import InputError, Problem
from optimiser.reading.tables import Columns, read_table
from optimiser.reading.text import nearest_file, read_text

STOCK = "workshops/demo/stock.csv"
SHOWN = f"catalogues/{STOCK}"
HEADER = "ingredient,lot,amount,unit,expiry,note"
EVERY = "ingredient,lot,amount,unit,expiry,counted,evidence,note"
AS_CSV = "save it as 'CSV UTF-8', which spreadsheets offer under Save as"


def lots(desk):
    return [(lot.lot, lot.origin.row) for lot in desk.catalogue().stock]


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(f"{HEADER}\nbeeswax,A,1,kg,,\n", id="plain"),
        pytest.param(f"\ufeff{HEADER}\nbeeswax,A,1,kg,,\n", id="byte-order mark"),
        pytest.param(f"{HEADER}\r\nbeeswax,A,1,kg,,\r\n", id="Windows line ends"),
        pytest.param(f"{HEADER}\rbeeswax,A,1,kg,,\r", id="old Macintosh line ends"),
        pytest.param(f"{HEADER}\nbeeswax,A,1,kg", id="short row, no last line end"),
        pytest.param(f"{HEADER},,\nbeeswax,A,1,kg,,,,\n", id="blank cells at the end"),
        pytest.param(f" {HEADER}\n beeswax , A , 1 , kg ,,\n", id="spaces"),
        pytest.param("unit,amount,lot,ingredient\nkg,1,A,beeswax", id="other order"),
        pytest.param(f"{HEADER}\nWhite_Wax,A,1000,g,,\n", id="alias and grams"),
        pytest.param("Ingredient, LOT,Amount,Unit\nbeeswax,A,1,kg", id="capitals"),
        pytest.param(
            f"{HEADER}\nbeeswax,A,1,kg,,\n".replace(",", ";"), id="semicolons"
        ),
        pytest.param(f"{HEADER}\nbeeswax,A,1,kg,,\n".replace(",", "\t"), id="tabs"),
        pytest.param(
            "ingredient;lot;amount;unit\nbeeswax;A;1,000;kg\ncocoa butter;B;0,0;kg",
            id="decimal commas",
        ),
    ],
)
def test_the_same_lot_is_read_however_the_table_was_saved(desk, content):
    desk.write(SHOWN, content)
    assert [
        (lot.ingredient, lot.lot, lot.amount) for lot in desk.catalogue().stock
    ] == [("beeswax", "A", 1.0)]


def test_rows_are_numbered_as_a_spreadsheet_shows_them(desk):
    rows = [HEADER, "", 'beeswax,A,1,kg,,"two\nlines"', ",,,,,", "beeswax,B,1,kg,,"]
    desk.write(SHOWN, "\n".join(rows))
    assert lots(desk) == [("A", 3), ("B", 5)]


def test_a_comma_that_may_part_thousands_or_decimals_is_asked_about(desk):
    desk.write(SHOWN, "ingredient;lot;amount;unit\nbeeswax;A;1,000;kg\n")
    with pytest.raises(InputError) as caught:
        desk.catalogue()
    assert "row 2, column amount: '1,000'" in str(caught.value)


def test_an_empty_lot_is_no_stock(desk):
    desk.write(SHOWN, f"{HEADER}\nbeeswax,A,0,kg,,\nbeeswax,B,1,kg,,\n")
    assert lots(desk) == [("B", 3)]


@pytest.mark.parametrize(
    ("content", "wrong", "fix"),
    [
        pytest.param(
            f"{HEADER}\nbeeswax,A,1,kg,,\nbeeswax,Karité,1,kg,,\n".encode("cp1252"),
            ", row 3: 'Karité' is not UTF-8 text; it looks like Windows-1252 or "
            "Latin-1",
            AS_CSV,
            id="Windows-1252",
        ),
        pytest.param(
            HEADER.encode("utf-16"),
            ": is text in UTF-16, not in UTF-8",
            AS_CSV,
            id="UTF-16",
        ),
        pytest.param(
            b"PK\x03\x04more",
            ": is a spreadsheet or another packed file, not plain text",
            AS_CSV,
            id="xlsx",
        ),
        pytest.param(b"GIF\0\0", ": is not a text file", AS_CSV, id="binary"),
        pytest.param(
            b"",
            ": is empty: it has no header row",
            f"write the header row {EVERY}",
            id="empty",
        ),
        pytest.param(
            b"\n\n",
            ": is empty: it has no header row",
            f"write the header row {EVERY}",
            id="blank lines",
        ),
        pytest.param(
            f'{HEADER}\nbeeswax,A,1,kg,,\n"beeswax,A,1,kg,,\n'.encode(),
            ", row 3: has a quote that does not end, or goes on after its end",
            'close each quote that is opened, and write " inside quotes twice',
            id="open quote",
        ),
        pytest.param(
            f"{HEADER}\nbeeswax,A,1,kg,,{'x' * 200_000}\n".encode(),
            ", row 2: has a cell that is too long, over 131072 signs",
            "shorten the cell, or close the quote that it begins with",
            id="a cell longer than any cell",
        ),
    ],
)
def test_a_file_that_is_no_table_is_explained(desk, content, wrong, fix):
    desk.write(SHOWN, content)
    assert desk.catalogue_said() == f"{SHOWN}{wrong}.\n  To fix: {fix}."


def test_all_problems_of_a_header_are_told_at_once(desk):
    desk.write(SHOWN, "ingredients,lot,lot,amount\nbeeswax,A,A,1\n")
    assert desk.catalogue_said().splitlines()[::2] == [
        f"{SHOWN}, row 1, column ingredients: is not a known column; "
        "the nearest known name is ingredient.",
        f"{SHOWN}, row 1, column lot: is there twice.",
        f"{SHOWN}, row 1, column ingredient: is missing.",
        f"{SHOWN}, row 1, column unit: is missing.",
    ]


@pytest.mark.parametrize("mark", [";", "\t"], ids=["semicolon", "tab"])
def test_unknown_headings_are_told_as_they_stand_however_they_are_parted(
    tmp_path, mark
):
    path = tmp_path / "t.csv"
    path.write_text(f"x{mark}y\n1{mark}2\n", encoding="utf-8")
    problems = []
    assert not read_table(path, "t.csv", Columns("a,b", "b"), problems).whole
    assert [(each.field, each.wrong.split(";")[0]) for each in problems] == [
        ("x", "is not a known column"),
        ("y", "is not a known column"),
        ("a", "is missing"),
    ]
    assert problems[-1].fix == "the columns are a,b; what stands there is x, y"


def test_a_table_without_a_row_of_names_is_one_problem_and_a_short_name_is_near(
    tmp_path,
):
    path = tmp_path / "t.csv"
    path.write_text("beeswax,4\nshea,5\n", encoding="utf-8")
    problems = []
    columns = Columns("ingredient,max_percent", "max_percent")
    assert not read_table(path, "t.csv", columns, problems).whole
    (only,) = problems
    assert only.wrong == "the first row holds values, and has to name the columns"
    assert only.fix == "write a row above it: ingredient,max_percent"
    path.write_text("ingredient,max\nshea,5\n", encoding="utf-8")
    problems.clear()
    read_table(path, "t.csv", columns, problems)
    assert [each.wrong for each in problems] == [
        "is not a known column; the nearest known name is max_percent"
    ]


def test_a_header_of_one_strange_name_is_told(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text("x\n", encoding="utf-8")
    problems = []
    assert not read_table(path, "t.csv", Columns("a,b", "b"), problems).whole
    assert [problem.wrong for problem in problems] == [
        "is not a known column; no known name is near it",
        "is missing",
    ]


def test_more_columns_are_passed_over_where_they_are_allowed(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text("a,extra\n1,2\n", encoding="utf-8")
    table = read_table(path, "t.csv", Columns("a", "", any_more=True), [])
    assert [(row.text("a"), row.text("b")) for row in table.rows] == [("1", "")]


def read_problem(path):
    problems = []
    assert read_text(path, "it", problems) is None
    return str(*problems)


def test_a_folder_is_no_file(tmp_path):
    assert read_problem(tmp_path) == (
        "it: is a folder, not a file.\n  To fix: name a file in it."
    )


def test_a_device_is_no_file():
    assert read_problem(os_path("/dev/null")) == (
        "it: is a device, not a file.\n  To fix: name a file."
    )


def os_path(text):
    from pathlib import Path  # noqa: PLC0415

    return Path(text)


def test_a_missing_file_names_the_nearest_one(tmp_path):
    (tmp_path / "massage_bar.toml").write_text("", encoding="utf-8")
    assert read_problem(tmp_path / "masage_bar.toml") == (
        "it: is not there.\n"
        "  To fix: correct the name; the nearest file there is massage_bar.toml."
    )


def test_a_missing_folder_is_told(tmp_path):
    assert nearest_file(tmp_path / "no" / "bar.toml") == (
        "check the folder: it is not there, or may not be read"
    )


@pytest.mark.parametrize(
    ("name", "words"),
    [("a\0b", "embedded null byte"), ("a" * 300, "file name too long")],
)
def test_a_name_that_no_file_can_have_is_told(tmp_path, name, words):
    assert read_problem(tmp_path / name) == (
        f"it: cannot be read ({words}).\n  To fix: check the name of the file."
    )


def test_a_file_that_may_not_be_read_is_told(tmp_path, monkeypatch):
    path = tmp_path / "a.csv"
    path.write_text("", encoding="utf-8")

    def refuse(*_):
        raise PermissionError(13, os.strerror(13))

    monkeypatch.setattr(type(path), "read_bytes", refuse)
    assert read_problem(path) == (
        "it: may not be read by your user.\n  To fix: allow your user to read it."
    )


def test_a_file_larger_than_any_catalogue_is_not_read(tmp_path):
    path = tmp_path / "a.csv"
    with path.open("wb") as file:
        file.truncate(100_000_001)
    assert read_problem(path) == (
        "it: is larger than 100 MB.\n  To fix: keep only the rows that are used."
    )


def test_text_of_another_encoding_outside_tables_is_told_by_line(desk):
    told = desk.said('title = "a"\nproduct = "Beurre de karité"\n'.encode("cp1252"))
    assert told == (
        "bar.toml: 'product = \"Beurre de karité\"' in line 2 is not UTF-8 text; it "
        "looks like Windows-1252 or Latin-1.\n"
        "  To fix: save it as UTF-8 text in a plain text editor."
    )


def test_a_scenario_may_begin_with_a_byte_order_mark(desk):
    scenario = desk.scenario('\ufefftitle = "a"\nuse = "leave-on"\nworkshop = "demo"\n')
    assert scenario.title == "a"


def test_problems_are_kept_as_fields_too(desk):
    desk.write(SHOWN, f"{HEADER}\nbeeswax,A,lots,kg,,\n")
    with pytest.raises(InputError) as caught:
        desk.catalogue()
    assert list(caught.value.problems) == [
        Problem(
            "is not a number",
            SHOWN,
            row=2,
            field="amount",
            found="lots",
            fix="write a plain number, as in 2.65",
        )
    ]
