"""Trials shift the model by as little as they ask, and say what they bear."""

import math
import pathlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from optimiser.domain.material import Origin
from optimiser.domain.properties import PROPERTIES
from optimiser.domain.trial import Trial
from optimiser.errors import InputError
from optimiser.presenting import as_json
from optimiser.presenting.calibration import (
    calibration_csv,
    calibration_data,
    calibration_page,
)
from optimiser.presenting.terminal import as_text
from optimiser.reading import read_scenario
from optimiser.rules import build, part_amounts
from optimiser.science.mixing import blend_value
from optimiser.science.properties import figure
from optimiser.studies.calibration import calibrate
from optimiser.studies.calibration.observations import observations
from optimiser.studies.calibration.shifts import (
    Moved,
    half_spread,
    moved_catalogue,
    override_rows,
)
from optimiser.studies.calibration.support import Judged

ROOT = pathlib.Path(__file__).resolve().parents[3]
BARS = {
    "base": {"cocoa_butter": 40, "shea_butter": 20, "beeswax": 11, "olive_oil": 29},
    "rich": {"cocoa_butter": 50, "shea_butter": 20, "beeswax": 10, "olive_oil": 20},
    "oily": {"cocoa_butter": 30, "shea_butter": 20, "beeswax": 8, "olive_oil": 42},
    "shea": {"cocoa_butter": 30, "shea_butter": 50, "beeswax": 8, "olive_oil": 12},
    "waxy": {"cocoa_butter": 20, "shea_butter": 30, "beeswax": 18, "olive_oil": 32},
    "bare": {"cocoa_butter": 90, "olive_oil": 10},
}


@pytest.fixture(scope="module")
def known():
    """The demo scenario and its catalogue; "right" is 50 to 75 points."""
    return read_scenario(ROOT / "scenarios" / "massage_bar.toml", calibrated=False)


def trial(bar, room=25.0, verdict=None, *, row=2, drop=None, needle=None):
    formula = {key: float(p) for key, p in BARS[bar].items()}
    origin = Origin("trials.csv", row)
    name = f"{bar} {row}"
    return Trial(name, formula, None, room, verdict, drop, needle, origin)


def firmness(bar, at, known, catalogue=None):
    scenario, published = known
    catalogue = catalogue or published
    part = part_amounts(scenario, catalogue, dict(BARS[bar]), "lipids")
    return blend_value(PROPERTIES["firmness"], part, at, catalogue).value


def judged(bar, at, known, catalogue, row):
    """What a maker would say whose cocoa, shea and wax are as in a catalogue."""
    points = firmness(bar, at, known, catalogue)
    verdict = "too soft" if points < 50 else "too hard" if points > 75 else "right"
    return trial(bar, at, verdict, row=row)


def test_verdicts_that_the_model_meets_move_nothing(known):
    trials = [judged(bar, 25.0, known, known[1], n) for n, bar in enumerate(BARS)]
    found = calibrate(trials, *known)
    assert [each.by for each in found.shifts] == pytest.approx([0.0] * 3)
    assert found.support.before == found.support.observations == len(BARS)


def test_a_bar_found_too_soft_softens_what_it_is_made_of(known):
    assert firmness("rich", 25.0, known) > 50
    found = calibrate([trial("rich", 25.0, "too soft")], *known)
    assert all(each.by < 0 for each in found.shifts)
    (line,) = found.lines
    assert 50.0 - 0.5 < line.after < line.before  # held back: just short of the bound


def test_one_trial_is_the_closed_form_of_ridge_on_one_row(known):
    (seen,), _ = observations([trial("rich", 25.0, "too soft")], *known)
    steps = np.array(list(seen.steps.values()))
    pull = (seen.high - seen.model) / (seen.noise**2 + steps @ steps)
    found = {
        each.ingredient: each.by for each in calibrate([seen.trial], *known).shifts
    }
    for key, step in seen.steps.items():
        assert found[key] == pytest.approx(step * pull)


