"""A rule carries what it is about, its figures and their doubt."""

import importlib
import math
from pathlib import Path

import pytest
from msgspec.structs import replace

import optimiser.reading.kinds
import optimiser.rules.kinds
from optimiser.domain.kinds.ratios import Ratio
from optimiser.domain.material import Origin
from optimiser.domain.rule import Row, Rule, Term, eased_ends
from optimiser.domain.wording import Measured
from optimiser.errors import InputError
from optimiser.explaining import check, formulate
from optimiser.reading.asking import Asking
from optimiser.reading.kinds import file_with
from optimiser.reading.kinds.ratios import RatioTable
from optimiser.reading.layers import Merged
from optimiser.rules.figures import counted, sums
from optimiser.rules.kinds import ratios
from optimiser.rules.space import Space
from optimiser.science import mixing
from optimiser.studies.robust import Doubt, robust
from tests.rules import workbench as wb

KNOWN = wb.catalogue(
    {"oil": "liquid oil", "butter": "hard butter", "new": "hard butter"},
    prices={"oil": 4.0, "butter": 12.0, "new": 6.0},
    figures={
        "iodine value": {
            "oil": wb.figure(110.0, 100.0, 120.0, unit="g/100 g"),
            "butter": wb.figure(36.0, 34.0, 38.0, unit="g/100 g"),
        },
        "saponification value": {
            "oil": wb.figure(190.0, 186.0, 194.0, unit="mg/g"),
            "butter": wb.figure(195.0, 190.0, 200.0, unit="mg/g"),
        },
    },
)
FATS = (wb.bound("hard butter"), wb.bound("liquid oil"))


def iodine(low, high, origin="windows[1]"):
    window = wb.window("iodine value", low, high, over="fats")
    return replace(window, origin=wb.toml(origin))


def test_a_window_of_two_sides_is_in_as_much_doubt_as_two_windows():
    one = wb.scenario(bands=FATS, windows=(iodine(60.0, 80.0),))
    apart = iodine(60.0, None), iodine(None, 80.0, "windows[2]")
    two = wb.scenario(bands=FATS, windows=apart)
    found = [robust(each, KNOWN, Doubt(0.0), (1.0,), draws=400) for each in (one, two)]
    assert found[0].simulated.kept == found[1].simulated.kept
    assert 0.2 < found[0].simulated.kept < 0.9
    premiums = [each.budgets[0].premium for each in found]
    assert premiums[0] == pytest.approx(premiums[1])
    assert premiums[0] > 0.01


def test_a_window_of_another_file_with_the_same_number_is_judged_by_itself():
    own = replace(
        wb.window("iodine value", None, 60.0, over="fats"),
        origin=Origin("own.toml", field="windows[1]"),
    )
    lacking = wb.window("density", 900.0, at=20.0, over="fats")
    asked = wb.scenario(bands=FATS, windows=(lacking, own))
    checked = check({"oil": 60.0, "butter": 40.0}, asked, KNOWN)
    assert checked.status == "broken"
    assert [line.slack is None for line in checked.lines if line.rule.terms or
            line.rule.lacking] == [True, False]  # fmt: skip
    assert checked.missing == (
        "density at 20 °C over the fats was not judged: nothing is known of it for"
        " oil, butter",
    )


def both(space):
    """A kind of rule of its own: iodine and saponification value add to at least 250.

    It is made of terms alone, as a new kind of rule on figures would be.
    """
    known, lacking = [], []
    for name in ("iodine value", "saponification value"):
        terms, unknown = counted(space, name, None, "fats", below=0.0)
        known += terms
        lacking += unknown
    total = sums(known, "min", cautious=space.scenario.cautious)
    yield Rule(
        id="both",
        wording=Measured("iodine and saponification value together", ""),
        kind="both",
        side="min",
        limit=250.0,
        unit="",
        amounts=total.above,
        per=space.sum_of(space.members("fats")),
        owner="wish",
        origin=wb.toml("both"),
        terms=tuple(known),
        lacking=tuple(lacking),
        provisos=total.provisos,
    )


@pytest.fixture
def with_both(monkeypatch):
    building = importlib.import_module("optimiser.rules.build")
    monkeypatch.setattr(building, "KINDS", (*building.KINDS, both))


