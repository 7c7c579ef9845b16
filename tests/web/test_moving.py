"""What moves on the page is answered as `formulate` answers the file it would save."""

import random
import re
import tomllib
from importlib import import_module
from pathlib import Path

import pytest
from msgspec.structs import replace

from optimiser import formulate, read_scenario
from optimiser.errors import InputError
from optimiser.presenting.answer import law_lines
from optimiser.rules.kinds import ratios
from optimiser.web.desk import Desk, StaleError
from optimiser.web.wishes import (
    AimAt,
    KeepOut,
    KeptIn,
    LeaveOut,
    Limit,
    MadeAs,
    PinAt,
    SoldIn,
)

BAR = Path("scenarios/massage_bar.toml")
HARD = "band/hard butter/min"


def same_as_formulate(desk, told):
    """Hold an answer against `formulate` on what would be saved."""
    path = desk.path.with_name("as_saved.toml")
    path.write_text(desk.text, encoding="utf-8")
    expected = formulate(*read_scenario(path))
    path.unlink()
    assert told.status == expected.status
    if told.status == "clash":
        assert [r.id for r in told.rules] == [r.id for r in expected.rules]
        return
    assert told.cost_per_kg == pytest.approx(expected.cost_per_kg, abs=1e-9)
    percents = {x.ingredient: x.percent for x in expected.formula}
    assert {x.ingredient: x.percent for x in told.formula} == pytest.approx(percents)
    held = {x.rule.id for x in expected.rules if x.binding}
    assert {x.rule.id for x in told.rules if x.binding} == held


MOVED = {
    "massage_bar": [
        (HARD, 33), ("limit/beeswax/max", 8.5),
        ("window/firmness/25 degC/lipids/min", 52.5),
        ("practice/cetearyl alcohol/max", 4), ("guard/lauric fats/max", 5),
        ("pin/lavender oil", 0.5),
    ],
    "massage_bar_hot": [  # the first is in the file it extends
        (HARD, 33), ("window/firmness/30 degC/lipids/min", 50),
    ],
    "massage_bar_vegan_orange": [
        ("window/solid fat/35 degC/lipids/max", 5), ("pin/mixed tocopherols", 0.4),
    ],
    "foot_scrub_bar": [
        ("window/solid fat/35 degC/lipids/max", 7.5),
        ("constituent/phenoxyethanol/max", 0.85), ("band/emulsifier/min", 11),
    ],
}  # fmt: skip


@pytest.mark.parametrize("file", MOVED)
@pytest.mark.usefixtures("workspace")
def test_a_limit_moves_where_it_was_written_or_by_its_id(file):
    desk = Desk(Path(f"scenarios/{file}.toml"))
    for rule, to in MOVED[file]:
        asked = desk.wish(Limit(rule, to), desk.asked.number)
        limits = {each.id: each.limit for each in asked.programme.rules}
        assert limits[rule] == to
        added = [x for x in desk.difference().splitlines() if x.startswith("+")]
        assert 1 <= len([x for x in added if x.strip("+ ")]) <= 2
        desk.undo(asked.number)


@pytest.mark.usefixtures("workspace")
def test_what_saving_would_change_is_told_without_a_programmers_signs():
    desk = Desk(BAR)
    desk.wish(Limit("limit/beeswax/max", 11), desk.asked.number)
    told = desk.difference().splitlines()
    assert told[0] == "..."
    assert not [each for each in told if "@@" in each]


@pytest.mark.usefixtures("workspace")
def test_what_is_written_keeps_every_comment_and_touches_one_line():
    desk = Desk(BAR)
    desk.wish(Limit("limit/beeswax/max", 11), desk.asked.number)
    was, now = desk.on_disk.splitlines(), desk.text.splitlines()
    moved = [(a, b) for a, b in zip(was, now, strict=True) if a != b]
    row = '"beeswax"        = {{ max = {}, why = "waxy to the touch above that" }}'
    assert moved == [(row.format(12), row.format(11))]


@pytest.mark.usefixtures("workspace")
def test_a_limit_beyond_its_other_side_clashes_and_comes_back_without_a_trace():
    desk = Desk(BAR)
    asked = desk.wish(Limit(HARD, 50), desk.asked.number)
    assert asked.found is None
    assert asked.good is not None
    assert desk.settle(asked.number).found.status == "clash"
    asked = desk.wish(Limit(HARD, 30), asked.number)
    assert asked.found is not None
    assert desk.text == desk.on_disk


