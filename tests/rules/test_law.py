"""Law: factors, sums, bans, markets; and the worked values of Annex V."""

import pytest
from msgspec.structs import replace

from optimiser.explaining import formulate
from optimiser.reading import read_catalogue, shipped_folder
from tests.rules import workbench as wb
from tests.rules.workbench import notes_of

SALTS = wb.catalogue(
    {
        "oil": "liquid oil",
        "acid": "preservative",
        "salt": "preservative",
        "mix": "preservative",
    },
    contents={
        "sorbic acid": {"acid": 100.0, "mix": wb.figure(20.0, 15.0, 25.0)},
        "potassium sorbate": {"salt": 100.0},
    },
    substance_limits=[
        wb.law("sorbic acid", 0.6, {"sorbic acid": 1.0, "potassium sorbate": 0.7464}),
        wb.law("sorbic acid", 0.3, {"sorbic acid": 1.0}, market="AU"),
    ],
)


# Molar masses 112.13 and 150.22: one part of the salt holds 0.7464 of the acid. A mix
# is counted at the high end of its content, 25 %.
@pytest.mark.parametrize(
    ("formula", "acid"),
    [
        ({"acid": 0.5}, 0.5),
        ({"salt": 0.5}, 0.3732),
        ({"mix": 1.0}, 0.25),
        ({"acid": 0.1, "salt": 0.5, "mix": 1.0}, 0.1 + 0.3732 + 0.25),
    ],
)
def test_every_source_of_an_acid_is_added_up_by_its_factor(formula, acid):
    asked = wb.scenario(markets=("EU",))
    whole = formula | {"oil": 100.0 - sum(formula.values())}
    value, slack = wb.values(asked, SALTS, whole)["law/EU/sorbic acid/max"]
    assert value == pytest.approx(acid)
    assert slack == pytest.approx(0.6 - acid)
    assert bool(wb.broken(whole, asked, SALTS)) == (acid > 0.6)


@pytest.mark.parametrize(
    ("markets", "ids"),
    [
        (("EU",), ["law/EU/sorbic acid/max"]),
        (("AU", "EU"), ["law/EU/sorbic acid/max", "law/AU/sorbic acid/max"]),
        (("CA",), []),
        ((), []),
    ],
)
def test_each_market_brings_its_own_rules_and_one_without_rows_brings_none(
    markets, ids
):
    asked = wb.scenario(markets=markets, only=frozenset({"oil", "acid"}))
    rules = wb.rules_of(asked, SALTS)
    assert [name for name in rules if name.startswith("law")] == ids
    assert not any(rules[name].may_ease for name in ids)
    notes = notes_of(formulate(asked, SALTS))
    unchecked = "CA: not in the catalogues, NOT checked"
    assert (unchecked in notes) == (markets == ("CA",))
    unnamed = "no market is named, so no legal limit was checked"
    assert (unnamed in notes) == (markets == ())


def test_a_limit_for_any_market_holds_everywhere_and_is_a_habit_not_law():
    known = wb.catalogue(
        {"oil": "liquid oil"},
        contents={"lead": {"oil": 0.1}},
        substance_limits=[wb.law("lead", 0.05, {"lead": 1.0}, market="any")],
    )
    rules = wb.rules_of(wb.scenario(markets=("US",)), known)
    assert rules["habit/lead/max"].owner == "safety"
    assert not any(rule.owner == "law" for rule in rules.values())


@pytest.mark.parametrize(("use", "limit"), [("leave-on", 0.5), ("rinse-off", 2.5)])
def test_leave_on_and_rinse_off_have_their_own_limits(use, limit):
    known = wb.catalogue(
        {"oil": "liquid oil", "acid": "preservative"},
        contents={"benzoic acid": {"acid": 100.0}},
        substance_limits=[
            wb.law("benzoic acid", 0.5, {"benzoic acid": 1.0}, use="leave-on"),
            wb.law("benzoic acid", 2.5, {"benzoic acid": 1.0}, use="rinse-off"),
        ],
    )
    asked = wb.scenario(use=use, markets=("EU",))
    assert wb.rules_of(asked, known)["law/EU/benzoic acid/max"].limit == limit


def test_what_is_not_allowed_is_kept_out_to_the_last_trace():
    known = wb.catalogue(
        {"oil": "liquid oil", "scented": "liquid oil"},
        prices={"oil": 5.0, "scented": 1.0},
        contents={"safrole": {"scented": 0.02}},
        substance_limits=[wb.law("safrole", 0.0, {"safrole": 1.0})],
    )
    asked = wb.scenario(markets=("EU",))
    assert wb.best(asked, known) == pytest.approx({"oil": 100.0})
    rule = wb.rules_of(asked, known)["law/EU/safrole/max"]
    assert rule.sentence == "safrole not allowed (EU: Act, entry 4)"
    assert wb.broken({"oil": 99.0, "scented": 1.0}, asked, known) == [rule.id]


def test_a_limit_that_no_ingredient_touches_is_no_rule():
    asked = wb.scenario(markets=("EU",))
    assert list(wb.rules_of(asked, SALTS, chosen=("oil",))) == ["total"]