@pytest.mark.usefixtures("with_both")
def test_an_unknown_figure_of_a_new_kind_of_rule_is_no_zero():
    answer = formulate(wb.scenario(bands=FATS), KNOWN)
    assert [(x.ingredient, x.why) for x in answer.left_out] == [
        ("new", "no iodine value is known")
    ]
    with pytest.raises(InputError, match="asked for by the scenario, but no iodine"):
        formulate(wb.scenario(bands=FATS, base={"new": 100.0}), KNOWN)
    checked = check({"oil": 50.0, "new": 50.0}, wb.scenario(bands=FATS), KNOWN)
    line = next(line for line in checked.lines if line.rule.id == "both")
    assert line.value is None
    assert "was not judged" in checked.missing[0]


@pytest.mark.usefixtures("with_both")
def test_figures_of_a_new_kind_of_rule_are_in_doubt():
    dear = wb.catalogue(
        {"oil": "liquid oil", "butter": "hard butter"},
        prices={"oil": 12.0, "butter": 4.0},
        figures=KNOWN.figures and {
            name: {k: v[None] for k, v in each.items()}
            for name, each in KNOWN.figures.items()
        },
    )  # fmt: skip
    found = robust(wb.scenario(bands=FATS), dear, Doubt(0.0), (1.0,), draws=400)
    # By hand: 36 + 195 of butter and 110 + 190 of oil make 250 at 27.54 % of oil.
    assert found.plain.amounts["oil"] == pytest.approx(100 * 19 / 69)
    assert 0.2 < found.simulated.kept < 0.8
    assert found.budgets[0].premium > 0.0
    # At its worst the doubt that weighs most: butter's 2 + 5, or oil's 10 + 4.
    share = found.budgets[0].formula.amounts["oil"] / 100.0
    lost = max(7.0 * (1.0 - share), 14.0 * share)
    assert 231.0 + 69.0 * share - lost == pytest.approx(250.0)


@pytest.mark.usefixtures("with_both")
def test_a_new_kind_of_rule_has_a_price_and_a_place_in_a_clash():
    answer = formulate(wb.scenario(bands=FATS), replace(KNOWN, prices={
        "oil": (wb.pack("oil", 12.0),), "butter": (wb.pack("butter", 4.0),)
    }))  # fmt: skip
    line = next(line for line in answer.rules if line.rule.id == "both")
    # One unit more asks for 100 / 69 % more oil, 8 dearer than butter.
    assert line.tighten.price == pytest.approx(0.08 * 100 / 69)
    asked = wb.scenario(bands=(wb.bound("hard butter", 90.0), wb.bound("liquid oil")))
    clash = formulate(asked, KNOWN)
    assert {rule.id for rule in clash.rules} >= {"both", "band/hard butter/min"}


@pytest.mark.usefixtures("with_both")
def test_a_new_kind_of_rule_about_nothing_that_can_be_chosen_is_told():
    waxes = wb.catalogue({"bees": "wax"})
    answer = formulate(wb.scenario(bands=(wb.bound("wax"),)), waxes)
    assert [rule.id for rule in answer.basis.silent] == ["both"]
    # A band on what is not there is kept as it is meant, and not told.
    bands = wb.bound("wax"), wb.bound("scent", None, 1.0)
    banded = formulate(wb.scenario(bands=bands), waxes)
    assert [rule.id for rule in banded.basis.silent] == ["both"]


def told_odd(space):
    """The rules of ratios as a kind that nothing else has heard of."""
    return (replace(each, kind="odd") for each in ratios.rules(space))


def test_a_new_kind_of_rule_frees_what_is_there_in_small_doses(monkeypatch):
    building = importlib.import_module("optimiser.rules.build")
    kinds = [told_odd if each is ratios.rules else each for each in building.KINDS]
    monkeypatch.setattr(building, "KINDS", tuple(kinds))
    known = wb.catalogue({"oil": "liquid oil", "lavender": "scent", "rose": "scent"})
    base = {"oil": 98.0, "lavender": 1.0, "rose": 1.0}
    ratio = wb.ratio("r", {"lavender"}, {"rose"}, high=2.0)
    free = wb.rules_of(wb.scenario(base=base, others=(ratio,)), known)
    assert [x for x in free if x.startswith("minor/")] == []
    mixed = wb.ratio("r", {"lavender"}, {"rose", "oil"}, high=2.0)
    kept = wb.rules_of(wb.scenario(base=base, others=(mixed,)), known)
    assert {"minor/lavender", "minor/rose"} <= set(kept)


@pytest.mark.usefixtures("with_both")
def test_a_rule_made_of_figures_says_that_it_counts_their_worse_ends():
    careful = wb.rules_of(wb.scenario(bands=FATS, cautious=True), KNOWN)
    assert careful["both"].sentence.endswith("250, at the worse end of its figures")
    plain = wb.rules_of(wb.scenario(bands=FATS), KNOWN)
    assert plain["both"].sentence.endswith("together at least 250")


