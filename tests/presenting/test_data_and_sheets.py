"""Results as JSON, CSV and frames: keys, digits, and cells that stay text."""

import json
import math

import pytest
from msgspec.structs import replace

from optimiser import presenting
from optimiser.errors import Problem
from optimiser.explaining.answer import Price
from optimiser.presenting.sheet import HEADER, cell

RULE_KEYS = {
    "id", "sentence", "kind", "side", "limit", "value", "slack", "unit", "binding",
    "may_ease", "origin", "source", "ease", "tighten", "lower", "raise", "owner",
    "evidence", "jumps",
}  # fmt: skip


def data(told):
    return json.loads(presenting.as_json(told))


def test_the_json_of_an_answer_has_the_keys_that_were_promised(answer):
    told = data(presenting.answer_data(answer))
    assert told["status"] == "answered"
    assert {"title", "currency", "cost_per_kg", "formula", "rules", "unused",
            "properties", "change", "proof"} <= set(told)  # fmt: skip
    assert {"ingredient", "name", "percent", "grams", "cost_per_kg_product",
            "base_percent"} <= set(told["formula"][0])  # fmt: skip
    assert set(told["rules"][1]) == RULE_KEYS
    assert told["rules"][1]["origin"] == "bar.toml: bands.hard butter.min"
    assert told["rules"][1]["ease"] == {"of": "cost", "price": -0.05, "until": 36.5}
    assert told["rules"][2]["tighten"] == {"of": "cost", "price": 0.1, "until": None}
    assert told["unused"][0] == {
        "ingredient": "mango_butter",
        "name": "mango butter",
        "price_per_kg": 21.0,
        "enters_below": 18.4,
    }
    assert told["properties"][0]["at"] == "30 degC"
    points = {"by_ingredient": 36.25, "by_kind": 20.0, "by_category": 5.0}
    assert told["change"] == points
    assert told["proof"] == {"worst_violation": 0.0, "gap": 2e-16, "by": "duality"}
    assert told["allergens"][0]["allergen"] == "soy"


def test_numbers_keep_ten_figures_and_zero_has_no_sign(answer):
    rules = (
        replace(answer.rules[1], slack=-0.0, ease=Price("cost", 0.1 + 0.2, math.inf)),
    )
    text = presenting.as_json(presenting.answer_data(replace(answer, rules=rules)))
    told = json.loads(text)["rules"][0]
    assert told["ease"] == {"of": "cost", "price": 0.3, "until": None}
    assert "-0.0," not in text


def test_json_is_ascii_whatever_was_written(answer):
    text = presenting.as_json(
        presenting.answer_data(replace(answer, title="é\x1b\ud800"))
    )
    assert text.isascii()


def test_the_json_of_a_clash_has_the_keys_that_were_promised(clash):
    told = data(presenting.clash_data(clash))
    assert told["status"] == "clash"
    assert told["clash"] == [rule.id for rule in clash.rules]
    assert told["ways_out"] == []
    assert told["rules"][0]["may_ease"] is True


def test_the_json_of_a_check_follows_the_same_manner(checked):
    told = data(presenting.checked_data(checked))
    assert told["status"] == "broken"
    assert told["rules"][0]["slack"] == -1.5
    assert told["missing"] == list(checked.missing)


def test_problems_as_json_tell_where_what_and_how_to_mend_it():
    told = data(presenting.problems_data([Problem("is odd", "a.csv", 3, "value", "x")]))
    assert told == {
        "status": "error",
        "problems": [
            {"file": "a.csv", "row": 3, "field": "value", "found": "x",
             "wrong": "is odd", "fix": None}
        ],
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("shea butter", "shea butter"),
        ("", ""),
        ("=HYPERLINK(1)", "'=HYPERLINK(1)"),
        ("+1", "'+1"),
        ("-1", "'-1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("\t=1", "'=1"),
        ("\r=1", "'=1"),
        ("\x00=1", "'=1"),
        ("\u202e=1", "'=1"),
        ("\u2066 @A1", "' @A1"),
        ("shea\u202d \x1b\x9bbutter\u2069", "shea butter"),
        ("  =1", "'  =1"),
    ],
)
def test_a_text_that_a_spreadsheet_would_work_out_is_kept_as_text(text, written):
    assert cell(text) == written


def test_the_csv_of_a_formula_keeps_names_as_text_and_numbers_as_numbers(answer):
    first = replace(answer.formula[0], name="=cocoa", price_per_kg=None)
    text = presenting.formula_csv(replace(answer, formula=(first,)))
    assert text.splitlines() == [
        ",".join(HEADER),
        "cocoa_butter,'=cocoa,hard butter,40,800,,8,45,-5",
    ]


def test_a_frame_holds_the_formula(answer):
    frame = presenting.to_frame(answer)
    assert list(frame.columns) == list(HEADER)
    assert frame["percent"].sum() == pytest.approx(100.0)
    assert frame["move"].sum() == pytest.approx(0.0, abs=1e-9)


def test_a_frame_of_a_formula_without_a_base_has_no_moves(answer):
    bare = replace(answer, formula=(replace(answer.formula[0], base_percent=None),))
    assert presenting.to_frame(bare)["move"].isna().all()


def test_a_frame_of_a_clash_is_refused_with_what_to_look_at(clash):
    with pytest.raises(TypeError, match=r"no formula: see \.rules and \.ways_out"):
        presenting.to_frame(clash)
