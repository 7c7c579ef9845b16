"""Every reader, fed with the files of a workspace turned wrong."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.reading.records import FILE, read_book
from tests.fuzz import books
from tests.fuzz.conftest import tried
from tests.fuzz.mutating import TABLE, edits, mutated
from tests.fuzz.reading_it import Readers
from tests.fuzz.small import MORE
from tests.fuzz.watching import problems_of
from tests.fuzz.workbooks import as_workbook, changes_of_parts, turned


@pytest.fixture(scope="module")
def readers(small):
    return Readers(small)


def files(folder):
    """Return the names and texts of the files of a workspace."""
    return {
        path.relative_to(folder).as_posix(): path.read_text("utf-8")
        for path in sorted(folder.rglob("*.*"))
    }


def test_the_small_workspace_has_no_problem(small, readers):
    assert set(MORE) | {"scenarios/bar.toml"} <= set(files(small))
    for name in files(small):
        assert problems_of(readers.of(name)) == (), name


@tried(few=250)
@given(place=st.floats(0, 1, exclude_max=True), changes=edits())
def test_no_file_breaks_its_reader(small, readers, place, changes):
    path, text, name = chosen(small, place)
    path.write_bytes(mutated(text, changes, table=path.suffix == ".csv"))
    try:
        for each in problems_of(readers.of(name)):
            assert each.file, each
            assert len(str(each)) < 20_000
    finally:
        path.write_text(text, "utf-8")


_texts: dict = {}


def chosen(folder, place):
    """Return one of the files: its path, text and name."""
    texts = _texts.setdefault(folder, files(folder))
    name = list(texts)[int(place * len(texts))]
    return folder / name, texts[name], name


# A spreadsheet, and the tables that it holds.
DEMO = "catalogues/workshops/demo"
SPREADSHEETS = {
    "formula.xlsx": {"table": "formula.csv"},
    "kitchen.xlsx": {"table": "kitchen.csv"},
    "recipes.xlsx": {"empty": None, "table": "recipes.csv"},
    "trials.xlsx": {"table": "trials.csv"},
    "weights.xlsx": {"table": "weights.csv"},
    "sheet.xlsx": {"table": "sheet.csv"},
    "own.xlsx": {"prices": f"{DEMO}/prices.csv", "stock": f"{DEMO}/stock.csv"},
}


def spreadsheet(texts, name, cells=()):
    """Return a spreadsheet with its tables, whose cells are changed."""
    held = {
        sheet: "" if file is None else mutated(texts[file], cells, table=True).decode()
        for sheet, file in SPREADSHEETS[name].items()
    }
    return as_workbook(held)


def test_the_spreadsheets_have_no_problem(small, readers):
    texts = files(small)
    for name in SPREADSHEETS:
        (small / name).write_bytes(spreadsheet(texts, name))
        assert problems_of(readers.of(name)) == (), name
        (small / name).unlink()


@tried(few=100)
@given(
    which=st.integers(0, len(SPREADSHEETS) - 1),
    cells=edits(most=2).map(lambda found: [x for x in found if x[0] in TABLE]),
    changes=changes_of_parts(),
)
def test_no_spreadsheet_breaks_its_reader(small, readers, which, cells, changes):
    name = list(SPREADSHEETS)[which]
    texts = _texts.setdefault(small, files(small))
    path = small / name
    path.write_bytes(turned(spreadsheet(texts, name, cells), changes))
    try:
        for each in problems_of(readers.of(name)):
            assert each.file, each
            assert len(str(each)) < 20_000
    finally:
        path.unlink()


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """Return a book that is whole, and its bytes."""
    path = books.book(tmp_path_factory.mktemp("book") / FILE)
    return path, path.read_bytes()


@tried(few=40)
@given(changes=books.changes_of_book())
def test_no_book_breaks_its_reader(written, changes):
    path, whole = written
    books.turn(path, changes)
    try:
        problems_of(lambda: _walked(read_book(path, FILE)))
        assert not list(path.parent.glob("*.part"))
    finally:
        books.rebuilt(path, whole)


def _walked(book):
    """Ask a book what is asked of it."""
    for each in book.batches:
        assert book.batch(each.made.number) is not None
        assert each.grams >= 0.0
        assert sum(each.formula.values()) < 100.1
    for each in book.entries:
        book.latest(each)
