"""Cautions on pages: the few that weigh most when short, all with reasons in full."""

import json

import pytest
from msgspec.structs import replace

from optimiser.domain.caution import CautionLine
from optimiser.explaining.answer import AllergenLine
from optimiser.presenting import as_json
from optimiser.presenting.care import NEW, allergens, briefly, in_full, more
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
    # Where a page does not end so, the last of them says it.
    ends = [each.endswith(": --full.") for each in briefly(said, rest=True)]
    assert ends == [False] * (shown - 1) + [rest > 0] * (shown > 0)


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


NUTS = [
    AllergenLine("tree nut", name, flag="botanical_nut_or_kernel_not_listed")
    for name in ("apricot", "argan", "cocoa", "jojoba", "marula", "shea")
]


def test_what_is_to_be_free_of_an_allergen_tells_all_to_ask_about():
    text = flat(told(allergens([replace(x, out=True) for x in NUTS], ("GB",))))
    every = "apricot, argan, cocoa, jojoba, marula and shea"
    assert text == f"Allergens: ask: tree nut ({every})"
    assert "and 2 more" in flat(told(allergens(NUTS, ("GB",))))


@pytest.mark.parametrize(
    ("how", "brief", "told_as"),
    [
        ({"listed": ("GB",)}, False, "soy (a, b, c and 3 more)"),
        ({"listed": ("GB",), "new": True}, True, f"{NEW}: soy (a, b, c and 3 more)"),
        ({"listed": ("US",)}, True, "soy (a, b, c and 3 more)"),
        ({"flag": "?", "new": True}, False, f"ask, {NEW}: soy (a, b, c and 3 more)"),
        ({"flag": "?"}, False, "ask: soy (a, b, c, d and 2 more)"),
        ({"flag": "?"}, True, "ask: soy (a and 5 more)"),
    ],
)
def test_of_many_the_first_are_named_and_the_rest_counted(how, brief, told_as):
    lines = [AllergenLine("soy", name, **how) for name in "abcdef"]
    assert flat(told(allergens(lines, ("GB",), brief=brief))) == f"Allergens: {told_as}"


def test_what_only_other_markets_list_is_told_as_theirs():
    soy = [AllergenLine("soy", "tocopherols", ("CA", "US"))]
    elsewhere = "Allergens: soy (tocopherols; listed only in CA, US)"
    assert flat(told(allergens(soy, ("GB",)))) == elsewhere
    for markets in ((), ("GB", "US")):
        assert flat(told(allergens(soy, markets))) == "Allergens: soy (tocopherols)"


def test_data_name_what_calls_for_a_caution_its_reason_and_source(answer):
    data = json.loads(as_json(answer_data(answer)))
    assert data["cautions"][0] == "Oils make tubs slippery: say so. On the label."
    first = data["care"][0]
    assert (first["names"], first["reason"], first["source"]) == (
        ["oil"],
        "Oil coats.",
        "book",
    )
