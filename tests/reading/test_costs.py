"""What a maker states of costs: costs.toml, and the rate of work in scale.toml."""

from decimal import Decimal

import pytest

from optimiser.domain.costs import Costs, Fee, Labour, Overhead, Packaging, Stated, Tax
from optimiser.errors import InputError
from optimiser.reading.costs import read_costs

D = Decimal
ALL = """\
note = "my own"

[[packaging]]
name = "tin"
price = { usual = 0.55, low = 0.45, high = 0.80 }

[[packaging]]
name = "carton"
price = 0.90
for_units = 24

[labour]
minutes_per_batch = 75
minutes_per_unit = { usual = 2, high = 3 }

[making]
batches_a_month = 8

[[overheads]]
name = "insurance"
per_month = 28

[[overheads]]
name = "power"
per_batch = 1.5

[[overheads]]
name = "stamp"
per_unit = 0.05

[sales]
not_sold = 4
units_a_sale = 1.5

[[fees]]
name = "card"
percent = 1.5
per_sale = 0.20
sold = "Own sale"

[[fees]]
name = "stall"
percent = 20

[tax]
rate = 20
in_prices = true

[[ways]]
name = "half"
way = "margin"
percent = 50

[[ways]]
way = "times cost"
times = 2.5
"""


@pytest.fixture
def read(tmp_path):
    folder = tmp_path / "catalogues" / "workshops" / "demo"
    folder.mkdir(parents=True)

    def put(costs, scale=""):
        if costs is not None:
            (folder / "costs.toml").write_text(costs, encoding="utf-8")
        if scale is not None:
            (folder / "scale.toml").write_text(scale, encoding="utf-8")
        return read_costs(tmp_path / "scenarios" / "bar.toml", "demo", "EUR")

    return put


def problems(read, *texts):
    with pytest.raises(InputError) as told:
        read(*texts)
    return told.value.problems


def test_every_number_is_read_as_it_is_written(read):
    found = read(ALL, '[labour]\nrate = "18 EUR/h"\n')
    assert found.note == "my own"
    assert found.packaging == (
        Packaging("tin", Stated(D("0.55"), D("0.45"), D("0.8"))),
        Packaging("carton", Stated(D("0.9")), D(24)),
    )
    assert found.labour == Labour(
        Stated(D(18)), Stated(D(75)), Stated(D(2), None, D(3))
    )
    assert found.overheads == (
        Overhead("insurance", Stated(D(28)), "month"),
        Overhead("power", Stated(D("1.5")), "batch"),
        Overhead("stamp", Stated(D("0.05")), "unit"),
    )
    assert (found.batches_a_month, found.not_sold) == (Stated(D(8)), Stated(D(4)))
    assert found.units_a_sale == D("1.5")
    assert found.fees == (
        Fee("card", D("1.5"), D("0.2"), "own sale"),
        Fee("stall", D(20), D(0), "both"),
    )
    assert found.tax == Tax(D(20), True)
    assert [(x.name, x.way, x.numbers) for x in found.ways] == [
        ("half", "margin", {"percent": D(50)}),
        ("times cost", "times cost", {"times": D("2.5")}),
    ]


def test_what_is_not_written_is_not_known_and_an_empty_list_is_none(read):
    for scale in (None, ""):  # without the file, and without [labour] in it
        assert read(None, scale) == Costs("demo/costs.toml", there=False)
    found = read("packaging = []\nfees = []\n[sales]\nnot_sold = 0\n")
    assert (found.packaging, found.fees, found.overheads) == ((), (), None)
    assert found.not_sold == Stated(D(0))


@pytest.mark.parametrize("rate", ['"18 EUR/h"', '"18.0 EUR / hour"', "18", "18.0"])
def test_the_rate_of_work_is_read_where_it_stands(read, rate):
    assert read("", f"[labour]\nrate = {rate}\n").labour.rate.value == 18


