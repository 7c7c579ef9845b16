"""Spreadsheets turned wrong: by their cells, their parts, and how they are packed."""

import csv
import io
import re
import zipfile
from datetime import date, datetime

import xlsxwriter
from hypothesis import strategies as st

from tests.fuzz.mutating import NASTY

PLACES = (
    "A1", "XFD1048576", "B9999999", "A0", "AAAA1", "1", "", "-1", "99999999999",
    "1e400", "nan", "s", "str", "d", "e", "b", "inlineStr", "n", "../../x", "&x;", "<",
    "2026-11-26", "xl/workbook.xml", "hidden", "veryHidden",
)  # fmt: skip
WAYS = (
    "attribute", "attribute", "attribute", "text", "text", "byte", "cut part",
    "drop part", "double part", "swap parts", "entity", "packed byte", "packed cut",
    "told size",
)  # fmt: skip


def as_workbook(sheets):
    """Return the bytes of a spreadsheet with tables of CSV text, by their names.

    Cells become what they look like: numbers, days, yes and no, formulas, and text.
    """
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        day = book.add_format({"num_format": "dd.mm.yyyy"})
        for name, text in sheets.items():
            sheet = book.add_worksheet(name)
            for row, cells in enumerate(csv.reader(io.StringIO(text, newline=""))):
                for column, cell in enumerate(cells):
                    _put(sheet, row, column, cell, day)
    return out.getvalue()


def _put(sheet, row, column, cell, day):
    if cell.startswith("="):
        sheet.write_formula(row, column, cell, value="3")
    elif re.fullmatch(r"\d{4}-\d\d-\d\d", cell):
        try:
            when = date.fromisoformat(cell)
            sheet.write_datetime(row, column, datetime(*when.timetuple()[:3]), day)
        except ValueError:
            sheet.write_string(row, column, cell)
    elif re.fullmatch(r"-?\d{1,300}(\.\d{1,300})?", cell):
        sheet.write_number(row, column, float(cell))
    elif cell in {"true", "false"}:
        sheet.write_boolean(row, column, cell == "true")
    elif cell:
        sheet.write_string(row, column, cell[:32767])


@st.composite
def changes_of_parts(draw, most=4):
    """Return a few changes of a packed file: a way, places from 0 to 1, what."""
    place = st.floats(0, 1, exclude_max=True)
    what = st.sampled_from(PLACES) | st.sampled_from(NASTY)
    change = st.tuples(st.sampled_from(WAYS), place, place, place, what)
    return draw(st.lists(change, max_size=most))


def turned(content, changes):
    """Return a spreadsheet after some changes; all of them can be applied."""
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        parts = {each: packed.read(each) for each in packed.namelist()}
    twice = []
    for way, one, two, three, what in changes:
        names = list(parts)
        name, other = names[int(one * len(names))], names[int(two * len(names))]
        part = parts[name]
        if way == "drop part":
            if len(parts) > 1:
                del parts[name]
        elif way == "double part":
            twice.append((name, parts[other]))
        elif way == "swap parts":
            parts[name], parts[other] = parts[other], part
        elif way == "cut part":
            parts[name] = part[: int(three * len(part))]
        elif way == "byte" and part:
            at = int(two * len(part))
            parts[name] = part[:at] + bytes([int(three * 256)]) + part[at + 1 :]
        elif way == "entity":
            head = b'<!DOCTYPE x [<!ENTITY x "' + b"x" * 500 + b'">]>'
            parts[name] = part.replace(b"?>", b"?>" + head, 1)
        elif way in {"attribute", "text"}:
            parts[name] = _within(part, way, two, what)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, part in (*parts.items(), *twice):
            made.NameToInfo.pop(name, None)  # which would warn of a second one
            made.writestr(zipfile.ZipInfo(name), part)
    return _repacked(bytearray(out.getvalue()), changes)


def _within(part, way, where, what):
    """Return a part with one of its attributes, or texts between tags, changed."""
    pattern = rb'="([^"]*)"' if way == "attribute" else rb">([^<]*)<"
    found = list(re.finditer(pattern, part))
    if not found:
        return part
    place = found[int(where * len(found))]
    text = what.encode("utf-8", "replace")
    return part[: place.start(1)] + text + part[place.end(1) :]


def _repacked(content, changes):
    """Return a packed file after the changes of its bytes, and of sizes it tells."""
    for way, one, two, _, _ in changes:
        if not content:
            break
        if way == "packed byte":
            content[int(one * len(content))] = int(two * 256)
        elif way == "packed cut":
            del content[int(one * len(content)) :]
        elif way == "told size":
            heads = [x.start() for x in re.finditer(b"PK\x01\x02", bytes(content))]
            if heads:
                at = heads[int(one * len(heads))] + 24
                content[at : at + 4] = int(two * 2**32).to_bytes(4, "little")
    return bytes(content)