def test_what_mixes_by_volume_is_never_added_up_by_weight():
    space = Space(wb.scenario(), KNOWN, ("oil",))
    with pytest.raises(ValueError, match="density is no sum by weight"):
        counted(space, "density", 20.0, "fats", below=0.0)


def test_what_no_blend_has_is_refused_and_never_counted_as_nothing():
    with pytest.raises(ValueError, match="no blend has"):
        mixing.terms("", 36.0, False)


def test_what_adds_figures_up_to_more_than_100_percent_ends_nowhere_by_itself():
    doubt = ("score", "a")
    figure = wb.figure(80.0)
    twice = Term(0, figure, "mass", solid=False, doubt=doubt, above=2.0)
    sum_of_two = Rule(
        id="two",
        wording=Measured("two together"),
        kind="two",
        side="max",
        limit=120.0,
        unit="%",
        amounts=Row.of([(0, 160.0)]),
        per=Row.of([(0, 1.0)]),
        owner="wish",
        origin=wb.toml("two"),
        terms=(twice,),
    )
    assert eased_ends(sum_of_two) == (-math.inf, math.inf)
    assert eased_ends(replace(sum_of_two, terms=())) == (0.0, 100.0)
    once = replace(sum_of_two, amounts=Row.of([(0, 80.0)]))
    assert eased_ends(once) == (0.0, 100.0)


def test_what_a_file_asks_of_a_kind_is_found_by_the_kind():
    ratio = wb.ratio("r", {"oil"}, {"butter"}, high=2.0)
    asked = wb.scenario(others=(wb.bound("liquid oil"), ratio))
    assert list(asked.asked_for(Ratio)) == [ratio]


@pytest.mark.parametrize(
    ("shape", "held", "found"),
    [
        (list[RatioTable], [{"first": ["a"], "second": ["b"]}], [("odd[1]", "a")]),
        (dict[str, RatioTable], {"x": {"first": ["c"], "second": ["b"]}},
         [("odd.x", "c")]),
        (RatioTable, {"first": ["d"], "second": ["b"]}, [("odd", "d")]),
        (list[RatioTable], None, []),
        (dict[str, RatioTable], None, []),
        (RatioTable, None, []),
    ],
)  # fmt: skip
def test_a_kinds_own_key_holds_tables_in_any_of_three_ways(shape, held, found):
    places = {
        ("odd",): wb.toml("odd"),
        ("odd", 0): wb.toml("odd[1]"),
        ("odd", "x"): wb.toml("odd.x"),
    }
    file = file_with({"odd": shape}).model_validate(
        {} if held is None else {"odd": held}
    )
    asking = Asking(
        "test.toml", Merged(origins=places), file, KNOWN,
        shaky=set(), whole=True, problems=[],
    )  # fmt: skip
    read = list(asking.tables("odd", RatioTable))
    assert [(origin.field, table.first[0]) for origin, table in read] == found


def test_each_reader_of_a_kind_has_rules_of_its_name():
    named = [
        sorted(path.stem for path in Path(package.__path__[0]).glob("[a-z]*.py"))
        for package in (optimiser.reading.kinds, optimiser.rules.kinds)
    ]
    assert named[0] == named[1] != []


def test_a_limit_that_a_rule_cannot_have_is_refused_by_the_rule_itself(monkeypatch):
    def ended(space):
        return (replace(each, ends=(0.0, 260.0)) for each in both(space))

    building = importlib.import_module("optimiser.rules.build")
    monkeypatch.setattr(building, "KINDS", (*building.KINDS, ended))
    asked = wb.scenario(bands=FATS, eased={"both": (260.5, wb.toml("eased.both"))})
    with pytest.raises(InputError) as caught:
        formulate(asked, KNOWN)
    problem = caught.value.problems[0]
    assert (problem.field, problem.found, problem.wrong, problem.fix) == (
        "eased.both", "260.5", "is more than 260", "write a number from 0 to 260",
    )  # fmt: skip
    below = replace(asked, eased={"both": (-1.0, wb.toml("eased.both"))})
    with pytest.raises(InputError, match="is less than 0"):
        formulate(below, KNOWN)
    at_its_end = replace(asked, eased={"both": (260.0, wb.toml("eased.both"))})
    line = next(x for x in formulate(at_its_end, KNOWN).rules if x.rule.id == "both")
    assert line.rule.limit == 260.0