@pytest.mark.usefixtures("workspace")
def test_eighty_quick_changes_give_no_wrong_and_no_stale_answer():
    desk = Desk(BAR)
    chance = random.Random(7)
    rules = {
        HARD: (20, 60), "band/wax/max": (8, 16), "band/liquid oil/max": (20, 34),
        "limit/beeswax/max": (4, 14), "window/firmness/25 degC/lipids/min": (40, 62),
        "window/solid fat/35 degC/lipids/max": (3, 8),
        "practice/beeswax/max": (5, 30),
    }  # fmt: skip
    seen, settled, clashes = [desk.asked.number], 0, 0
    for step in range(80):
        rule = chance.choice(sorted(rules))
        to = round(chance.uniform(*rules[rule]) * 2) / 2
        old = seen[-1]
        asked = desk.wish(Limit(rule, to), old)
        limits = {each.id: each.limit for each in asked.programme.rules}
        assert limits[rule] == to
        assert asked.number >= old
        if asked.number > old:
            with pytest.raises(StaleError):
                desk.settle(old)
            with pytest.raises(StaleError):
                desk.wish(Limit(rule, to), old)
        seen.append(asked.number)
        if asked.found is not None and asked.found.status == "answered":
            programme = asked.programme
            amounts = {x.ingredient: x.percent for x in asked.found.formula}
            assert sum(amounts.values()) == pytest.approx(100.0)
            broken = [x for x in asked.found.rules if (x.slack or 0.0) < -1e-6]
            assert broken == []
            assert len(asked.found.rules) == len(programme.rules)
        if step % 10 == 9:
            told = desk.settle(asked.number)
            assert (told.number, told.settled) == (asked.number, True)
            same_as_formulate(desk, told.found)
            settled += 1
            clashes += told.found.status == "clash"
    assert settled == 8
    assert 0 < clashes < settled


@pytest.mark.usefixtures("workspace")
def test_the_first_answer_without_a_second_opinion_is_that_of_straight_sums():
    desk = Desk(BAR)
    asked = desk.wish(Limit("band/wax/max", 13), desk.asked.number)
    assert not asked.settled
    settled = desk.settle(asked.number)
    assert settled.settled
    assert settled.found.second_opinion is not None
    assert asked.found.cost_per_kg <= settled.found.cost_per_kg + 1e-6


@pytest.mark.usefixtures("workspace")
def test_once_it_was_heard_the_second_opinion_counts_in_the_first_answer_too():
    desk = Desk(Path("scenarios/foot_scrub_bar.toml"))
    before = desk.asked.found.cost_per_kg
    settled = desk.settle(desk.asked.number).found.cost_per_kg
    asked = desk.wish(Limit("band/powder/max", 6.5), desk.asked.number)
    assert settled - before > 0.05
    moved = asked.found.cost_per_kg
    assert abs(moved - settled) < abs(moved - before)


@pytest.mark.parametrize(
    ("wish", "is_so"),
    [
        (LeaveOut("rapeseed_oil", True), lambda x: "rapeseed_oil" not in used(x)),
        (KeepOut("tree nut", True), lambda x: "sweet_almond_oil" not in used(x)),
        (PinAt("cocoa_butter", 20), lambda x: used(x)["cocoa_butter"] == 20.0),
        (PinAt("lavender_oil", None), lambda x: used(x)["lavender_oil"] == 1.0),
        (AimAt(("change", "cost")), lambda x: x.aims[0][0] == "change"),
    ],
)
@pytest.mark.usefixtures("workspace")
def test_other_wishes_are_answered_and_can_be_taken_back(wish, is_so):
    desk = Desk(BAR)
    before = desk.settle(desk.asked.number)
    asked = desk.wish(wish, desk.asked.number)
    told = desk.settle(asked.number).found
    assert is_so(told)
    same_as_formulate(desk, told)
    asked = desk.undo(asked.number)
    assert desk.text == desk.on_disk
    assert desk.settle(asked.number).found.cost_per_kg == before.found.cost_per_kg
    asked = desk.undo(asked.number, 1)
    assert is_so(desk.settle(asked.number).found)