@pytest.mark.parametrize(
    ("side", "value"),
    # A least content counts what is sure to be there, a most what may be.
    [("min", 15.0), ("max", 25.0)],
)
def test_the_makers_own_limit_on_a_substance_is_kept_at_the_worse_end(side, value):
    own = wb.bound(
        "sorbic acid",
        0.1 if side == "min" else None,
        0.5 if side == "max" else None,
        table="constituents",
    )
    asked = wb.scenario(constituents=(own,))
    found = wb.values(asked, SALTS, {"oil": 0.0, "mix": 100.0})
    assert found[f"constituent/sorbic acid/{side}"][0] == pytest.approx(value)


SHIPPED = read_catalogue(shipped_folder("catalogues"), "demo")


# Regulation (EC) 1223/2009, Annex V, entries 1 and 4, and the worked doses commonly
# told: 0.6 % sorbic acid is about 0.80 % potassium sorbate; 0.5 % and 2.5 % benzoic
# acid are about 0.59 % and 2.95 % sodium benzoate (0.58997 %, so 0.59 % is over by a
# hair).
@pytest.mark.parametrize(
    ("salt", "use", "dose", "acid", "kept"),
    [
        ("potassium_sorbate", "leave-on", 0.80, "sorbic acid", True),
        ("potassium_sorbate", "leave-on", 0.81, "sorbic acid", False),
        ("potassium_sorbate", "rinse-off", 0.81, "sorbic acid", False),
        ("sodium_benzoate", "leave-on", 0.589, "benzoic acid", True),
        ("sodium_benzoate", "leave-on", 0.60, "benzoic acid", False),
        ("sodium_benzoate", "rinse-off", 0.60, "benzoic acid", True),
        ("sodium_benzoate", "rinse-off", 2.94, "benzoic acid", True),
        ("sodium_benzoate", "rinse-off", 2.96, "benzoic acid", False),
    ],
)
def test_the_worked_doses_of_the_annex_come_out_kept_or_broken(
    salt, use, dose, acid, kept
):
    asked = wb.scenario(use=use, markets=("EU",))
    formula = {"cocoa_butter": 100.0 - dose, salt: dose}
    assert wb.broken(formula, asked, SHIPPED) == (
        [] if kept else [f"law/EU/{acid}/max"]
    )


@pytest.mark.parametrize(
    ("salt", "use", "most"),
    [
        ("potassium_sorbate", "leave-on", 0.80),
        ("sodium_benzoate", "leave-on", 0.59),
        ("sodium_benzoate", "rinse-off", 2.95),
    ],
)
def test_the_most_that_a_formula_may_hold_is_the_worked_dose(salt, use, most):
    known = replace(
        SHIPPED,
        limits=(),
        prices={"cocoa_butter": (wb.pack("cocoa_butter", 20.0),)}
        | {salt: (wb.pack(salt, 1.0),)},
    )
    asked = wb.scenario(
        use=use, markets=("EU",), only=frozenset({"cocoa_butter", salt})
    )
    # Printed to two decimals.
    assert wb.best(asked, known)[salt] == pytest.approx(most, abs=0.005)


# Common practice for oils that burn skin in sunlight: the used shares of their limits
# add to one at most; expressed lemon oil 2 %, expressed lime oil 0.7 %, leave-on.
@pytest.mark.parametrize(
    ("doses", "share"),
    [
        ({"lemon_oil": 1.0, "lime_oil": 0.35}, 1.0),
        ({"lemon_oil": 2.0}, 1.0),
        ({"lemon_oil": 1.5, "lime_oil": 0.35}, 1.25),
        ({"lemon_oil": 0.5, "bergamot_oil": 0.1}, 0.5),
    ],
)
def test_the_shares_of_phototoxic_oils_are_added_up(doses, share):
    asked = wb.scenario()
    formula = {"cocoa_butter": 100.0 - sum(doses.values()), **doses}
    value, slack = wb.values(asked, wb.only_these(SHIPPED, formula), formula)[
        "share/phototoxic oils"
    ]
    assert value == pytest.approx(share)
    assert slack == pytest.approx(1.0 - share)
    named = wb.broken(formula, asked, SHIPPED)
    assert ("share/phototoxic oils" in named) == (share > 1.0)


def test_rinsed_off_oils_share_nothing():
    formula = {"cocoa_butter": 94.0, "lemon_oil": 6.0}
    known = wb.only_these(SHIPPED, formula)
    asked = wb.scenario(use="rinse-off")
    assert "share/phototoxic oils" not in wb.rules_of(asked, known)


def test_the_shared_limit_is_safety_and_never_eased():
    known = wb.catalogue(
        {"oil": "liquid oil", "lemon": "scent", "lime": "scent"},
        prices={"oil": 5.0, "lemon": 1.0, "lime": 2.0},
        contents={"lemon oil": {"lemon": 100.0}, "lime oil": {"lime": 100.0}},
        shared_limits=[wb.shared("sun", {"lemon oil": 2.0, "lime oil": 0.5})],
    )
    answer = formulate(wb.scenario(), known)
    # 2 % of lemon saves 0.08, 0.5 % of lime 0.015: the whole share goes to lemon.
    assert wb.percent(answer) == pytest.approx({"oil": 98.0, "lemon": 2.0})
    (line,) = [line for line in answer.rules if line.rule.kind == "share"]
    assert line.rule.owner == "safety"
    assert not line.rule.may_ease
