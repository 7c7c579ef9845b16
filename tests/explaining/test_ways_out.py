"""Ways out of a clash: there, no larger than needed, and a maker's own to take."""

import tomllib

import pytest
from msgspec.structs import replace

from optimiser.domain.rule import Column, Goal, Programme, Row
from optimiser.domain.scenario import Envelope, EnvelopeList, Exclusions
from optimiser.errors import InputError
from optimiser.explaining import Clash, formulate
from optimiser.explaining.answer import Easing, WayOut
from optimiser.explaining.clashes import smallest_clash
from optimiser.explaining.giving import given_by
from optimiser.explaining.ways import eased, steps, ways_out
from optimiser.presenting.scenario_text import eased_scenario
from optimiser.rules import build
from optimiser.solving import Infeasible, optimise
from tests.explaining.clashing import answers, scenario_text, ways_checked
from tests.rules import workbench as wb
from tests.solving.random_programmes import rule

CLASHING = (0, 3, 4, 36)


def test_easings_are_measured_at_the_part_that_they_come_to():
    """The part is 10 %; as if it were the 60 % first guessed, the window seems less.

    The window of 60 is on +100 and -100, so it wants 8 % where the cap leaves 7: it
    could be eased by 20 in 60, the cap by 1 in 7.
    """
    part = [(0, 1.0), (1, 1.0)]
    asked = Programme(
        ingredients=("a", "b", "c"),
        columns=tuple(Column("amount", key, 0.0, 100.0) for key in "abc"),
        rules=(
            rule("total", "exact", 100, [(0, 1.0), (1, 1.0), (2, 1.0)], (), 1.0),
            rule("part", "exact", 10, part, (), 1.0),
            rule("window", "min", 60, [(0, 100.0), (1, -100.0)], part),
            rule("cap", "max", 7, [(0, 1.0)], (), 1.0),
        ),
        links=(),
        goals=(Goal("cost", "EUR/kg", Row.of([(0, 1.0)])),),
    )
    assert given_by(asked, {2, 3}) == pytest.approx({3: 8.0})


def test_a_step_too_long_for_the_room_left_is_made_finer_and_no_finer_than_need_be():
    """From 10 to between 12.31 and 12.38: no half percent does, a twentieth does."""
    everything = [(0, 1.0), (1, 1.0)]
    asked = Programme(
        ingredients=("a", "b"),
        columns=(Column("amount", "a", 12.31, 12.38), Column("amount", "b", 0.0, 100)),
        rules=(
            rule("total", "exact", 100, everything, (), 1.0),
            rule("pin", "exact", 10, [(0, 1.0)], (), 1.0, kind="pin"),
        ),
        links=(),
        goals=(Goal("cost", "EUR/kg", Row.of([(0, 1.0)])),),
    )
    (way,) = ways_out(asked, asked.rules[1:])
    assert [each.to for each in way.easings] == [12.35]


def ways(asked, known):
    """The ways out as {rule id: limit}, in order; each keeps what ways promise."""
    clash = formulate(asked, known)
    assert isinstance(clash, Clash)
    programme = build(asked, known)
    found = [{each.rule.id: each.to for each in way.easings} for way in clash.ways_out]
    for way in found:
        assert answers(programme, way)
        for name in way:
            assert not answers(programme, {k: v for k, v in way.items() if k != name})
    return found


def programme(*rules, size):
    """A programme of ``size`` ingredients that sum to 100, and these rules."""
    everything = [(i, 1.0) for i in range(size)]
    total = rule("total", "exact", 100, everything, per_constant=1.0)
    return Programme(
        ingredients=tuple(f"i{i}" for i in range(size)),
        columns=tuple(Column("amount", f"i{i}", 0.0, 100.0) for i in range(size)),
        rules=(total, *rules),
        links=(),
        goals=(Goal("cost", "EUR/kg", Row.of(everything)),),
    )


def ways_of(asked):
    """The ways out of a programme as {rule id: limit}, in order."""
    found = optimise(asked)
    assert isinstance(found, Infeasible)
    offered = ways_out(asked, smallest_clash(found.session))
    return [{each.rule.id: each.to for each in way.easings} for way in offered]


def share(name, side, limit, *members):
    return rule(name, side, limit, [(i, 1.0) for i in members], per_constant=1.0)


