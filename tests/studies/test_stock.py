"""What the shelf makes, against batches tried one by one."""

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from optimiser.domain.material import Lot
from optimiser.errors import InputError
from optimiser.explaining import Answer, Clash, formulate
from optimiser.solving import Session
from optimiser.studies.stock import stock
from tests.rules.workbench import CSV, bound, catalogue, choice, pin, scenario, toml

KINDS = {
    "cocoa": "hard butter",
    "shea": "soft butter",
    "olive": "liquid oil",
    "grape": "liquid oil",
    "lavender": "scent",
}
BANDS = "hard butter", "soft butter", "liquid oil"
BASE = {"cocoa": 40.0, "shea": 20.0, "olive": 39.0, "lavender": 1.0}


def known(shelf):
    lots = tuple(
        lot if isinstance(lot, Lot) else Lot(lot[0], "A1", lot[1], None, CSV)
        for lot in shelf
    )
    return replace(catalogue(KINDS), stock=lots)


def asked(**more):
    bands = (bound("hard butter", 30, 50), bound("liquid oil", 20, 45))
    plain = {"base": BASE, "bands": bands, "pins": (pin("lavender", 1.0),)}
    return scenario(**(plain | more))


FULL = [("cocoa", 1.0), ("shea", 1.0), ("olive", 0.5), ("lavender", 0.1)]


def test_the_base_stops_at_what_runs_out_first():
    base = stock(asked(), known(FULL), 0.06).base
    assert (base.kg, base.units, base.first_out) == (
        pytest.approx(0.5 / 0.39),
        21,
        "olive",
    )


def test_the_most_is_made_by_bending_the_formula():
    result = stock(asked(), known(FULL))
    # 0.5 kg of oil may be 20 % of 2.5 kg and 1 kg of cocoa 30 % of 3.3 kg; with 0.1 kg
    # more oil everything but the scent, 2.6 kg, is 99 % of the batch.
    assert result.batch_kg == pytest.approx(2.5, abs=1e-6)
    assert dict(result.lasts)["olive"] == pytest.approx(2.5, abs=1e-6)
    assert result.lasts[0][1] == pytest.approx(2.5, abs=1e-6)
    helps = {each.name: each.kg_more for each in result.helps}
    assert helps["olive"] == pytest.approx(2.6 / 0.99 - 2.5, abs=1e-4)


def test_what_would_help_and_is_not_there_is_told_from_what_is():
    helps = stock(asked(only=("grape",)), known(FULL)).helps
    assert {each.name: each.on_shelf for each in helps} == {
        "olive": True,
        "grape": False,
    }


def test_whole_units_leave_some_over():
    result = stock(asked(), known(FULL), 0.4, 10.0)
    assert result.units == 5
    assert result.batch_kg == pytest.approx(5 * 0.4 / 0.9)
    assert sum(take.left_kg for take in result.takes) == pytest.approx(
        2.6 - result.batch_kg
    )


def test_the_lot_that_expires_first_goes_first():
    shelf = [
        Lot("olive", "late", 0.4, date(2027, 5, 1), CSV),
        Lot("olive", "none", 0.4, None, CSV),
        Lot("olive", "soon", 0.3, date(2026, 12, 1), CSV),
        *FULL[:2],
        FULL[3],
    ]
    takes = [t for t in stock(asked(), known(shelf)).takes if t.name == "olive"]
    assert [t.lot for t in takes] == ["soon", "late", "none"]
    assert takes[0].left_kg == 0.0
    assert takes[1].kg > 0


def test_what_is_missing_for_the_base_is_named():
    base = stock(asked(), known([*FULL[:2], ("grape", 1.0), FULL[3]])).base
    assert (base.kg, base.missing) == (0.0, ("olive",))


def test_not_one_unit_is_said():
    result = stock(asked(), known(FULL), 5.0)
    assert (result.units, result.formula) == (0, None)
    assert result.most_kg == pytest.approx(2.5, abs=1e-6)


def test_nothing_of_a_pinned_scent_is_a_clash():
    result = stock(asked(), known(FULL[:3]))
    assert isinstance(result, Clash)
    assert "nothing that is not on the shelf" in [r.sentence for r in result.rules]


def test_choices_are_kept():
    shelf = [*FULL, ("grape", 0.5)]
    of = asked(choices=(choice("liquid oil", None, 1),))
    result = stock(of, known(shelf))
    assert not {"olive", "grape"} <= set(result.formula.amounts)
    assert stock(asked(), known(shelf)).batch_kg > result.batch_kg - 1e-9


def test_wrong_bounds_and_an_empty_shelf_are_told_all_at_once():
    with pytest.raises(InputError) as told:
        stock(asked(), known([]), -1.0, 100.0)
    assert [each.field for each in told.value.problems] == [None, "--unit", "--loss"]


amounts = st.floats(0.05, 3.0)


@settings(deadline=None, max_examples=20)
@given(st.lists(amounts, min_size=5, max_size=5))
def test_a_little_more_than_the_most_cannot_be_made(kg):
    shelf = known(zip(KINDS, kg, strict=True))
    most = stock(asked(), shelf).batch_kg
    for factor, kind in ((0.999, Answer), (1.001, Clash)):
        tried = asked(stock_only=toml("stock.only"), batch_kg=most * factor)
        assert isinstance(formulate(tried, shelf), kind)


@settings(deadline=None, max_examples=20)
@given(st.lists(amounts, min_size=5, max_size=5))
def test_nothing_is_taken_that_is_not_there(kg):
    result = stock(asked(), known(zip(KINDS, kg, strict=True)), 0.05)
    for take in result.takes:
        assert take.kg >= 0
        assert take.left_kg >= 0
    if result.formula is not None:
        assert sum(t.kg for t in result.takes) == pytest.approx(result.batch_kg)


@settings(max_examples=25, deadline=None)
@given(kg=st.lists(st.floats(0.05, 2.0), min_size=5, max_size=5))
def test_what_a_little_more_makes_is_what_a_fuller_shelf_makes(kg):
    lots = list(zip(KINDS, kg, strict=True))
    found = stock(asked(), known(lots))
    helps = {each.name: each.kg_more for each in found.helps}
    for name in KINDS:
        fuller = known([(key, w + 0.1 * (key == name)) for key, w in lots])
        more = stock(asked(), fuller).most_kg - found.most_kg
        assert helps.get(name, 0.0) == pytest.approx(more, abs=2e-4 + 1e-6 * more)


def test_what_helps_is_asked_of_one_model_however_many_things_run_out(monkeypatch):
    made, kinds = [], {f"{kind} {n}": kind for n in range(40) for kind in BANDS}
    lots = tuple(Lot(key, "A1", 0.1, None, CSV) for key in kinds)
    begun = Session.__init__
    monkeypatch.setattr(
        Session, "__init__", lambda *given: made.append(1) or begun(*given)
    )
    base = dict(zip(kinds, (40.0, 25.0, 35.0), strict=False))
    found = stock(asked(base=base, pins=()), replace(catalogue(kinds), stock=lots))
    assert len(found.helps) > 20
    assert len(made) < 10
