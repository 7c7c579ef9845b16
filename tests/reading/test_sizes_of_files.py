"""Files of any size end in a message soon, and take little memory for it."""

import time
import tracemalloc

import pytest

from optimiser.errors import Problem
from optimiser.reading import layers, tables
from optimiser.reading.tables import Columns, read_table
from optimiser.reading.toml_text import parse_toml, read_toml

DEEP = "it: has too many levels in each other.\n  To fix: write the tables and lists"
MEGABYTE = 1 << 20


def said(text):
    """Return what is said of a text that is no TOML, or none that is read."""
    problems: list[Problem] = []
    assert parse_toml(text, "it", problems) is None
    (problem,) = problems
    return str(problem)


@pytest.mark.parametrize(
    "text",
    [
        ".".join(["a"] * 20_000) + " = 1",
        "[" + ".".join(["a"] * 20_000) + "]",
        "x = {" + ".".join(["a"] * 20_000) + " = 1}",
        "x = { y = 1, \"a\" . 'b' " + '."\\"" ' * 10_000 + "= 1}",
        "".join(f"a{n}." + ".".join(["b"] * 200) + " = 1\n" for n in range(100)),
    ],
)
def test_dotted_keys_without_end_take_no_memory(text):
    tracemalloc.start()
    try:
        told = said(text)
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert told.startswith(DEEP)
    assert most < 8 * MEGABYTE


@pytest.mark.parametrize(
    "text", ["x = " + "[" * 20 + "]" * 20, "x={a=" * 20 + "}" * 20]
)
def test_more_levels_than_any_file_needs_are_told(text):
    assert "not written as TOML" in said(text) or said(text).startswith(DEEP)


def test_many_points_in_a_text_are_no_levels():
    problems: list[Problem] = []
    text = 'title = "' + "one. " * 40 + '"\n# ' + ". " * 40
    assert parse_toml(text, "it", problems) == {"title": "one. " * 40}
    assert problems == []


@pytest.mark.parametrize(
    "line",
    [
        "title = hello" + " " * 3000 + "!",
        "title = a" + "\t" * 3000 + "b -" * 3000 + "!",
        "a" + " " * 3000 + "!",
        "a " * 3000 + "!",
        "=1" + "1" * 30_000 + "!",
        "= " * 30_000,
        "a.b = 1\n" + "a." * 12 + "a" * 30_000 + " " * 30_000 + "!",
        "a = 1\na = " + "1" * 4000 + "\n" + "a.a " * 3000,
        "a = 1\n" + "x.y " * 10_000 + "\na = 2",
    ],
)
def test_what_is_said_of_a_line_takes_no_time(line):
    start = time.process_time()
    assert "To fix: " in said(line)
    assert time.process_time() - start < 10.0  # it is a hundredth; without a bound, 40


def test_toml_larger_than_any_scenario_is_not_read(tmp_path):
    path = tmp_path / "big.toml"
    path.write_text("x" * 2_000_001, encoding="utf-8")
    problems: list[Problem] = []
    assert read_toml(path, "big.toml", problems) is None
    assert [str(each) for each in problems] == [
        "big.toml: is larger than 2 MB.\n  To fix: keep only what is used."
    ]


def test_a_scenario_of_more_rules_than_anybody_writes_is_refused(desk):
    many = "".join(f'"n{number}" = {{ max = 1 }}\n' for number in range(10_000))
    assert desk.said_with(f"[limits]\n{many}") == (
        "bar.toml: has more than 10000 entries, with what it extends.\n"
        "  To fix: keep only what is used."
    )
    names = ", ".join(f'"n{number}"' for number in range(10_000))
    assert "more than 10000 entries" in desk.said_with(
        f"[only]\ningredients = [{names}]"
    )


def test_a_long_chain_of_files_is_refused(desk):
    for number in range(40):
        desk.write(f"{number}.toml", f'extends = "{number + 1}.toml"\n')
    assert desk.said('extends = "1.toml"') == (
        "bar.toml: extends more than 31 files in a row.\n"
        "  To fix: keep only what is used."
    )


def test_a_chain_as_long_as_allowed_is_read(desk, monkeypatch):
    monkeypatch.setattr(layers, "MOST_FILES", 3)
    desk.scenario(name="base.toml")
    desk.write("middle.toml", 'extends = "base.toml"\n')
    assert desk.scenario('extends = "middle.toml"').title == "Winter bar"
    desk.write("more.toml", 'extends = "middle.toml"\n')
    assert "extends more than 2 files" in desk.said('extends = "more.toml"')


COLUMNS = Columns("ingredient,amount", "")


def table_of(tmp_path, text):
    """Return a table with the problems of it and of the numbers in it, as told."""
    path = tmp_path / "it.csv"
    path.write_text(f"ingredient,amount\n{text}", encoding="utf-8")
    problems: list[Problem] = []
    table = read_table(path, "it.csv", COLUMNS, problems)
    return list(table.each(lambda row: row.need_number("amount"))), problems


def test_a_table_of_bad_rows_is_read_up_to_a_thousand_problems(tmp_path):
    found, problems = table_of(tmp_path, "a,b\n" * 2000)
    assert (found, len(problems)) == ([], 1002)
    assert str(problems[-1]) == (
        "it.csv, row 1002: has over 1000 problems up to here; what follows is not"
        " read.\n  To fix: see that it is the right file."
    )
    found, problems = table_of(tmp_path, "a,1,2\n" * 2000)
    assert (found, len(problems)) == ([], 1002)


def test_a_table_longer_than_any_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(tables, "MOST_ROWS", 10)
    assert len(table_of(tmp_path, "a,1\n" * 10)[0]) == 10
    found, problems = table_of(tmp_path, "a,1\n" * 11)
    assert found == []
    assert [str(each) for each in problems] == [
        "it.csv: has more than 10 rows.\n  To fix: keep only the rows that are used."
    ]


def test_nothing_below_a_table_is_passed_over_but_not_without_end(
    tmp_path, monkeypatch
):
    monkeypatch.setattr(tables, "MOST_LINES", 50)
    assert table_of(tmp_path, "a,1\n" + ",\n" * 40) == ([1.0], [])
    assert table_of(tmp_path, "a,1\n" + ",\n" * 60)[0] == []


def test_a_table_larger_than_any_is_not_read(tmp_path):
    assert [str(each) for each in table_of(tmp_path, "," * 20_000_000)[1]] == [
        "it.csv: is larger than 20 MB.\n  To fix: keep only the rows that are used."
    ]


def test_a_long_cell_is_cut_in_its_message(tmp_path):
    (problem,) = table_of(tmp_path, "a," + "x" * 100_000 + "\n")[1]
    assert problem.found == "x" * 100 + "..."