def test_a_hidden_shift_is_found_from_many_verdicts(known):
    hidden = moved_catalogue(
        known[1],
        {
            "cocoa_butter": Moved(0.8, 1.0, -50.0, 90.0),
            "beeswax": Moved(-0.6, 1.0, -50.0, 90.0),
        },
    )
    places = [(bar, at) for bar in BARS for at in (20.0, 22.0, 24.0, 26.0, 28.0)]
    trials = [judged(b, at, known, hidden, n) for n, (b, at) in enumerate(places)]
    found = calibrate(trials, *known)
    by = {each.ingredient: each.by for each in found.shifts}
    assert by["cocoa_butter"] > 0.2
    assert by["beeswax"] < -0.2
    assert found.support.level == "fair"
    right = sum(x.low - 0.5 <= x.after <= x.high + 0.5 for x in found.lines)
    assert right > found.support.before


def test_a_drop_point_asks_for_three_to_five_percent_of_solid_fat_there(known):
    seen, unused = observations([trial("bare", None, drop=34.0)], *known)
    assert (seen[0].kind, seen[0].low, seen[0].high) == ("drop point", 3.0, 5.0)
    assert unused == ()


def test_a_drop_point_that_wax_holds_up_is_passed_over_and_said(known):
    seen, unused = observations([trial("base", None, drop=50.0)], *known)
    assert seen == ()
    assert "wax, not fat, holds its drop point up" in unused[0].why


def test_a_needle_is_learnt_from_four_bars_and_no_fewer(known):
    def needles(bars):
        return [
            trial(bar, 25.0, needle=math.exp(5.0 - 0.03 * firmness(bar, 25.0, known)))
            for bar in bars
        ]

    seen, unused = observations(needles(list(BARS)[:3]), *known)
    assert seen == ()
    assert len(unused) == 3
    seen, unused = observations(needles(BARS), *known)
    assert unused == ()
    for each in seen:  # depths on a straight line say what the model says
        assert each.low == each.high == pytest.approx(each.model)


def test_what_was_read_is_told_as_it_was_read(known):
    depths = {bar: 5.0 * (n + 1) for n, bar in enumerate(reversed(BARS))}
    trials = [trial(bar, needle=depth) for bar, depth in depths.items()]
    trials += [trial("bare", None, drop=33.5), trial("rich", 25.0, "too soft")]
    found = calibrate(trials, *known).lines
    read = {each.trial: each.observed for each in found if each.kind == "penetration"}
    assert read == {f"{bar} 2": depth for bar, depth in depths.items()}
    told = {each.kind: each.observed for each in found}
    assert (told["drop point"], told["verdict"]) == (33.5, "too soft")


def test_a_needle_that_sinks_deeper_in_firmer_bars_is_not_believed(known):
    odd = [trial(bar, 25.0, needle=firmness(bar, 25.0, known)) for bar in BARS]
    assert observations(odd, *known)[0] == ()


def test_a_trial_whose_figures_are_not_known_is_passed_over_and_said(known):
    seen, unused = observations([trial("base", 5.0, "right")], *known)
    assert seen == ()
    assert unused[0].why.property == "firmness"
    assert (unused[0].why.at, unused[0].why.lacking[0]) == (5.0, "cocoa butter")


def test_a_bar_of_oil_alone_teaches_nothing(known):
    oil = replace(trial("base", 25.0, "too soft"), formula={"olive_oil": 100.0})
    assert "no figure could move" in observations([oil], *known)[1][0].why


def test_without_a_window_on_firmness_nothing_says_what_right_is(known):
    scenario, catalogue = known
    with pytest.raises(InputError, match="no window on firmness"):
        calibrate([], replace(scenario, windows=()), catalogue)