def test_a_way_out_is_found_beside_a_ratio_to_what_is_kept_out():
    known = wb.catalogue(
        {"a": "scent", "b": "scent", "c": "scent", "d": "wax"},
        contents={"fatty thing": {"b": 14.0}},
        figures={"gloss": {"a": 100.0, "b": 10.0, "c": 0.0, "d": 20.0}},
    )
    asked = wb.scenario(
        exclude=Exclusions(ingredients=("a", "d")),
        limits=(
            wb.bound("a", 10.0, of="scent", table="limits"),
            wb.bound("d", high=25.0, table="limits"),
        ),
        constituents=(wb.bound("fatty thing", high=3.1, table="constituents"),),
        windows=(wb.window("gloss", high=19.4),),
        others=(wb.ratio("r", ["c"], ["d"], high=0.768),),
    )
    assert ways(asked, known)[0] == {
        "constituent/fatty thing/max": 14.0,
        "limit/a/min": 0.0,
    }


def test_a_way_out_is_found_where_the_ratio_alone_would_have_no_end():
    known = wb.catalogue(
        {"a": "water", "b": "powder", "c": "powder"},
        figures={"feel": {"a": 100.0, "b": 0.0, "c": 10.0}},
    )
    asked = wb.scenario(
        bands=(wb.bound("powder", high=40.5),),
        limits=(wb.bound("a", high=15.4, table="limits"),),
        windows=(wb.window("feel", high=4.3),),
        others=(wb.ratio("r", ["b"], ["a"], high=1.0),),
    )
    assert ways(asked, known)


def test_a_window_is_eased_no_further_than_is_needed():
    known = wb.catalogue(
        {"a": "humectant", "b": "soft butter", "c": "soft butter"},
        figures={
            "feel": {"a": 4.0, "b": 0.5, "c": 81.0},
            "grip": {"a": 47.5, "b": 48.0, "c": 10.0},
        },
    )
    asked = wb.scenario(
        bands=(wb.bound("lipids", 34.5),),
        limits=(wb.bound("a", 20.2, table="limits"),),
        windows=(wb.window("feel", 26.3), wb.window("grip", 68.0, over="lipids")),
    )
    # c must be 32.3 % of the rest, by hand: 20.2 * 4 + 0.5 b + 81 c = 2630.
    assert ways(asked, known)[0] == {"window/grip/lipids/min": 33.0}


def test_no_share_of_a_part_is_eased_above_all_of_it():
    known = wb.catalogue({"a": "hard butter", "b": "wax", "c": "liquid oil"})
    asked = wb.scenario(
        bands=(wb.bound("butters", high=57.0), wb.bound("lipids", high=100.0,
                                                         of="butters")),
    )  # fmt: skip
    assert ways(asked, known) == [{"band/butters/max": 100.0}]


def test_the_fewest_rules_come_first_and_only_they_may_be_moved_wildly():
    low, high = share("low", "min", 8, 0), share("high", "max", 1, 0)
    assert ways_of(programme(low, high, size=2)) == [{"low": 1.0}]
    # "sum" alone must go from 8 to 30; "a" and "b" together but a little.
    a, b = share("a", "min", 16, 0), share("b", "min", 14, 1)
    assert ways_of(programme(a, b, share("sum", "max", 8, 0, 1), size=3)) == [
        {"sum": 30.0},
        {"a": 0.0, "b": 8.0},
    ]


def test_a_wild_way_is_kept_back_where_another_moves_as_few_rules():
    low, high = share("low", "min", 40, 0), share("high", "max", 5, 0)
    assert ways_of(programme(low, high, size=2)) == [{"low": 5.0}]


def test_the_only_way_is_offered_however_wild():
    high, low = share("high", "max", 5, 0), share("low", "min", 40, 0)
    kept = replace(low, owner="law")
    assert ways_of(programme(high, kept, size=2)) == [{"high": 40.0}]


def test_a_tangent_moves_with_its_window_and_never_alone():
    window = rule("window", "min", 50, [(0, 90.0), (1, 10.0)], per_constant=100.0)
    tangent = replace(
        window, id="window/second opinion", moves_with="window", owner="model"
    )
    most = share("most", "max", 25, 0)
    asked = programme(window, tangent, most, size=2)
    assert ways_of(asked) == [{"window": 30.0}, {"most": 50.0}]
    moved = {each.id: each.limit for each in eased(asked, {"window": 30.0}).rules}
    assert moved["window/second opinion"] == 30.0


