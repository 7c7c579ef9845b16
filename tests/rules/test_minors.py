"""What is there in small doses stays as in the base, unless somebody speaks of it."""

import pytest
from msgspec.structs import replace

from optimiser.domain.scenario import Envelope, EnvelopeList, Exclusions, Steps
from optimiser.explaining import Clash, formulate
from optimiser.rules import build
from optimiser.studies.robust.doubt import judged
from tests.rules import workbench as wb

CATEGORIES = {
    "cocoa": "hard butter",
    "sunflower": "liquid oil",
    "lavender": "scent",
    "orange": "scent",
    "tocopherol": "antioxidant",
    "preserver": "preservative",
}
# The preservative and the orange oil are the cheapest things there are.
PRICES = {
    "cocoa": 20.0, "sunflower": 5.0, "lavender": 90.0, "orange": 1.0,
    "tocopherol": 60.0, "preserver": 2.0,
}  # fmt: skip
KNOWN = wb.catalogue(CATEGORIES, prices=PRICES)
LARGE = {"cocoa", "sunflower"}
BASE = {
    "cocoa": 50.0, "sunflower": 47.7, "lavender": 1.0, "tocopherol": 0.5,
    "preserver": 0.8,
}  # fmt: skip
COCOA = wb.bound("hard butter", 40, 60)


def bar(**more):
    return wb.scenario(**({"base": BASE, "bands": (COCOA,)} | more))


def small(found):
    return {key: share for key, share in found.items() if key not in LARGE}


AS_IN_THE_BASE = {"lavender": 1.0, "tocopherol": 0.5, "preserver": 0.8}


def test_nothing_small_fills_up_and_nothing_small_is_saved_on():
    found = wb.best(bar(), KNOWN)
    assert small(found) == pytest.approx(AS_IN_THE_BASE)
    assert found["cocoa"] == pytest.approx(40.0)


def test_each_says_so_in_a_rule_that_is_a_wish_from_the_entry_of_the_base():
    found = wb.rules_of(bar(), KNOWN)
    kept = found["minor/lavender"]
    assert kept.sentence == "lavender as in the base, 1 %"
    assert (kept.side, kept.limit, kept.kind, kept.owner) == (
        "exact", 1.0, "minor", "wish",
    )  # fmt: skip
    assert str(kept.origin) == "test.toml: base.lavender"
    assert found["minor/other scent"].sentence == "no scent that the base has not"
    assert sorted(rule for rule in found if rule.startswith("minor/")) == [
        "minor/lavender", "minor/other scent", "minor/preserver", "minor/tocopherol",
    ]  # fmt: skip


def test_without_a_base_there_is_nothing_to_stay_as():
    found = wb.rules_of(wb.scenario(bands=(COCOA,)), KNOWN)
    assert not [rule for rule in found if rule.startswith("minor/")]


@pytest.mark.parametrize(
    ("more", "freed"),
    [
        ({"pins": (wb.pin("lavender", 0.3),)}, {"lavender"}),
        ({"pins": (wb.pin("orange", 0.3),)}, {"orange"}),
        (
            {"limits": (wb.bound("lavender", 0.2, None, table="limits"),)},
            {"lavender"},
        ),
        ({"bands": (COCOA, wb.bound("scent", 0.2, 2.0))}, {"lavender", "orange"}),
        ({"least_if_used": {"lavender": (0.2, wb.CSV)}}, {"lavender"}),
        ({"choices": (wb.choice("scent", None, 1),)}, {"lavender", "orange"}),
        # Neither a greatest share, nor a part that holds much else, nor a default dose
        # or a count over everything, asks for anything.
        ({"limits": (wb.bound("lavender", None, 3.0, table="limits"),)}, set()),
        ({"bands": (wb.bound("soft", 10, 60),),
          "parts": {"soft": ("liquid oil", "scent")}}, set()),
        ({"least_if_used": {"default": (0.2, wb.CSV)}}, set()),
        ({"choices": (wb.choice("all", None, 5),)}, set()),
    ],
)  # fmt: skip
def test_what_the_scenario_speaks_of_is_not_held(more, freed):
    found = wb.rules_of(bar(**more), KNOWN)
    held = {
        KNOWN.ingredients[tuple(CATEGORIES)[column]].key
        for rule in found.values()
        if rule.kind == "minor"
        for column in rule.amounts.columns.tolist()
    }
    assert held == {"lavender", "orange", "tocopherol", "preserver"} - freed


def test_what_is_excluded_leaves_and_no_other_comes_in_for_it():
    asked = bar(exclude=Exclusions(ingredients=("lavender",)))
    found = wb.best(asked, KNOWN)
    assert small(found) == pytest.approx({"tocopherol": 0.5, "preserver": 0.8})


def test_a_law_below_the_share_of_the_base_leaves_as_much_as_it_allows():
    known = replace(
        KNOWN,
        contents={"ether": {"preserver": wb.figure(100.0)}},
        substance_limits=(wb.law("ether", 0.6, {"ether": 1.0}),),
    )
    asked = bar(markets=("EU",))
    found = wb.rules_of(asked, known)
    assert found["minor/preserver/min"].sentence == (
        "preserver at least 0.6 % (what other limits leave of the base's 0.8 %)"
    )
    assert (
        found["minor/preserver/max"].sentence
        == "preserver at most as in the base, 0.8 %"
    )
    assert wb.best(asked, known)["preserver"] == pytest.approx(0.6)


