"""Sources are works, standards or kinds of page, and grades follow what was read."""

import csv
import pathlib
import re

import pytest

CATALOGUES = pathlib.Path(__file__).resolve().parents[2] / "catalogues"
TABLES = sorted(CATALOGUES.rglob("*.csv"))
# What tells of a way to a work, or of who looked, rather than of the work.
WAY = re.compile(
    r"https?:|\bwww\.|\.(com|org|net|io)\b|excerpt|stored cop|public(ly)? cop|"
    r"repositor|queried|downloaded|collector|somebody",
    re.IGNORECASE,
)


def rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


REFERENCES = {
    row["key"]: row["reference"]
    for path in TABLES
    if path.name == "sources.csv"
    for row in rows(path)
}


@pytest.mark.parametrize(
    "path", TABLES, ids=lambda path: path.relative_to(CATALOGUES).as_posix()
)
def test_a_table_tells_of_works_and_not_of_the_way_to_them(path):
    found = [line for line in path.read_text("utf-8").splitlines() if WAY.search(line)]
    assert found == []


def test_what_is_graded_measured_or_reviewed_has_a_work_with_its_year():
    graded = [
        row
        for path in TABLES
        for row in rows(path)
        if row.get("evidence") in {"measured", "review"}
    ]
    assert graded
    for row in graded:
        assert re.search(r"\b(19|20)\d\d\b", REFERENCES[row["source"]]), row


def test_a_source_from_memory_grades_nothing_as_read():
    recalled = {
        key for key, told in REFERENCES.items() if re.search(r"\bfrom memory$", told)
    }
    assert len(recalled) > 20
    for path in TABLES:
        for row in rows(path):
            if row.get("source") in recalled:
                known = row.get("evidence") or row.get("verified") or ""
                assert known not in {"measured", "review", "retrieved"}, row


# A key is made of the INCI name; the words of the trade are other names for it.
@pytest.mark.parametrize(
    ("key", "trade"),
    [
        ("behentrimonium_methosulfate_cetearyl_25", "btms-25"),
        ("behentrimonium_methosulfate_cetyl_50", "btms-50"),
    ],
)
def test_words_of_the_trade_are_names_and_not_keys(key, trade):
    table = rows(CATALOGUES / "materials" / "ingredients.csv")
    known = {row["key"]: row for row in table}
    assert trade in known[key]["aliases"].split(";")
    assert not any(each.startswith("btms") for each in known)
