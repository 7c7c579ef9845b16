"""Cautions on pages: the few that weigh most when short, all with reasons in full."""

import json

import pytest
from msgspec.structs import replace

from optimiser.domain.caution import CautionLine
from optimiser.presenting import as_json
from optimiser.presenting.care import briefly, in_full, more
from optimiser.presenting.data import answer_data
from tests.presenting.shown import flat, report, told


def lines(*weights):
    return [CautionLine(f"c{w}", w, f"Mind {w}. Much more.") for w in weights]


@pytest.mark.parametrize(
    ("weights", "shown"),
    [
        ((), 0),
        ((10,), 1),
        ((50, 40, 30), 2),
        ((90, 59, 59), 2),
        ((90, 60, 60, 59), 3),
        ((90, 79, 70, 60), 3),
        ((90, 85, 80, 79), 3),
        ((90, 85, 81, 80, 80), 4),
    ],
)
def test_a_short_page_tells_two_cautions_and_more_where_more_weigh_much(weights, shown):
    said = lines(*weights)
    begun = briefly(said)
    assert begun == [f"Mind {w}." for w in weights[:shown]]
    rest = len(weights) - shown
    counted = f"{rest} more caution" in told(
        b for s in more([], said) for b in s.blocks
    )
    assert counted == (rest > 0)


def test_in_full_each_has_its_reason_where_it_was_read_and_whether_recalled():
    read = CautionLine("a", 9, "Mind.", "So.", evidence="retrieved", reference="A book")
    recalled = replace(read, evidence="memory_low")
    own = CautionLine("b", 9, "Ours.")
    text = flat(told(in_full([read, recalled, own])))
    assert text == "Mind. So. (A book) Mind. So. (A book, from memory) Ours."


def test_cautions_stand_above_what_holds_and_costs_and_once(answer):
    text = flat(report(answer, 80, full=False))
    assert text.index("Oils make tubs slippery") < text.index("WHAT COSTS MOST")
    assert text.count("Oils make tubs slippery") == 1


def test_data_name_what_calls_for_a_caution_its_reason_and_source(answer):
    data = json.loads(as_json(answer_data(answer)))
    assert data["cautions"][0] == "Oils make tubs slippery: say so. On the label."
    first = data["care"][0]
    assert (first["names"], first["reason"], first["source"]) == (
        ["oil"],
        "Oil coats.",
        "book",
    )
