"""Firmness over temperatures: the figures that are told elsewhere, and what is open."""

import pytest
from msgspec.structs import replace

from optimiser import formulate
from optimiser.domain.material import Ingredient, Origin
from optimiser.explaining.facts import WITH_GRAINS, properties
from optimiser.explaining.firmness import firmness_curve
from optimiser.explaining.solid_fat import solid_fat_curve
from optimiser.presenting.firmness import firmness_page, firmness_plots
from optimiser.presenting.html import as_html
from optimiser.science.stiffening import stiffening
from tests.shipped import read_scenario

BARS = ("massage_bar", "massage_bar_hot", "foot_scrub_bar")


def answered(name):
    scenario, catalogue = read_scenario(f"scenarios/{name}.toml")
    answer = formulate(scenario, catalogue)
    amounts = {x.ingredient: x.percent for x in answer.formula if x.percent > 0.0}
    return amounts, scenario, catalogue


def drawn(name):
    return firmness_curve("x", *answered(name))


@pytest.mark.parametrize("name", BARS)
def test_at_each_temperature_of_a_window_the_curve_is_what_the_answer_tells(name):
    amounts, scenario, catalogue = answered(name)
    curve = firmness_curve("x", amounts, scenario, catalogue)
    by_degrees = {x.at: x for x in curve.points}
    told = [x for x in properties(amounts, scenario, catalogue) if x.over == "lipids"]
    firm = [x for x in told if x.property == "firmness"]
    fats = [x for x in told if x.property == "solid fat"]
    assert firm
    assert fats
    for line in firm:
        point = by_degrees[line.at]
        assert (point.low, point.value, point.high) == pytest.approx(
            (line.low, line.value, line.high)
        )
        assert (point.second, point.doubt) == pytest.approx((line.second, line.doubt))
    for line in fats:
        assert by_degrees[line.at].fat == pytest.approx(line.second)


@pytest.mark.parametrize("name", BARS)
def test_nothing_gets_firmer_on_warming_nor_does_solid_fat_return(name):
    points = drawn(name).points
    assert [x.at for x in points][:: len(points) - 1] == [10.0, 45.0]
    assert 8 <= len(points) <= 12
    assert points[0].value is None  # no figures of some oils so cold
    for of in ("second", "fat"):
        values = [getattr(x, of) for x in points]
        assert None not in values
        assert values == sorted(values, reverse=True)
        assert values[0] > values[-1]


def test_the_climate_and_the_skin_are_marked_and_a_room_where_no_climate_is_named():
    assert [(n, x.at) for n, x in drawn("massage_bar_hot").marks] == [
        ("IVA", 30.0), ("skin", 32.0),
    ]  # fmt: skip
    assert [(n, x.at) for n, x in drawn("massage_bar").marks] == [
        ("a room", 25.0), ("skin", 32.0),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("coolest", "marked"), [(9.9, False), (10.0, True), (45.0, True), (45.1, False)]
)
def test_a_temperature_is_marked_as_far_as_the_curve_goes(coolest, marked):
    amounts, scenario, catalogue = answered("massage_bar")
    skin = catalogue.zone("skin")
    zones = {
        key: replace(zone, low=coolest) if zone is skin else zone
        for key, zone in catalogue.zones.items()
    }
    curve = firmness_curve("x", amounts, scenario, replace(catalogue, zones=zones))
    assert (skin.name in dict(curve.marks)) == marked


def test_a_butter_that_nothing_is_known_of_leaves_the_second_opinion_out():
    amounts, scenario, catalogue = answered("massage_bar")
    fats = catalogue.fats
    of = {key for key in amounts if key.endswith("_butter")}
    less = replace(
        fats,
        triglycerides={k: v for k, v in fats.triglycerides.items() if k not in of},
        acids={k: v for k, v in fats.acids.items() if k not in of},
    )
    curve = firmness_curve(
        "x", amounts, scenario, replace(catalogue, load_fats=lambda: less)
    )
    assert curve.unknown
    assert {x.second for x in curve.points} == {None}
    firm, *fat = firmness_plots(curve)
    assert fat == []
    assert "too little is known of" in firm.caption
    assert "2nd opinion" not in firm.caption
    assert "nothing is drawn there" in firm.caption
    assert [len(x.at) for x in firm.series] == [len(curve.points), 1, 1]


def test_who_cannot_see_the_curve_is_told_its_figures_and_those_at_the_marks():
    curve = drawn("massage_bar")
    html = as_html([firmness_page(curve)])
    point = dict(curve.marks)["a room"]
    told = (
        f"Firmness at 25 °C (a room): {point.value:.0f}, by lot {point.low:.0f} to"
        f" {point.high:.0f}, 2nd opinion {point.second:.0f} +-8."
    )
    assert told in html
    assert f"25: {point.value:.0f} ({point.low:.0f} to {point.high:.0f})" in html
    alone = [f"{x.at:g}" for x in curve.points if x.value is None]
    assert len(alone) > 1
    where = f"{', '.join(alone[:-1])} and {alone[-1]} °C"
    assert f"at {where}: only the model is drawn there" in html
    firm, fat = firmness_plots(curve)
    assert f"{point.fat:.0f} % at 25 °C (a room)" in fat.caption
    assert [x.name for x in firm.series[-2:]] == ["a room, 25 °C", "skin, 32 °C"]