def test_a_window_is_eased_as_far_as_the_furthest_of_its_tangents_needs():
    """Of 25 % the window comes to 30, its tangent to 80 * 0.25 + 10 * 0.75 = 27.5."""
    window = rule("window", "min", 50, [(0, 90.0), (1, 10.0)], per_constant=100.0)
    lower = rule("window", "min", 50, [(0, 80.0), (1, 10.0)], per_constant=100.0)
    tangent = replace(
        lower, id="window/second opinion", moves_with="window", owner="model"
    )
    most = share("most", "max", 25, 0)
    asked = programme(window, tangent, most, size=2)
    # And the other way round: 10 + 70 x = 50 at 57.2 %, in steps of a half.
    assert ways_of(asked) == [{"window": 27.5}, {"most": 57.5}]


def test_no_rule_is_eased_that_a_way_can_do_without():
    # Easing "a" and "b" is least by parts, but either does: 25 + 0.2 * 10 >= 15, and
    # 0.2 * 25 + 10 >= 15. "p" must give in every way.
    needs = (
        rule("first", "min", 15, [(0, 1.0), (1, 0.2)], per_constant=1.0),
        rule("second", "min", 15, [(0, 0.2), (1, 1.0)], per_constant=1.0),
        share("third", "min", 40, 2),
    )
    a, b, p = (
        share("a", "max", 10, 0),
        share("b", "max", 10, 1),
        share("p", "max", 30, 2),
    )
    laws = (replace(each, owner="law") for each in needs)
    found = ways_of(programme(a, b, p, *laws, size=4))
    assert sorted(found, key=sorted) == [{"a": 25.0, "p": 40.0}, {"b": 25.0, "p": 40.0}]


@pytest.mark.parametrize("seed", CLASHING)
def test_ways_out_of_random_clashes_keep_what_they_promise(seed, tmp_path):
    assert ways_checked(scenario_text(seed), tmp_path)


ENVELOPE = Envelope(
    "e", (EnvelopeList("oils", None, None, {"a": 50.0}, wb.toml("l")),), wb.toml("e")
)
NEVER = {
    "law/EU/p/max": ("law", {"markets": ("EU",)}),
    "share/oils": ("safety", {}),
    "exclude/tree nut": ("safety", {"exclude": Exclusions(allergens=("tree nut",))}),
    "envelope/oils/a": ("assessor", {"envelope": ENVELOPE}),
    "total": ("arithmetic", {}),
}


@pytest.mark.parametrize("limit", [1.5, None])
@pytest.mark.parametrize("name", NEVER)
def test_no_scenario_eases_or_drops_what_is_not_the_makers_own(name, limit):
    owner, more = NEVER[name]
    known = wb.catalogue(
        {"a": "liquid oil", "b": "preservative"},
        contents={"p": {"b": 90.0}},
        substance_limits=(wb.law("p", 1.0, {"p": 1.0}),),
        shared_limits=(wb.shared("oils", {"p": 2.0}),),
        allergens={"tree nut": {"b": wb.status("b", "tree nut", "listed", EU=True)}},
    )
    asked = wb.scenario(**more)
    assert name in {each.id for each in build(asked, known).rules}
    asked = replace(asked, eased={name: (limit, wb.toml(f"eased.{name}"))})
    with pytest.raises(InputError, match=f"is a rule of {owner} and is never eased"):
        build(asked, known)


def test_a_written_way_says_what_it_is_in_one_line_and_quotes_its_names():
    name = 'ratio/so "much"\x7f of C:\\wax/max'
    each = Easing(replace(share("x", "max", 1, 0), id=name), 2.5)
    text = eased_scenario("a \x7f b.toml", WayOut((each,), None, None))
    first, second, *_ = text.splitlines()
    assert first.startswith("# A way out of the clash in the scenario it extends")
    assert not second.startswith("#")
    told = tomllib.loads(text)
    assert told == {"extends": "a \x7f b.toml", "eased": {name: 2.5}}


def test_a_written_way_drops_what_the_scenario_it_extends_drops_already():
    out = replace(share("x", "max", 1, 0), id="stock/none", all_or_nothing=True)
    way = WayOut((Easing(out, 100.0),), None, None)
    told = tomllib.loads(eased_scenario("a.toml", way, ["limit/cocoa butter/min"]))
    assert told["dropped"] == {"rules": ["limit/cocoa butter/min", "stock/none"]}


def test_a_step_is_what_a_maker_would_write():
    assert [steps(each) for each in (40.0, -3.2, 0.31, 0.04)] == [0.5, 0.1, 0.01, 0.001]
