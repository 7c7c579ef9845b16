"""Spreadsheets that somebody sent: small files that would take all there is."""

import io
import re
import zipfile

import pytest
import xlsxwriter

from optimiser.reading import packed
from optimiser.reading.sheets import read_sheet

SHEET = "xl/worksheets/sheet1.xml"
TEXTS = "xl/sharedStrings.xml"


@pytest.fixture
def path(tmp_path):
    return tmp_path / "mine.xlsx"


def write(path, *cells, **changed):
    """Write a spreadsheet with some cells, and parts that are changed."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        sheet = book.add_worksheet("table")
        for row, column, value in ((0, 0, "ingredient"), (0, 1, "percent"), *cells):
            sheet.write(row, column, value)
    with zipfile.ZipFile(out) as made:
        parts = {each: made.read(each) for each in made.namelist()}
    for name, change in changed.items():
        part = {"sheet": SHEET, "texts": TEXTS}[name]
        parts[part] = change(parts[part])
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packing:
        for name, part in parts.items():
            packing.writestr(name, part)


def told(path):
    problems = []
    rows = read_sheet(path, "mine.xlsx", problems)
    assert (rows is None) == bool(problems)
    return " ".join(str(each) for each in problems)


def test_a_cell_far_from_all_others_is_told_before_there_is_room_made_for_it(path):
    write(path, (1_048_575, 16_383, "x"))
    assert path.stat().st_size < 10_000
    assert told(path) == (
        "mine.xlsx: has sheets of more than 5 million cells.\n  To fix: keep only the"
        " rows that are used, and clear the cells far from them."
    )


def test_sheets_that_reach_far_together_are_refused_too(path, monkeypatch):
    monkeypatch.setattr(packed, "MOST_CELLS", 100)
    write(path, (39, 1, "x"))
    assert told(path) == ""
    with xlsxwriter.Workbook(str(path)) as book:
        for name in ("a", "b"):
            book.add_worksheet(name).write(39, 1, "x")
    assert "has sheets of more than" in told(path)


def test_a_place_that_no_sheet_has_is_refused(path):
    for place in (b"XFE1", b"A1048577", b"A0", b"AAAA1", b"A99999999999", b"B"):
        write(
            path, (1, 0, 5), sheet=lambda x, at=place: x.replace(b'"A2"', b'"%b"' % at)
        )
        assert "is no spreadsheet that can be read" in told(path), place


def test_cells_without_a_place_are_counted(path, monkeypatch):
    monkeypatch.setattr(packed, "MOST_CELLS", 100)
    bare = re.compile(rb' r="[A-Z]*[0-9]+"')
    cells = [(row, 0, row) for row in range(1, 101)]
    write(path, *cells[:30], sheet=lambda part: bare.sub(b"", part))
    assert told(path) == ""
    write(path, *cells, sheet=lambda part: bare.sub(b"", part))
    assert "has sheets of more than" in told(path)


def test_one_long_text_in_very_many_cells_is_refused(path, monkeypatch):
    monkeypatch.setattr(packed, "GREATEST_BYTES", 50_000)
    write(path, *[(row, 0, "x" * 400) for row in range(1, 100)])
    assert told(path) == ""
    write(path, *[(row, 0, "x" * 400) for row in range(1, 200)])
    assert "holds more than" in told(path)


def test_a_part_that_unpacks_to_more_than_it_tells_is_refused(path):
    write(path, sheet=lambda part: part + b" " * 30_000_000)
    content = bytearray(path.read_bytes())
    size = (30_000_000).to_bytes(4, "little")[3:]
    for head in re.finditer(b"PK\x01\x02", bytes(content)):
        at = head.start() + 24
        if content[at + 3 : at + 4] == size:
            content[at : at + 4] = (700).to_bytes(4, "little")
    path.write_bytes(content)
    assert "is no spreadsheet that can be read" in told(path)


def test_entities_of_its_own_are_refused(path):
    bomb = b'?>\n<!DOCTYPE a [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
    write(path, texts=lambda part: part.replace(b"?>", bomb, 1))
    assert "is no spreadsheet that can be read" in told(path)


@pytest.mark.parametrize(
    ("was", "now"),
    [
        (b't="s"><v>0<', b't="s"><v>7777<'),
        (b't="s"><v>0<', b't="odd"><v>0<'),
        (b't="s"><v>0<', b't="b"><v>maybe<'),
        (b"<v>0</v>", b"<w>0</w>"),
        (b"</sheetData>", b"</sheetDate>"),
        (b"<sheetData>", b"<sheetData>\xff"),
        (b"<sheetData>", b"<sheetData>\0"),
    ],
)
def test_a_sheet_that_its_library_cannot_read_is_told(path, was, now):
    write(path, sheet=lambda part: part.replace(was, now, 1))
    assert "is no spreadsheet that can be read" in told(path)


def test_a_million_blank_rows_below_a_table_are_no_harm(path):
    blank = b'<row r="%d" s="1"><c r="A%d" s="1"/><c r="B%d" s="1"/></row>'
    more = b"".join(blank % (at, at, at) for at in range(3, 40_000))
    write(
        path,
        (1, 0, "beeswax"),
        sheet=lambda x: x.replace(b"</sheetD", more + b"</sheetD"),
    )
    assert told(path) == ""
    rows = read_sheet(path, "mine.xlsx", []).rows
    assert [cells[0] for _, cells in rows] == ["ingredient", "beeswax"]


def test_a_file_that_changed_is_read_anew(path):
    write(path, (1, 0, "beeswax"))
    first = read_sheet(path, "mine.xlsx", []).rows
    write(path, (1, 0, "candelilla wax"))
    second = read_sheet(path, "mine.xlsx", []).rows
    assert (first[1][1][0], second[1][1][0]) == ("beeswax", "candelilla wax")