def test_grains_that_stiffen_a_bar_are_told_beside_its_lipids():
    firm, _ = firmness_plots(drawn("foot_scrub_bar"))
    assert "Grains make the finished bar some" in firm.caption
    firm, _ = firmness_plots(drawn("massage_bar"))
    assert "Grains" not in firm.caption


def test_a_finished_bar_is_firmer_than_its_lipids_by_what_its_grains_make_it():
    amounts, scenario, catalogue = answered("foot_scrub_bar")
    times = stiffening(amounts, catalogue)
    assert times > 1.05
    lines = properties(amounts, scenario, catalogue)
    lipids = {x.at: x for x in lines if (x.property, x.over) == ("firmness", "lipids")}
    bars = [x for x in lines if x.property == WITH_GRAINS]
    assert {x.at for x in bars} == set(lipids) != set()
    for bar in bars:
        for of in ("low", "value", "high", "second", "doubt"):
            own = getattr(lipids[bar.at], of)
            told = None if own is None else pytest.approx(times * own)
            assert getattr(bar, of) == told
    assert any(x.value is not None for x in bars)


def test_what_has_no_lipids_has_no_curve():
    _, scenario, catalogue = answered("massage_bar")
    curve = firmness_curve("x", {"sea_salt_fine": 100.0}, scenario, catalogue)
    assert curve.points == ()
    assert curve.stiffer == 1.0  # nothing for grains to stiffen
    assert list(firmness_plots(curve)) == []


def test_nothing_is_drawn_where_nothing_is_known_and_sums_alone_where_they_are():
    curve = drawn("massage_bar")
    known = tuple(replace(x, second=None) for x in curve.points if x.value is not None)
    (firm,) = firmness_plots(replace(curve, points=_flat(known), marks=()))
    assert [len(x.at) for x in firm.series] == [len(known)]
    unknown = tuple(replace(x, value=None) for x in known)
    assert list(firmness_plots(replace(curve, points=_flat(unknown)))) == []


def _flat(points):
    """Return points without the solid fat that a second opinion tells of."""
    return tuple(replace(x, fat=None) for x in points)


@pytest.mark.parametrize(("share", "known"), [(1.9, True), (2.0, False)])
def test_beside_much_that_is_unknown_nothing_is_drawn_and_a_little_is_left_aside(
    share, known
):
    amounts, scenario, catalogue = answered("massage_bar")
    own = Ingredient("zorvex", "zorvex", None, "unknown", Origin("own.csv"))
    catalogue = replace(catalogue, ingredients={**catalogue.ingredients, "zorvex": own})
    amounts = {key: p * (1.0 - share / 100.0) for key, p in amounts.items()}
    amounts["zorvex"] = share
    curve = firmness_curve("x", amounts, scenario, catalogue)
    fats = solid_fat_curve("x", amounts, catalogue, (20.0, 30.0))
    lines = properties(amounts, scenario, catalogue)
    firm = next(x for x in lines if x.property == "firmness")
    told = as_html([firmness_page(curve)])
    if known:
        assert any(x.value is not None for x in curve.points)
        assert "Without zorvex, of which nothing is known." in told
        assert fats.points
        assert fats.left_out == ("zorvex",)
        assert firm.without == (("zorvex", 1.9),)
    else:
        assert {x.value for x in curve.points} == {None}
        assert {x.second for x in curve.points} == {x.fat for x in curve.points}
        assert "too little is known of zorvex" in told
        assert fats.points == ()
        assert (fats.not_told, fats.melts_at) == (2.0, None)
        assert (firm.value, firm.second) == (None, None)
        assert firm.unknown == ("zorvex",)


BALM = {"cocoa_butter": 30.0, "sunflower_oil": 55.0, "beeswax": 12.0, "berry_wax": 3.0}


def test_no_firmness_is_drawn_of_a_bar_with_wax_of_unknown_strength():
    _, scenario, catalogue = answered("massage_bar")
    plain = replace(scenario, windows=(), base=BALM)
    curve = firmness_curve("x", BALM, plain, catalogue)
    assert {(x.value, x.second) for x in curve.points} == {(None, None)}
    assert "berry wax" in curve.unknown
    assert not list(firmness_plots(curve))


def test_what_a_window_leaves_aside_is_left_aside_by_the_curve():
    _, scenario, catalogue = answered("massage_bar")
    rest = "lipids without berry wax"
    firm = next(x for x in scenario.windows if x.property == "firmness")
    keys = tuple(key for key in catalogue.ingredients if key != "berry_wax")
    asked = replace(
        scenario,
        windows=(replace(firm, over=rest),),
        base=BALM,
        parts={**scenario.parts, rest: keys},
    )
    curve = firmness_curve("x", BALM, asked, catalogue)
    (line,) = (x for x in properties(BALM, asked, catalogue) if x.over == rest)
    (point,) = (x for x in curve.points if x.at == firm.at)
    assert (point.value, point.second) == pytest.approx((line.value, line.second))
    plots = list(firmness_plots(curve))
    assert "Of the lipids without berry wax." in plots[0].caption
