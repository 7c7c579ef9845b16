"""What is said of a limit's prices, against the prices, in every case there is."""

from itertools import product

import pytest
from msgspec.structs import replace

from optimiser import presenting
from optimiser.domain.material import Origin
from optimiser.domain.rule import Row, Rule
from optimiser.domain.wording import Fixed
from optimiser.explaining.answer import Price, RuleLine
from optimiser.explaining.curve import PriceCurve, PricePoint
from optimiser.explaining.why import RuleCurve
from optimiser.presenting import as_text
from optimiser.presenting.rules import binding
from optimiser.presenting.why import rule_page
from tests.presenting import shown

NOTHING_CHANGES = "moving them a little changes nothing"
FREE = Price("cost", 0.0, None)
GAINS = (Price("cost", -0.2, 5.0), Price("cost", -0.2, None), Price("change", -1, 9.99))
COSTS = (Price("cost", 0.3, 5.0), Price("cost", 0.3, None), Price("change", 1, 9.99))
OWNERS = ("wish", "law")


def rule(side, limit=10.0, owner="wish", unit="%"):
    return Rule(
        id="band/wax",
        wording=Fixed("the rule"),
        kind="pin" if side == "exact" else "band",
        side=side,
        limit=limit,
        unit=unit,
        amounts=Row.of([(0, 1.0)]),
        per_constant=1.0,
        owner=owner,
        origin=Origin("bar.toml", field="bands.wax"),
    )


def told(*lines, choices_kept=False):
    aims = ("cost", "change")
    found = binding(lines, aims, "EUR", choices_kept=choices_kept)
    return shown.flat(shown.told(found))


@pytest.mark.parametrize("side", ["min", "max"])
@pytest.mark.parametrize("owner", OWNERS)
def test_each_sentence_on_a_limit_says_what_its_prices_say(side, owner):
    eased, tightened = (FREE, *GAINS), (None, FREE, *COSTS)
    for ease, tighten in product(eased, tightened):
        text = told(RuleLine(rule(side, owner=owner), 10, 0, True, ease, tighten))
        case = (ease, tighten, text)
        priced = [p for p in (ease, tighten) if p is not None and p.price]
        assert ("cannot be tightened: nothing would fit" in text) == (tighten is None)
        assert (NOTHING_CHANGES in text) == (tighten == FREE == ease), case
        apart = ease == FREE and tighten != FREE and owner == "wish"
        idle = "them" if not priced else "it"
        assert (f"easing {idle} a little changes nothing" in text) == apart, case
        one = tighten == FREE and ease.price < 0.0
        assert ("tightening it a little changes nothing" in text) == one, case
        offered = [p for p in priced if owner == "wish" or p is not ease]
        assert text.count("however far") == sum(p.until is None for p in offered)
        assert text.count("but only to begin with") == sum(
            p.until is not None and abs(p.until - 10.0) < 0.01 for p in offered
        )
        assert text.count("to 5 %") == sum(p.until == 5.0 for p in offered), case
        gains = ease.price < 0.0 and owner == "wish"
        assert ("saves" in text or "takes" in text) == gains, case
        assert ("that it " in text) == (ease.price < 0.0 and owner == "law"), case
        harms = tighten is not None and tighten.price > 0.0
        assert ("tightening by" in text or "tightening costs" in text) == (
            harms and tighten.until != 9.99
        ), case


def test_each_sentence_on_a_pin_says_what_its_prices_say():
    sides = (None, FREE, Price("cost", -0.2, 5.0), Price("cost", 0.3, None))
    for lower, higher in product(sides, sides):
        ways = sorted((p for p in (lower, higher) if p), key=lambda p: p.price)
        ease = ways[0] if ways and ways[0].price <= 0.0 else None
        tighten = next((p for p in ways if p is not ease and p.price >= 0.0), None)
        line = RuleLine(rule("exact"), 10, 0, True, ease, tighten, lower, higher)
        text = told(line)
        case = (lower, higher, text)
        assert (NOTHING_CHANGES in text) == (lower == FREE == higher), case
        assert ("nothing would fit" in text) == (None in (lower, higher)), case
        for price, act, done in (
            (lower, "lowering", "lowered"),
            (higher, "raising", "raised"),
        ):
            stuck = f"be {done}" in text or f"or {done}" in text
            assert stuck == (price is None), case
            moves = price is not None and price.price != 0.0
            assert (f"{act} by" in text or f"{act} saves" in text) == moves, case


@pytest.mark.parametrize(
    ("side", "limit", "stuck"),
    [
        ("max", 0.0, False),  # no share is below nothing
        ("min", 0.0, True),
        ("max", 100.0, True),
        ("min", 100.0, False),  # nor above all
        ("max", 10.0, True),
    ],
)
def test_a_limit_that_could_mean_nothing_else_is_not_said_to_be_stuck(
    side, limit, stuck
):
    line = RuleLine(rule(side, limit), limit, 0.0, True, FREE, None)
    assert ("cannot be tightened" in told(line)) == stuck
    assert (NOTHING_CHANGES in told(line)) == (not stuck)
    gains = replace(line, ease=Price("cost", -0.5, None))
    assert ("cannot be tightened" in told(gains)) == stuck