@pytest.mark.parametrize(
    ("rule", "to", "written"),
    [
        ("pin/lavender oil", 0.5, {"pins": {"lavender oil": 0.5}}),
        ("band/wax/max", 13, {"bands": {"wax": {"max": 13}}}),
        ("limit/castor oil/max", 4, {"limits": {"castor oil": {"max": 4}}}),
    ],
)
@pytest.mark.usefixtures("workspace")
def test_a_limit_is_moved_where_the_file_has_it(rule, to, written):
    desk = Desk(BAR)
    assert rule in {each.id for each in desk.asked.programme.rules}
    desk.wish(Limit(rule, to), desk.asked.number)
    told = tomllib.loads(desk.text)
    assert "eased" not in told
    ((table, rows),) = written.items()
    ((name, row),) = rows.items()
    own = told[table][name]
    assert own == (own | row if isinstance(row, dict) else row)


def used(answer):
    return {x.ingredient: x.percent for x in answer.formula if x.percent > 0}


@pytest.mark.usefixtures("workspace")
def test_what_another_file_keeps_out_stays_out_beside_a_new_wish():
    desk = Desk(Path("scenarios/massage_bar_vegan_orange.toml"))
    desk.wish(LeaveOut("cocoa_butter", True), desk.asked.number)
    assert set(desk.asked.scenario.exclude.ingredients) == {
        "lavender_oil", "cocoa_butter",
    }  # fmt: skip
    assert desk.asked.scenario.exclude.vegan


@pytest.mark.usefixtures("workspace")
def test_a_pin_of_an_extended_file_can_be_let_go():
    desk = Desk(Path("scenarios/massage_bar_hot.toml"))
    desk.wish(PinAt("lavender_oil", None), desk.asked.number)
    assert tomllib.loads(desk.text)["pins"] == {"lavender oil": False}
    assert "lavender_oil" not in {x.what for x in desk.asked.scenario.pins}


CANNOT = [
    ("limit", {"rule": "total", "to": 90}, "is no rule here whose limit can be"),
    ("limit", {"rule": "nothing", "to": 1}, "is no rule here"),
    ("limit", {"rule": HARD, "to": 300}, "300"),
    ("limit", {"rule": HARD, "to": -5}, "-5"),
    ("ingredient", {"ingredient": "unobtainium", "out": True}, "is no ingredient"),
    ("allergen", {"allergen": "gold", "out": True}, "is no allergen"),
    ("pin", {"ingredient": "cocoa_butter", "at": 140}, "140"),
    ("aim", {"order": ["fame"]}, "fame"),
    ("way", {"way": 1}, "is no way out of what is shown"),
]  # fmt: skip


def test_what_cannot_be_asked_is_told_and_the_last_answer_stays(opened):
    page = opened()
    before, cost = page.number, page.cost
    for do, wish, told in CANNOT:
        reply = page.wish(do, **wish)
        assert reply.status_code == 422, wish
        assert told in page.text
        assert (page.number, page.cost) == (before, cost)
    assert page.limit(HARD, 31).status_code == 200


def test_the_limit_of_a_kind_of_rule_of_its_own_can_be_moved(opened, monkeypatch):
    def told_odd(space):
        return (replace(each, kind="odd") for each in ratios.rules(space))

    building = import_module("optimiser.rules.build")
    kinds = [told_odd if each is ratios.rules else each for each in building.KINDS]
    monkeypatch.setattr(building, "KINDS", tuple(kinds))
    asked = 'name = "r"\nfirst = ["wax"]\nsecond = ["liquid oil"]\nmax = 2\n'
    Path("scenarios/odd.toml").write_text(
        f'extends = "massage_bar.toml"\n[[ratios]]\n{asked}', encoding="utf-8"
    )
    page = opened("scenarios/odd.toml")
    assert 'data-limit="ratio/r/max"' in page.html
    assert page.limit("ratio/r/max", 0.25).status_code == 200


def test_a_page_that_is_behind_is_shown_the_last_question(opened):
    page = opened()
    behind = page.number
    page.limit(HARD, 33)
    now, cost = page.number, page.cost
    reply = page.post("wish", behind, wish={"do": "limit", "rule": HARD, "to": 44})
    assert reply.status_code == 409
    assert (page.number, page.cost) == (now, cost)
    told = page.client.get(page.own + "answer", params={"number": behind})
    assert (told.status_code, told.json()) == (409, {"number": now})


def test_the_page_shows_what_formulate_says(opened):
    page = opened()
    page.settle()
    assert "15.83 EUR per kg, 3.69 less than your base (19.52)" in page.text
    law = next(iter(law_lines(formulate(*read_scenario(BAR)).basis))).text
    assert law in page.text
    row = re.search(r'data-key="isal_butter">.*?</tr>', page.html, re.DOTALL)[0]
    assert "29.0" in row
    held = re.search(
        r'data-rule="band/hard butter/min">.*?</div>', page.html, re.DOTALL
    )[0]
    assert "holds: easing by 1 point saves 0.07 EUR/kg" in held
    assert "--full" not in page.text