def test_a_verdict_on_a_side_the_window_leaves_open_is_passed_over(known):
    scenario, catalogue = known
    (window, *_) = (w for w in scenario.windows if w.property == "firmness")
    floor = replace(scenario, windows=(replace(window, high=None),))
    seen, unused = observations([trial("bare", 25.0, "too hard")], floor, catalogue)
    assert seen == ()
    assert "has no max" in unused[0].why
    (right,), _ = observations([trial("bare", 25.0, "right")], floor, catalogue)
    assert (right.low, right.high) == (50.0, math.inf)


@pytest.mark.parametrize(
    ("count", "level"), [(0, "too few"), (2, "too few"), (3, "thin")]
)
def test_fewer_than_three_trials_are_too_few(count, level, known):
    trials = [trial("base", 20.0 + 3 * n, "right", row=n) for n in range(count)]
    found = calibrate(trials, *known)
    assert found.support.level == level
    assert found.support.bars == count


def test_what_the_trials_lack_is_told(known):
    trials = [trial("base", 25.0, "right", row=n) for n in range(4)]
    told = " ".join(calibrate(trials, *known).support.reasons)
    assert "4 usable trials; 8 or more" in told
    assert "only 1 formula" in told
    assert "only one temperature" in told
    assert "every verdict is 'right'" in told


def test_verdicts_at_odds_are_told(known):
    trials = [
        trial("base", 20.0, "too soft", row=1),
        trial("base", 28.0, "right", row=2),
        trial("rich", 25.0, "right", row=3),
        trial("rich", 25.0, "too hard", row=4),
    ]
    found = calibrate(trials, *known).support.contradictions
    assert len(found) == 2
    assert found[0].cool == Judged("base 1", 20.0, "too soft")


def test_solid_fat_moves_less_where_nothing_was_tried():
    moved = Moved(1.0, 0.2, 20.0, 25.0)
    assert moved.at(22.0) == pytest.approx((1.0, 0.2))
    assert moved.at(30.0) == pytest.approx((0.5, 0.6))
    assert moved.at(40.0) == pytest.approx((0.0, 1.0))


@given(
    st.floats(-4, 4), st.floats(0, 1), st.sampled_from(["cocoa_butter", "shea_butter"])
)
def test_a_moved_curve_is_still_a_melting_curve(by, left, ingredient):
    _, catalogue = read()
    moves = {ingredient: Moved(by, left, 15.0, 30.0)}
    rows = override_rows(catalogue, moves)
    assert len(rows) == len(catalogue.figures["solid fat"][ingredient])
    for row in rows:
        assert 0.0 <= row.low <= row.value <= row.high <= 100.0
    for column in ("low", "value", "high"):
        figures = [getattr(row, column) for row in rows]
        assert figures == sorted(figures, reverse=True)
    after = moved_catalogue(catalogue, moves)
    for row in rows:
        found = figure(after, "solid fat", ingredient, row.at)
        told = (found.low, found.value, found.high)
        assert told == pytest.approx((row.low, row.value, row.high))


@given(st.floats(-4, 4), st.floats(0, 1))
def test_what_trials_tell_of_a_wax_never_widens_what_was_published(by, left):
    _, catalogue = read()
    for each in override_rows(catalogue, {"beeswax": Moved(by, left, 15.0, 30.0)}):
        old = catalogue.figures[each.property]["beeswax"][each.at]
        assert 0.0 <= each.low <= each.value <= each.high
        assert each.high - each.low <= left * (old.high - old.low) + 1e-9


def read(cache={}):  # noqa: B006 - read once for all examples
    if not cache:
        path = ROOT / "scenarios" / "massage_bar.toml"
        cache["known"] = read_scenario(path, calibrated=False)
    return cache["known"]


