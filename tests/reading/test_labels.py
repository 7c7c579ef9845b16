"""The table of label rules: what is wrong in it is told with its place."""

import shutil

import pytest

from optimiser.errors import InputError
from optimiser.reading import shipped_folder
from optimiser.reading.labels import FILE, TABLE, read_label_rules

GOOD = """\
EU,any order,,below 1,retrieved,Act,Art. 1,eu_duties,
EU,word,scent,Parfum,retrieved,Act,Art. 1,eu_duties,
any,letters,,1.2,memory,Act,Art. 2,eu_duties,
"""


@pytest.fixture
def problems(tmp_path):
    """Return a function that gives the problems of a table of these rows."""
    markets = tmp_path / "catalogues" / "markets"
    markets.mkdir(parents=True)
    shipped = shipped_folder("catalogues") / "markets"
    shutil.copy(shipped / "sources.csv", markets)

    def told(rows):
        (markets / FILE).write_text(f"{TABLE.header}\n{rows}", encoding="utf-8")
        try:
            read_label_rules(markets.parent)
        except InputError as error:
            return str(error)
        return ""

    return told


def test_a_table_needs_but_few_rows(problems):
    assert problems(GOOD) == ""


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        (GOOD.replace("below 1", "under 1"), "row 2, column value: 'under 1' is not"),
        (GOOD.replace("scent", "smell"), "row 3, column of: 'smell' is not one of"),
        (GOOD.replace("1.2", "small"), "row 4, column value: 'small' is not a number"),
        (GOOD.replace("1.2", "0"), "row 4, column value: '0' is not a number above 0"),
        (GOOD.replace("eu_duties", "eu_duty"), "row 2, column source: 'eu_duty'"),
        (GOOD.replace(",word,", ",words,"), "row 3, column rule: 'words' is not"),
        (GOOD.splitlines()[0] + "\n" + GOOD.splitlines()[2], "no row 'word' for EU"),
        ("\n".join(GOOD.splitlines()[:2]), "no row 'letters' for any market"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(problems, rows, told):
    assert told in problems(rows)


def test_all_that_is_wrong_is_told_at_once(problems):
    rows = GOOD.replace("below 1", "under 1").replace("scent", "smell")
    assert problems(rows).count("To fix:") == 2