RATES = {
    '"18 USD/h"': "demo/scale.toml, key labour.rate: '18 USD/h' is not in EUR, as"
    ' prices are.\n  To fix: write [labour] and, below it, rate = "18 EUR/h".',
    '"18"': "demo/scale.toml, key labour.rate: '18' is no money an hour.\n"
    '  To fix: write [labour] and, below it, rate = "18 EUR/h".',
    "-2": "demo/scale.toml, key labour.rate: '-2' is not a number from 0 up to 1e+06.\n"
    "  To fix: write rate = 18.",
    "true": "demo/scale.toml, key labour.rate: 'true' is not a number.\n"
    "  To fix: write rate = 18.",
}


INVENTED = 'evidence = "invented"\n'


def test_invented_money_in_another_currency_does_not_count_and_is_told(read):
    scale = f'{INVENTED}[labour]\nrate = "18 USD/h"\n'
    found = read(f'{INVENTED}currency = "USD"\n{ALL}', scale)
    assert found.uncounted == (
        "demo/scale.toml, labour.rate 18 USD/h",
        "demo/costs.toml, in USD",
    )
    assert (found.packaging, found.ways, found.labour) == (None, (), Labour())
    assert found.invented
    kept = read(f'{INVENTED}currency = "EUR"\n{ALL}', scale)
    assert (len(kept.packaging), len(kept.ways)) == (2, 2)
    assert kept.uncounted == ("demo/scale.toml, labour.rate 18 USD/h",)


def test_money_of_one_s_own_in_another_currency_is_told(read):
    (told,) = problems(read, f'currency = "USD"\n{ALL}')
    assert str(told) == (
        "demo/costs.toml, key currency: 'USD' is not EUR, as prices are.\n"
        '  To fix: convert its figures, and write currency = "EUR".'
    )
    (told,) = problems(read, f'{INVENTED}currency = "dollar"\n{ALL}')
    assert "is not a currency of three capital letters" in str(told)


@pytest.mark.parametrize("rate", RATES)
def test_a_rate_that_is_none_is_told(read, rate):
    (told,) = problems(read, "", f"[labour]\nrate = {rate}\n")
    assert str(told) == RATES[rate]


def test_every_slip_is_told_at_once_with_its_key_what_was_found_and_a_fix(read):
    text = """\
colour = 1
fees = [{ name = "card" }, { name = "stall", percent = 100, sold = "fairs" }]
[[packaging]]
price = "0,95"
[[packaging]]
name = "tin"
price = { usual = 1, low = 2, hi = 3 }
for_units = 0
[[packaging]]
name = "Tin"
[labour]
rate = 18
minutes_per_batch = "an hour"
[making]
batches_a_month = 0
[[overheads]]
name = "rent"
per_month = 1
per_unit = 2
[sales]
not_sold = 100
[tax]
rate = 20
in_prices = "yes"
[[ways]]
name = "mine"
way = "marign"
[[ways]]
name = "shop"
way = "wholesale, then retail"
times = 2
percent = 3
"""
    found = problems(read, text, '[labour]\nrate = "18 USD/h"\n')
    assert {each.file for each in found} == {"demo/costs.toml", "demo/scale.toml"}
    assert all(each.fix for each in found)
    assert [(each.field, each.found, each.wrong) for each in found] == [
        ("labour.rate", "18 USD/h", "is not in EUR, as prices are"),
        (None, "colour", "is not a key here"),
        ("labour", "rate", "is not a key here"),
        ("packaging, number 1: price", "0,95", "is not a number"),
        ("packaging, number 1: name", None, "is missing"),
        ("packaging, number 2: price.hi", None, "is not a key here"),
        (
            "packaging, number 2: for_units",
            "0",
            "is not a number above 0 up to 1e+06",
        ),
        ("packaging, number 3: price", None, "is missing"),
        ("packaging, number 3: name", "Tin", "is there twice"),
        ("labour.minutes_per_batch", "an hour", "is not a number"),
        ("overheads, number 1", None, "says how much twice"),
        ("making.batches_a_month", "0", "is not a number above 0 up to 10000"),
        ("sales.not_sold", "100", "is not a number from 0 up to 90"),
        ("fees, number 1", None, "says not how much it is"),
        ("fees, number 2: percent", "100", "is not a number from 0 below 100"),
        ("fees, number 2: sold", "fairs", "is not known here"),
        ("tax.in_prices", "yes", "is neither true nor false"),
        ("ways, number 1: way", "marign", "is not known here"),
        ("ways, number 2", "percent", "is not a key here"),
        ("ways, number 2: then_times", None, "is missing"),
    ]