def test_oils_never_move_and_every_butter_may(known):
    _, catalogue = known
    assert half_spread(catalogue, "olive_oil", "firmness", 25.0) == 0.0
    assert half_spread(catalogue, "cocoa_butter", "firmness", 25.0) >= 5.0
    assert half_spread(catalogue, "cocoa_butter", "firmness", 45.0) == 0.0
    assert half_spread(catalogue, "beeswax", "firmness", 25.0) == pytest.approx(
        118.6, abs=0.1
    )
    assert half_spread(catalogue, "beeswax", "solid fat", 25.0) == 0.0
    assert half_spread(catalogue, "cocoa_butter", "firmness", -10.0) is None


def calibration_text(found, written=None, columns=80, full=True):
    return as_text(calibration_page(found, written, full=full), columns)


def test_the_report_says_all_of_it_in_any_width(known):
    trials = [trial(bar, 25.0, "right", row=n) for n, bar in enumerate(BARS)]
    found = calibrate([*trials, trial("base", None, drop=50.0, row=9)], *known)
    told = calibration_text(found, columns=80)
    for part in ("TRIALS SUPPORT", "WHAT MOVES", "NOT USED", "Nothing is changed yet"):
        assert part in told
    assert "Delete the file to go back" in " ".join(
        calibration_text(found, "calibration.csv", 80).split()
    )
    for columns in (64, 120):
        lines = calibration_text(found, columns=columns).splitlines()
        assert max(map(len, lines)) <= columns
    briefly = calibration_text(found, full=False)
    assert len(briefly.splitlines()) <= 32
    first = " ".join(briefly.splitlines()[:15])
    assert "a thin base: a first step" in first
    assert "The base's firmness at 25 °C over the lipids was " in first
    assert "Nothing is changed yet" in first
    assert "model was" in told
    assert "model was" not in briefly
    data = calibration_data(found)
    assert data["status"] == "thin"
    assert '"high": null' not in as_json(data)  # "right" has both sides


def test_the_rows_have_the_columns_of_properties_and_say_where_they_come_from(known):
    trials = [trial(bar, 25.0, "too soft", row=n) for n, bar in enumerate(BARS)]
    text = calibration_csv(calibrate(trials, *known), "my trials.csv")
    header, first, *_ = text.splitlines()
    shared = ROOT / "catalogues" / "materials" / "properties.csv"
    with shared.open(encoding="utf-8") as file:
        assert header == file.readline().rstrip("\n")
    assert "calibrated,estimated,,by optimiser calibrate from my trials.csv" in first


def test_every_kind_of_observation_is_shown_with_what_it_means(known):
    trials = [trial("base", 20.0 + n / 8, "right", row=n) for n in range(45)]
    trials += [trial("rich", 30.0, "too soft", row=50)]
    trials += [trial("shea", 20.0, "too soft", row=51)]
    trials += [trial("shea", 25.0, "right", row=52)]
    trials += [trial("bare", None, drop=33.0, row=53)]
    found = calibrate(trials, *known)
    told = " ".join(calibration_text(found, columns=100).split())
    assert "and 9 more" in told
    assert "at odds: shea 51 at 20 °C is 'too soft'" in told
    needles = [
        trial(bar, 25.0, "too hard", needle=math.exp(5 - 0.03 * points), row=n)
        for n, bar in enumerate(BARS)
        if (points := firmness(bar, 25.0, known))
    ]
    drops = [trial("bare", None, drop=33.0, row=9), trial("base", 27.0, "too soft")]
    told = calibration_text(calibrate([*needles, *drops], *known), columns=100)
    for part in (
        "above 75",
        "below 50",
        "about ",
        "3 to 5",
        "drops at 33 °C",
        "needle ",
    ):
        assert part in told
    assert "lies outside of what is published" in " ".join(told.split())


def test_one_ingredient_that_moved_is_told_by_itself(known):
    found = calibrate(
        [trial("bare", 25.0, "too soft", row=n) for n in range(3)], *known
    )
    alone = replace(found, shifts=found.shifts[:1])
    for full in (False, True):
        told = " ".join(as_text(calibration_page(alone, full=full), 80).split())
        assert "firmness of the ingredient by itself at 25 °C" in told
        assert alone.shifts[0].name in told