def test_what_a_shared_limit_is_over_gives_up_the_same_part_each():
    both = {**BASE, "orange": 1.0, "sunflower": 46.7}
    shared = wb.shared("peel oils", {"lavender": 1.6, "orange": 1.6})
    known = replace(
        KNOWN,
        contents={key: {key: wb.figure(100.0)} for key in ("lavender", "orange")},
        shared_limits=(shared,),
    )
    asked = bar(base=both)
    found = wb.best(asked, known)
    assert (found["lavender"], found["orange"]) == pytest.approx((0.8, 0.8))
    # What is pinned takes its part first.
    pinned = bar(base=both, pins=(wb.pin("orange", 1.2),))
    found = wb.best(pinned, known)
    assert (found["lavender"], found["orange"]) == pytest.approx((0.4, 1.2))
    # A limit that is eased or dropped allows more.
    freed = bar(base=both, eased={"practice/lavender/max": (None, wb.CSV)})
    known = replace(
        KNOWN, limits=(wb.usage("lavender", "practice", 0.2),), shared_limits=()
    )
    assert wb.best(bar(base=both), known)["lavender"] == pytest.approx(0.2)
    assert wb.best(freed, known)["lavender"] == pytest.approx(1.0)


def test_a_limit_that_is_dropped_leaves_the_others_to_count():
    rows = (wb.usage("lavender", "practice", 0.2), wb.usage("orange", "supplier", 0.3))
    known = replace(KNOWN, limits=rows)
    base = {**BASE, "orange": 1.0, "sunflower": 46.7}
    freed = bar(base=base, eased={"practice/lavender/max": (None, wb.CSV)})
    found = wb.best(freed, known)
    assert (found["lavender"], found["orange"]) == pytest.approx((1.0, 0.3))


def test_an_assessor_who_lists_none_of_it_takes_it_out():
    lists = (EnvelopeList("all", None, None, {"cocoa": 100, "sunflower": 100}, wb.CSV),)
    asked = bar(envelope=Envelope("lotion bar", lists, wb.CSV))
    assert small(wb.best(asked, KNOWN)) == {}


def test_amounts_in_steps_leave_what_the_base_fixes_as_it_is_written():
    asked = bar(steps=Steps(0.5, {}, wb.CSV))
    answer = formulate(asked, KNOWN)
    assert answer.steps.kept
    assert small(wb.percent(answer)) == pytest.approx(AS_IN_THE_BASE)


def test_a_default_dose_above_what_the_base_holds_takes_nothing_out():
    asked = bar(least_if_used={"default": (0.6, wb.CSV)})
    assert wb.best(asked, KNOWN)["tocopherol"] == pytest.approx(0.5)


def test_a_clash_names_it_and_a_way_out_eases_it():
    asked = bar(constituents=(wb.bound("linalool", 0.9, table="constituents"),))
    known = replace(
        KNOWN, contents={"linalool": {"lavender": wb.figure(50.0),
                                      "cocoa": wb.figure(0.1)}}
    )  # fmt: skip
    clash = formulate(asked, known)
    assert isinstance(clash, Clash)
    assert "minor/lavender" in {rule.id for rule in clash.rules}
    ways = {
        easing.rule.id: easing.to for way in clash.ways_out for easing in way.easings
    }
    assert ways["minor/lavender"] > 1.0
    eased = bar(
        constituents=asked.constituents,
        eased={"minor/lavender": (ways["minor/lavender"], wb.CSV)},
    )
    assert wb.best(eased, known)["lavender"] == pytest.approx(ways["minor/lavender"])


# No lavender frees it; eased to more than the base has, it is kept as in the base, to
# less, at that; let go, as if nobody had spoken of it.
@pytest.mark.parametrize(
    ("eased", "share"), [({}, 0.0), (2.0, 1.0), (0.4, 0.4), (None, 1.0)]
)
@pytest.mark.parametrize("name", ["exclude/lavender", "exclude"])
def test_what_an_eased_exclusion_lets_in_is_as_in_the_base(eased, share, name):
    eased = {} if eased == {} else {name: (eased, wb.CSV)}
    out = Exclusions(ingredients=("lavender",))
    found = wb.best(bar(exclude=out, eased=eased), KNOWN)
    assert found.get("lavender", 0.0) == pytest.approx(share)


def test_too_little_of_it_on_the_shelf_is_a_clash_and_not_less_of_it():
    shelf = (("cocoa", 1.0), ("sunflower", 1.0), ("lavender", 0.004),
             ("tocopherol", 0.1), ("preserver", 0.1))  # fmt: skip
    known = replace(KNOWN, stock=wb.catalogue(CATEGORIES, stock=shelf).stock)
    clash = formulate(bar(stock_only=wb.CSV), known)
    assert isinstance(clash, Clash)
    assert {rule.id for rule in clash.rules} == {"minor/lavender", "stock/lavender"}