def test_a_clash_is_shown_with_its_ways_out_above_the_last_formula(opened):
    page = opened()
    page.settle()
    page.limit("band/wax/max", 6)
    page.limit("band/wax/min", 6)
    cost = page.cost
    page.limit("band/liquid oil/min", 45)
    assert "Which rules clash, and the ways out, follow in a moment" in page.text
    page.settle()
    assert "Rules" not in page.text.split("What clashes")[0]
    ways = re.findall(r'data-wish="([^"]*way[^"]*)">([^<]*)<', page.html)
    assert 1 <= len(ways) <= 3
    assert all("EUR/kg" in told for _, told in ways)
    assert page.cost == cost
    told = float(re.search(r": (\d+\.\d\d) EUR/kg", ways[0][1])[1])
    assert page.wish("way", way=1).status_code == 200
    page.settle()
    assert page.cost == pytest.approx(told, abs=0.011)


@pytest.mark.parametrize(
    ("wish", "key", "value", "is_so"),
    [
        (MadeAs("lip balm"), "product", "lip balm", lambda s: "lip" in s.product_kinds),
        (SoldIn(("GB", "US")), "market", ["GB", "US"], lambda s: len(s.markets) == 2),
        (KeptIn("IVA"), "climate", {"zone": "IVA"}, lambda s: s.zone == "IVA"),
    ],
)  # fmt: skip
@pytest.mark.usefixtures("workspace")
def test_product_market_and_climate_are_one_step_each_and_are_saved(
    wish, key, value, is_so
):
    desk = Desk(BAR)
    asked = desk.wish(wish, desk.asked.number)
    assert is_so(asked.scenario)
    assert tomllib.loads(desk.text)[key] == value
    assert "# last year's bar, percent of the finished product" in desk.text
    same_as_formulate(desk, desk.settle(asked.number).found)
    desk.undo(asked.number)
    assert desk.text == desk.on_disk


@pytest.mark.usefixtures("workspace")
def test_a_product_that_is_rinsed_off_changes_the_use_in_the_same_step():
    desk = Desk(BAR)
    asked = desk.wish(MadeAs("foot scrub"), desk.asked.number)
    assert (asked.scenario.product, asked.scenario.use) == ("foot scrub", "rinse-off")
    assert desk.undo(asked.number).number != asked.number
    assert desk.text == desk.on_disk


@pytest.mark.usefixtures("workspace")
def test_a_climate_of_another_file_is_changed_but_not_taken_away():
    desk = Desk(Path("scenarios/massage_bar_hot.toml"))
    asked = desk.wish(KeptIn("II"), desk.asked.number)
    assert asked.scenario.zone == "II"
    desk = Desk(BAR.with_name("massage_bar_hot.toml"))
    (BAR.with_name("hotter.toml")).write_text(
        'title = "hotter"\nextends = "massage_bar_hot.toml"\n'
    )
    desk = Desk(BAR.with_name("hotter.toml"))
    with pytest.raises(InputError, match="named by the file that this one extends"):
        desk.wish(KeptIn(None), desk.asked.number)


def test_what_can_be_chosen_stands_on_the_page_with_what_is_taken(opened):
    page = opened("scenarios/massage_bar_hot.toml")
    climates = re.search(r'<select id="climate".*?</select>', page.html, re.DOTALL)[0]
    assert re.search(r"IVA[^>]*selected", climates)
    assert 'value="massage bar"' in page.html
    assert re.search(r'data-market="EU" checked', page.html)
    assert page.wish("markets", markets=["GB"]).status_code == 200
    assert "GB: " in page.text
    assert page.wish("markets", markets=["XX"]).status_code == 422
    empty = page.wish("product", product=" ")
    assert empty.status_code == 422
    assert "key product: is empty" in page.text
    assert page.wish("climate", zone="the moon").status_code == 422
    assert "sold in GB" in page.text


def test_a_limit_that_cannot_be_is_told_by_what_the_page_calls_it(opened):
    page = opened()
    reply = page.limit("band/wax/max", -5)
    assert reply.status_code == 422
    says = reply.json()["says"]
    assert says.startswith("wax at most ")
    assert "'-5' is negative" in says
    assert "eased" not in says
    assert "band/" not in says