def test_a_window_without_a_top_leaves_right_open_there(known):
    scenario, catalogue = known
    (window, *_) = (w for w in scenario.windows if w.property == "firmness")
    for sides, means in (
        ({"high": None}, "above 50"),
        ({"low": None}, "below 75"),
        ({"low": None, "high": None}, "anything"),
    ):
        asked = replace(scenario, windows=(replace(window, **sides),))
        told = calibration_text(
            calibrate([trial("base", 25.0, "right")], asked, catalogue), columns=100
        )
        assert means in told


def test_without_trials_or_a_base_there_is_still_a_report(known):
    scenario, catalogue = known
    found = calibrate([], replace(scenario, base={}), catalogue)
    told = calibration_text(found, columns=80)
    assert "WHAT IT DOES TO THE BASE" not in told
    assert "Nothing is changed: the rules go on" in told
    assert found.rows == ()


def test_trials_foretold_worse_than_before_are_told(known):
    # One odd bar: it alone would make the waxy bar too hard.
    trials = [
        trial("base", 21.0, "right", row=1),
        trial("rich", 25.0, "too hard", row=2),
        trial("waxy", 25.0, "right", row=3),
        trial("shea", 25.0, "right", row=4),
    ]
    support = calibrate(trials, *known).support
    assert (support.before, support.left_out) == (3, 2)
    assert any("foretold worse" in each for each in support.reasons)
    assert support.level == "thin"


# Verdicts the wrong way round: the firm bars too soft, the oily one too hard.
UPSIDE_DOWN = (
    ("rich", 25.0, "too soft"),
    ("bare", 22.0, "too soft"),
    ("oily", 25.0, "too hard"),
    ("oily", 22.0, "too hard"),
    ("base", 21.0, "right"),
)


def upside_down():
    return [
        trial(bar, at, verdict, row=row)
        for row, (bar, at, verdict) in enumerate(UPSIDE_DOWN, 2)
    ]


def test_bars_that_no_figure_explains_are_named_and_move_nothing(known):
    found = calibrate(upside_down(), *known)
    assert found.support.level == "not explained"
    named = {line.trial for line in found.unexplained}
    assert {"rich 2", "oily 4"} <= named
    assert "base 6" not in named
    told = " ".join(calibration_text(found, full=False).split())
    assert "these figures cannot explain your bars" in told
    assert "rich 2 at 25 °C: seen 'too soft' (below 50), but the model says" in told
    assert "would not change the figures" in told
    assert "WHAT MOVES" not in told


def test_one_odd_bar_among_many_is_named_and_the_rest_still_counts(known):
    trials = [judged(bar, 25.0, known, known[1], n) for n, bar in enumerate(BARS)]
    trials += [judged(bar, 22.0, known, known[1], n + 10) for n, bar in enumerate(BARS)]
    # As firm as the upper limit here, and its wax is in all the others too.
    found = calibrate([*trials, trial("bare", 21.0, "too soft", row=30)], *known)
    assert [line.trial for line in found.unexplained] == ["bare 30"]
    assert found.support.level in {"thin", "fair"}


def test_trials_that_fit_leave_nothing_unexplained_and_propose_no_window(known):
    trials = [judged(bar, 25.0, known, known[1], n) for n, bar in enumerate(BARS)]
    found = calibrate(trials, *known)
    assert found.unexplained == ()
    assert found.proposal is None


def windowless(known):
    scenario, catalogue = known
    left = tuple(w for w in scenario.windows if w.property != "firmness")
    return replace(scenario, windows=left), catalogue