SHAPES = {
    "packaging = 3": ("packaging", "is no list of tables"),
    'tax = "20 %"': ("tax", "is no table"),
    "[labour]\nminutes_per_unit = nan": (
        "labour.minutes_per_unit",
        "is not a number from 0 up to 100000",
    ),
    "[sales]\nnot_sold = { low = 2 }": ("sales.not_sold.usual", "is missing"),
    "[sales]\nnot_sold = { usual = 3, low = 4 }": (
        "sales.not_sold",
        "does not go from low over usual to high",
    ),
}


@pytest.mark.parametrize("text", SHAPES)
def test_a_value_of_another_shape_is_told(read, text):
    found = problems(read, text)
    assert (found[0].field, found[0].wrong) == SHAPES[text]


def test_a_file_that_is_no_toml_is_told_by_its_line(read):
    (told,) = problems(read, "[tax]\nrate = 20 %\n")
    assert told.file == "demo/costs.toml"
    assert "line 2" in told.wrong


def test_a_file_of_costs_without_the_rest_of_its_folder_says_to_copy_it_whole(tmp_path):
    folder = tmp_path / "catalogues" / "workshops" / "mine"
    folder.mkdir(parents=True)
    (folder / "costs.toml").write_text('currency = "GBP"\n', encoding="utf-8")
    bar = tmp_path / "scenarios" / "bar.toml"

    def told():
        with pytest.raises(InputError) as error:
            read_costs(bar, "mine", "")
        (problem,) = error.value.problems
        assert problem.file == "mine/costs.toml"
        assert problem.fix == "copy the whole folder mine, not costs.toml alone"
        return problem.wrong

    assert told() == "stands alone: its folder has no prices.csv and no scale.toml"
    (folder / "scale.toml").touch()
    assert told() == "stands alone: its folder has no prices.csv"
    (folder / "prices.csv").touch()
    assert read_costs(bar, "mine", "").there


TIN = '[[packaging]]\nname = "tin"\nprice = 1e6\nfor_units = '


@pytest.mark.parametrize("units", ["1e-300", "5e-324", "9e-7"])
def test_so_little_that_nothing_can_be_divided_by_it_is_told(read, units):
    (told,) = problems(read, f"{TIN}{units}\n")
    assert told.field == "packaging, number 1: for_units"
    assert told.wrong == "is less than 1e-06"
    assert read(f"{TIN}1e-6\n").packaging[0].for_units == D("0.000001")


def test_a_share_that_leaves_next_to_nothing_is_told(read):
    way = '[[ways]]\nname = "all"\nway = "margin"\npercent = '
    (told,) = problems(read, f"{way}99.99999999999999\n")
    assert told.wrong == "is not a number above 0 below 100"
    assert read(f"{way}99.999\n").ways[0].numbers == {"percent": D("99.999")}


def test_more_entries_than_anybody_keeps_are_told_at_once(read):
    entries = [f'[[packaging]]\nname = "p{x}"\nprice = 0.01\n' for x in range(101)]
    (told,) = problems(read, "".join(entries))
    assert told.field == "packaging"
    assert told.wrong == "holds 101 entries, more than 100"
    assert len(read("".join(entries[1:])).packaging) == 100