def test_a_jump_is_not_said_to_be_a_limit_that_nothing_fits():
    jump = RuleLine(rule("min"), 10.0, 0.0, True, FREE, None, jumps=True)
    text = told(jump)
    assert "tightening it ever so little is a jump to another formula" in text
    assert "easing it a little changes nothing" in text
    assert "nothing would fit" not in text
    eased = RuleLine(
        rule("max"), 10.0, 0.0, True, None, Price("cost", 1, 5), jumps=True
    )
    assert "easing it ever so little is a jump to another formula" in told(eased)
    assert "tightening by 1 point costs 1.00 EUR/kg, down to 5 %" in told(eased)


def test_rules_that_say_the_same_are_told_together():
    stuck = RuleLine(rule("min"), 10.0, 0.0, True, FREE, None)
    free = RuleLine(
        replace(rule("max"), wording=Fixed("free")), 10.0, 0.0, True, FREE, FREE
    )
    other = replace(stuck, rule=replace(stuck.rule, wording=Fixed("another")))
    text = told(stuck, free, other)
    assert "they cannot be tightened: nothing would fit: the rule; another" in text
    assert f"{NOTHING_CHANGES}: free" in text


def test_no_more_is_said_not_to_fit_than_was_looked_at():
    """With the choices kept, or near a formula that the second opinion led to."""
    stuck = RuleLine(rule("min"), 10.0, 0.0, True, FREE, None)
    assert "tightened: with the chosen ingredients nothing would fit" in told(
        stuck, choices_kept=True
    )
    opinion = replace(stuck, binding=False, rule=replace(stuck.rule, kind="opinion"))
    assert "nothing near this formula would fit" in told(stuck, opinion)
    out = RuleLine(rule("max", 0.0), 0.0, 0.0, True, FREE, None)
    kept = told(out, choices_kept=True)
    assert "Not priced while the chosen ingredients are kept: the rule" in kept
    assert "nothing" not in kept


ENDS = {
    "no formula beyond": ("nothing changes as far as 4 %; no formula beyond", ""),
    "no limit beyond": ("nothing changes", "no formula"),
    "straight on": ("nothing changes", "no formula"),
}


@pytest.mark.parametrize("end", ENDS)
def test_a_way_along_which_nothing_changes_says_where_formulas_end(end):
    points = (PricePoint(4.0, 20.0), PricePoint(10.0, 20.0), PricePoint(12.0, 21.0))
    curve = PriceCurve("cost", "EUR/kg", points, 0.0, end, "no formula beyond", False)
    text = as_text(rule_page(RuleCurve(rule("min"), 10.0, 0.0, (curve,))), 200)
    down = next(x for x in text.splitlines() if x.strip().startswith("down:"))
    wanted, not_said = ENDS[end]
    assert wanted in down
    assert not not_said or not_said not in down
    assert "up: 12 %: 21.00 EUR/kg (+1.00); no formula beyond" in text


def test_a_curve_tells_with_its_sign_by_how_much_less_than_one_it_changes():
    points = (PricePoint(8.0, 19.6), PricePoint(10.0, 20.0), PricePoint(12.0, 20.4))
    end = "no formula beyond"
    curve = PriceCurve("cost", "EUR/kg", points, 0.0, end, end, False)
    text = as_text(rule_page(RuleCurve(rule("min"), 10.0, 0.0, (curve,))), 200)
    assert "down: 8 %: 19.60 EUR/kg (-0.40)" in text
    assert "up: 12 %: 20.40 EUR/kg (+0.40)" in text


@pytest.mark.parametrize(
    ("steps", "last"),
    [
        (2, "12 %: 24.00 EUR/kg (+4.00); no formula beyond"),
        (3, "12 %: 24.00 EUR/kg (+4.00); 1 more"),
        (5, "12 %: 24.00 EUR/kg (+4.00); 3 more"),
    ],
)
def test_steps_of_a_curve_that_are_not_told_are_counted(steps, last):
    points = tuple(PricePoint(10.0 + n, 20.0 + n * n) for n in range(steps + 1))
    end = "no formula beyond"
    curve = PriceCurve("cost", "EUR/kg", points, 0.0, end, end, False)
    text = as_text(rule_page(RuleCurve(rule("min"), 10.0, 0.0, (curve,))), 400)
    (up,) = (x for x in text.splitlines() if x.strip().startswith("up:"))
    assert up.endswith(last)
    every = text[text.index("COST AT EVERY STEP") :]
    for each in points:
        assert f"{each.limit:g} %: {each.value:.2f} EUR/kg" in every


def test_data_tell_whether_a_side_without_a_price_is_a_jump(answer):
    band = answer.rules[1]
    lines = (band, replace(band, tighten=None, jumps=True))
    data = presenting.answer_data(replace(answer, rules=lines))["rules"]
    assert [each["jumps"] for each in data] == [False, True]