def test_a_scale_that_misses_a_little_does_not_break_it():
    programme = build(bar(), KNOWN)
    kinds = {rule.kind for _, rule in judged(programme)}
    assert kinds == {"band"}


def let_in(key):
    """A limit without sides: the ingredient may come in."""
    return wb.bound(key, None, None, table="limits")


def swapped(new=("orange",), **more):
    """The rules where lavender has to leave and others are let in."""
    limits = tuple(let_in(each) for each in new)
    out = Exclusions(ingredients=("lavender",))
    return bar(exclude=out, limits=limits, **more)


def test_what_is_let_in_where_a_scent_leaves_takes_its_place_to_the_last_digit():
    asked = swapped(steps=Steps(0.5, {}, wb.CSV))
    kept = wb.rules_of(asked, KNOWN)["minor/orange"]
    assert kept.sentence == "orange exactly 1 % (in the place of lavender)"
    assert small(wb.best(asked, KNOWN)) == pytest.approx(
        {"orange": 1.0, "tocopherol": 0.5, "preserver": 0.8}
    )


def test_it_takes_as_much_of_the_place_as_its_own_limits_allow():
    known = replace(KNOWN, limits=(wb.usage("orange", "supplier", 0.4),))
    assert wb.best(swapped(), known)["orange"] == pytest.approx(0.4)


TWO = wb.catalogue({**CATEGORIES, "mint": "scent"}, prices={**PRICES, "mint": 80.0})


def test_several_that_are_let_in_share_a_place_in_whole_steps():
    limits = (wb.usage("orange", "supplier", 0.6),)
    known = replace(TWO, limits=limits)
    asked = swapped(new=("orange", "mint"), steps=Steps(0.5, {"scent": 0.2}, wb.CSV))
    found = wb.best(asked, known)
    assert (found["orange"], found["mint"]) == pytest.approx((0.6, 0.4))


def test_a_default_dose_asks_no_more_of_a_newcomer_than_the_place_it_takes():
    known = replace(KNOWN, limits=(wb.usage("orange", "supplier", 0.4),))
    asked = swapped(least_if_used={"default": (5.0, wb.CSV)})
    assert wb.best(asked, KNOWN)["orange"] == pytest.approx(1.0)
    assert wb.best(asked, known)["orange"] == pytest.approx(0.4)


def test_what_may_not_be_used_at_all_is_used_in_no_dose_however_small():
    known = replace(KNOWN, limits=(wb.usage("sunflower", "supplier", 0.0),))
    asked = wb.scenario(
        least_if_used={"default": (5.0, wb.CSV)}, choices=(wb.choice("all", 2, 2),)
    )
    assert wb.rules_of(asked, known)["least/sunflower"].limit == 5.0
    assert "sunflower" not in wb.best(asked, known)


DOSE = (wb.usage("preserver", "supplier", 1.5, low=1.0),)


def test_a_preservative_below_its_suppliers_dose_is_brought_up_to_it():
    known = replace(KNOWN, limits=DOSE)
    kept = wb.rules_of(bar(), known)["minor/preserver"]
    assert (kept.limit, kept.owner) == (1.0, "supplier")
    assert kept.why == "its supplier's least; the base's 0.8 % is too little"
    assert wb.best(bar(), known)["preserver"] == pytest.approx(1.0)


def test_a_preservative_that_is_free_comes_in_as_its_supplier_asks_or_not_at_all():
    known = wb.catalogue(
        {**CATEGORIES, "other": "preservative"},
        prices={**PRICES, "other": 50.0},
        limits=DOSE,
    )
    asked = bar(bands=(COCOA, wb.bound("preservative", 0.8, 0.9)))
    rules = wb.rules_of(asked, known)
    assert rules["supplier/preserver/least"].sentence == (
        "preserver at least 1 % if used (the supplier's limit)"
    )
    found = wb.best(asked, known)
    assert "preserver" not in found
    assert found["other"] == pytest.approx(0.8)


def test_too_little_of_a_preservative_breaks_a_rule_and_none_of_it_breaks_none():
    known = replace(KNOWN, limits=DOSE)
    asked = wb.scenario(only=frozenset(CATEGORIES))
    rest = {"cocoa": 50.0, "sunflower": 49.7}
    assert wb.broken({**rest, "preserver": 0.3}, asked, known) == [
        "supplier/preserver/least"
    ]
    assert wb.broken({**rest, "lavender": 0.3}, asked, known) == []


def test_where_others_decide_how_much_there_is_of_it_no_choice_is_left():
    known = replace(KNOWN, limits=DOSE)
    least = "supplier/preserver/least"
    pinned = bar(pins=(wb.pin("preserver", 1.2),))
    assert least not in wb.rules_of(pinned, known)
    out = bar(exclude=Exclusions(ingredients=("preserver",)))
    assert least not in wb.rules_of(out, known)
    assert least in wb.rules_of(bar(pins=(wb.pin("preserver", 0.2),)), known)