def test_without_a_window_verdicts_speak_for_one_and_move_no_figure(known):
    trials = [judged(bar, 25.0, known, known[1], n) for n, bar in enumerate(BARS)]
    found = calibrate(trials, *windowless(known))
    values = {bar: firmness(bar, 25.0, known) for bar in BARS}
    right = [v for v in values.values() if 50 <= v <= 75]
    soft = [v for v in values.values() if v < 50]
    hard = [v for v in values.values() if v > 75]
    each = found.proposal
    assert each.met == each.verdicts == len(BARS)
    assert (each.at, each.over, each.replaces) == (25.0, "lipids", False)
    assert max(soft) <= each.low + 0.5 <= min(right) + 1.0
    assert max(right) - 0.5 <= each.high
    assert bool(hard) == each.hard
    assert found.rows == ()
    assert found.shifts == ()
    told = calibration_text(found, full=False)
    assert "[[windows]]" in told
    assert f"min = {each.low:g}" in told
    assert "the verdicts set the window" in told


def test_limits_stay_near_what_was_right_and_a_side_nobody_saw_is_said(known):
    trials = [trial("base", 25.0, "right", row=n) for n in range(3)]
    each = calibrate(trials, *windowless(known)).proposal
    value = firmness("base", 25.0, known)
    assert (each.low, each.high) == (round(value - 5), round(value + 5))
    assert (each.soft, each.hard) == (False, False)
    told = " ".join(
        calibration_text(calibrate(trials, *windowless(known)), full=False).split()
    )
    assert "no bar was found too soft, so its min is only the last" in told


@pytest.mark.parametrize("verdicts", [("right", "right"), ("too soft",) * 4])
def test_too_few_verdicts_or_none_right_speak_for_no_window(verdicts, known):
    trials = [trial("base", 25.0, each, row=n) for n, each in enumerate(verdicts)]
    with pytest.raises(InputError, match="no window on firmness"):
        calibrate(trials, *windowless(known))


def test_drop_points_need_no_window(known):
    drops = [trial("bare", None, drop=31.0, row=n) for n in range(3)]
    found = calibrate(drops, *windowless(known))
    assert found.support.observations == 3
    assert found.shifts[0].ingredient == "cocoa_butter"


def test_a_window_that_fits_the_verdicts_better_is_told_beside_the_figures(known):
    # A maker who likes softer bars than the scenario says.
    trials = [
        trial("oily", 25.0, "right", row=2),
        trial("oily", 27.0, "right", row=3),
        trial("base", 25.0, "too hard", row=4),
        trial("rich", 25.0, "too hard", row=5),
    ]
    each = calibrate(trials, *known).proposal
    assert each.replaces
    assert firmness("oily", 25.0, known) <= each.high <= firmness("base", 25.0, known)
    told = calibration_text(calibrate(trials, *known), full=False)
    assert f'"window/firmness/25 degC/lipids/max" = {each.high:g}' in told


def test_a_window_is_replaced_by_the_id_of_its_rule_whatever_its_degrees(known):
    scenario, catalogue = known
    (window,) = [x for x in scenario.windows if x.property == "firmness"]
    fine = replace(window, at=25.125, at_text="25.125 degC")
    asked = replace(scenario, windows=(fine,))
    trials = [
        trial("oily", 25.125, "right", row=2),
        trial("oily", 27.0, "right", row=3),
        trial("base", 25.125, "too hard", row=4),
        trial("rich", 25.125, "too hard", row=5),
    ]
    told = calibration_text(calibrate(trials, asked, catalogue), full=False)
    ids = {rule.id for rule in build(asked, catalogue).rules}
    assert "window/firmness/25.125 degC/lipids/max" in ids
    assert '"window/firmness/25.125 degC/lipids/max" = ' in told


def test_an_eased_window_is_the_one_that_says_what_right_is(known):
    scenario, catalogue = known
    eased = {
        "window/firmness/25 degC/lipids/min": (30.0, Origin("bar.toml")),
        "window/firmness/25 degC/lipids/max": (45.0, Origin("bar.toml")),
    }
    seen, _ = observations(
        [trial("oily", 25.0, "right")], replace(scenario, eased=eased), catalogue
    )
    assert (seen[0].low, seen[0].high) == (30.0, 45.0)
