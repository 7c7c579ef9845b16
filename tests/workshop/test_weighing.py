"""Weighed amounts: whole steps of a scale that keep every rule, exactly to the total.

A few random questions are tried here; many more with ``RANDOM_WEIGHINGS=300`` (how
many), and ``RANDOM_SEED=10000`` (the first) where others are wanted.
"""

import math
import os
import random

import pytest
from msgspec.structs import replace

from optimiser.domain.bench import FineScale
from optimiser.errors import InputError
from optimiser.explaining.answering import NoFormula, answer
from optimiser.reading import read_scenario
from optimiser.rules.weighing import AS_WRITTEN, in_weighable_steps
from optimiser.solving import attempted
from optimiser.workshop.weighing import weigh
from tests.random_scenarios.comparing import read
from tests.random_scenarios.files import write
from tests.random_scenarios.independent import Model, UnaskedError
from tests.random_scenarios.specification import specification

FIRST = int(os.environ.get("RANDOM_SEED", "0"))
SEEDS = range(FIRST, FIRST + int(os.environ.get("RANDOM_WEIGHINGS", "40")))
# This one takes the search a minute.
LONG = {13} if "RANDOM_WEIGHINGS" not in os.environ else set()
NEAR = 1e-6  # of a limit, as far as answers are proved
SCENARIOS = (
    "massage_bar",
    "massage_bar_hot",
    "massage_bar_nut_free",
    "foot_scrub_bar",
    "lip_balm",
)
BAR = "scenarios/massage_bar.toml"


@pytest.fixture
def solved():
    """Return a function that answers a scenario file."""

    def of(path):
        return answer(*read_scenario(path))

    return of


@pytest.fixture
def asked(tmp_path, solved):
    """Return a function that answers a scenario of a few lines, from the demo's bar."""

    def of(text):
        path = tmp_path / "asked.toml"
        head = 'title = "A"\nworkshop = "demo"\nuse = "leave-on"\n'
        path.write_text(head + text, encoding="utf-8")
        found = solved(path)
        assert not isinstance(found, NoFormula)
        return found

    return of


def broken(model, percents, near=AS_WRITTEN):
    """The names of the independent model's rules that a formula breaks."""
    found = []
    x = model.columns(percents)
    for name, each in model.rules.items():
        row, low, high = each.row(each.limit)
        by = max(low - row @ x, row @ x - high)
        scale = max(1.0, abs(each.limit)) * max(1.0, abs(each.constant))
        room = NEAR * scale * max(1.0, abs(row).max() / 100.0)
        if each.side == "exact" and name.split("/")[0] in {"pin", "minor"}:
            room += near
        if by > room:
            found.append(name)
    return found


@pytest.mark.parametrize("seed", sorted({*SEEDS} - LONG))
def test_weighed_amounts_keep_every_rule_or_say_which_they_cannot(seed, tmp_path):
    asked = specification(seed)
    try:
        model = Model(asked)
    except UnaskedError:
        pytest.skip("nothing can be asked")
    try:
        found = answer(*read(asked, write(asked, tmp_path)))
    except InputError as error:
        assert "leaves no ingredient to choose from" in str(error)  # noqa: PT017
        pytest.skip("nothing can be chosen")
    if isinstance(found, NoFormula):
        pytest.skip("no formula keeps the rules")
    chance = random.Random(seed)
    kg = chance.choice([0.1, 0.3, 1.51402, 5.0])
    step = chance.choice([1e-3, 1e-4, 1e-4, 1e-5])
    grows = chance.random() < 0.5
    fine = chance.choice([None, None, FineScale(step / 10, None, kg / 10)])
    weighing = weigh(found, kg, step, fine=fine, may_grow=grows)
    if not weighing.kept:
        assert weighing.missed or not weighing.lines  # not even law and safety
        if weighing.finer is None:
            finest = weigh(found, weighing.batch_kg, 1e-6, fine=fine)
            assert not finest.kept
        else:
            again = weigh(found, weighing.batch_kg, weighing.finer, fine=fine)
            assert again.kept
            assert not broken(model, {x.ingredient: x.percent for x in again.lines})
        told = {each.rule.id for each in weighing.missed}
    else:
        told = set()
    if weighing.lines:
        least = min(each.step for each in weighing.lines)
        steps = {x.ingredient: x.steps * round(x.step / least) for x in weighing.lines}
        batch = round(weighing.batch_kg / least)
        assert sum(steps.values()) == batch
        assert steps.keys() == found.amounts.keys()
        percents = {key: 100.0 * each / batch for key, each in steps.items()}
        assert {*broken(model, percents)} <= told


# A test of the test: most random questions have an answer on a real scale.
def test_most_random_questions_can_be_weighed(tmp_path, solved):
    kept = 0
    for seed in range(12):
        path = tmp_path / f"{seed}"
        path.mkdir()
        try:
            found = solved(write(specification(seed), path))
        except InputError:
            continue
        kept += not isinstance(found, NoFormula) and weigh(found, 1.5, 1e-4).kept
    assert kept >= 6


@pytest.mark.parametrize("name", SCENARIOS)
def test_a_shipped_scenario_can_be_weighed_to_the_tenth_of_a_gram(name, solved):
    found = solved(f"scenarios/{name}.toml")
    asked_for = in_weighable_steps(found.programme, found.amounts, 15143)
    assert attempted(asked_for) is not None
    weighing = weigh(found, 1.5142268, 1e-4)
    assert weighing.kept
    assert sum(each.steps for each in weighing.lines) == 15143
    assert weighing.batch_kg == pytest.approx(1.5143)
    for line in weighing.lines:
        assert line.percent == pytest.approx(100.0 * line.steps / 15143)
        assert line.kg == pytest.approx(line.steps * 1e-4)
        assert line.percent == pytest.approx(line.wanted_percent, abs=0.1)


def test_windows_hold_by_the_second_opinion_as_weighed(solved):
    from optimiser.explaining.opinions import told  # noqa: PLC0415

    found = solved("scenarios/massage_bar_hot.toml")
    assert found.outcome in {"agrees", "held"}
    percents = {x.ingredient: x.percent for x in weigh(found, 0.5, 1e-3).lines}
    own = found.optimum.amounts.copy()
    for number, key in enumerate(found.programme.ingredients):
        own[number] = percents.get(key, 0.0)
    assert told(found.opinion, found.programme, own).outcome == "agrees"


def test_a_window_that_breaks_by_the_second_opinion_as_weighed_is_told(
    solved, monkeypatch
):
    found = solved(BAR)
    assert found.outcome == "agrees"
    line = replace(found.said.lines[0], second=99.0, holds=False)
    said = replace(found.said, outcome="told", lines=(line,))
    monkeypatch.setattr("optimiser.workshop.weighing.told", lambda *_: said)
    weighing = weigh(found, 1.5, 1e-4)
    assert not weighing.kept
    assert [(m.rule.id, m.value) for m in weighing.missed] == [(line.rule.id, 99.0)]


# 1.5 kg of whole half percents at 0.1 g: every line falls on a step.
def test_what_falls_on_steps_is_weighed_as_it_is_wanted(solved):
    weighing = weigh(solved(BAR), 1.5, 1e-4)
    assert weighing.off_points == pytest.approx(0.0, abs=1e-9)
    assert weighing.nearest == ()


TWO = '[only]\ningredients = ["cocoa butter", "sunflower oil"]\n'


def test_a_share_takes_the_nearest_step_and_says_so(asked):
    found = asked(TWO + '[pins]\n"cocoa butter" = 33.3\n')
    weighing = weigh(found, 0.1, 1e-3)  # 33.3 g on a scale of 1 g
    assert not weighing.kept  # 33 % is further off than half of 0.1 %
    weighing = weigh(found, 0.105, 1e-4)  # 34.965 g on a scale of 0.1 g
    assert weighing.kept
    assert {x.ingredient: x.steps for x in weighing.lines}["cocoa_butter"] == 350
    assert [each.rule.id for each in weighing.nearest] == ["pin/cocoa butter"]


# At most 40.05 % of 100 g is 40.05 g: 40 g by whole grams, 40.0 by tenths. At least
# 40.01 and at most 40.02 % has no tenth of a gram between, but one of 0.02 g.
def test_limits_between_two_steps_need_a_finer_scale(asked):
    bands = '"hard butter" = { min = 40.01, max = 40.02 }\n'
    found = asked(f"{TWO}[bands]\n{bands}")
    weighing = weigh(found, 0.1, 1e-4)
    assert not weighing.kept
    assert len(weighing.missed) == 1
    assert weighing.missed[0].rule.id.startswith("band/hard butter/")
    assert weighing.finer == pytest.approx(2e-5)
    assert weigh(found, 0.1, 1e-5).kept
    assert weigh(found, 1.0, 1e-4).kept


def test_a_batch_is_made_rounder_where_that_keeps_every_rule(asked):
    bands = '"hard butter" = { min = 40, max = 40 }\n'
    found = asked(f"{TWO}[bands]\n{bands}")
    assert not weigh(found, 0.0991, 1e-4).kept  # 39.64 g
    grown = weigh(found, 0.0991, 1e-4, may_grow=True)
    assert grown.kept
    assert grown.grown
    assert grown.batch_kg == pytest.approx(0.1)
    assert not weigh(found, 0.091, 1e-3, may_grow=True).kept  # 100 g are too many more
    assert weigh(found, 0.091, 1e-3).larger == pytest.approx(0.1)


# 33 % of whole grams is whole in hundreds of them only: not in 120, the next rounder.
def test_the_larger_batch_that_is_told_is_one_that_keeps_every_rule(asked):
    found = asked(TWO + '[bands]\n"hard butter" = { min = 33, max = 33 }\n')
    assert weigh(found, 0.111, 1e-3).larger == pytest.approx(0.2)
    assert weigh(found, 0.2, 1e-3).kept


def test_what_has_to_go_somewhere_goes_to_the_largest_line(asked):
    found = asked(TWO + '[pins]\n"cocoa butter" = 1\n')
    steps = {x.ingredient: x.steps for x in weigh(found, 0.1057, 1e-4).lines}
    assert steps == {"cocoa_butter": 11, "sunflower_oil": 1046}  # 1.057 and 104.643 g


POCKET = FineScale(1e-5, 5e-4, 0.05)


# 1.45, 30.4 and 68.15 g by whole grams: one gram more than 1, 30 and 68 has to go
# somewhere. By grams alone to the 1.45 g; it is more than a third of that line.
def test_a_step_counts_for_what_it_is_of_its_line(asked):
    found = asked(
        '[aim]\norder = ["change"]\n[base]\n"jojoba oil" = 1.45\n'
        '"cocoa butter" = 30.4\n"sunflower oil" = 68.15\n'
    )
    steps = {x.ingredient: x.steps for x in weigh(found, 0.1, 1e-3).lines}
    assert steps == {"jojoba_oil": 1, "cocoa_butter": 31, "sunflower_oil": 68}


# Of 105.7 g, 1 % is 1.057 g: by 0.1 g 1.1 g, and by the pocket scale's 0.01 g 1.06 g.
def test_small_lines_are_weighed_on_the_fine_scale_and_the_rest_on_the_other(asked):
    found = asked(TWO + '[pins]\n"cocoa butter" = 1\n')
    weighing = weigh(found, 0.1057, 1e-4, fine=POCKET)
    steps = {x.ingredient: (x.steps, x.step) for x in weighing.lines}
    assert steps["cocoa_butter"] == (110, 1e-5)  # the oil comes in tenths of a gram
    assert steps["sunflower_oil"] == (1046, 1e-4)
    assert math.fsum(x.kg for x in weighing.lines) == pytest.approx(0.1057)
    assert weigh(found, 0.1, 1e-4, fine=POCKET).kept


def test_two_small_lines_need_not_come_in_steps_of_the_other_scale(solved):
    weighing = weigh(solved(BAR), 0.5, 1e-3, fine=POCKET)
    assert weighing.kept
    grams = {x.ingredient: x.kg * 1e3 for x in weighing.lines}
    assert sum(grams.values()) == pytest.approx(500.0)
    assert grams["lavender_oil"] == pytest.approx(5.0)
    assert grams["tocopherols"] == pytest.approx(2.5)
    for line in weighing.lines:
        large = line.wanted_percent * 5.0 > 50.0
        assert line.step == (1e-3 if large else 1e-5)
        assert line.kg == pytest.approx(line.steps * line.step)


def test_a_fine_scale_that_is_no_part_of_the_other_is_not_used(asked):
    found = asked(TWO + '[pins]\n"cocoa butter" = 1\n')
    for fine in (FineScale(3e-5, None, 0.05), FineScale(1e-4, None, 0.05)):
        weighing = weigh(found, 0.1057, 1e-4, fine=fine)
        assert {x.step for x in weighing.lines} == {1e-4}


def test_law_is_not_missed_for_want_of_a_finer_scale(asked):
    found = asked(
        'market = ["EU"]\n[only]\ningredients = ["sunflower oil",'
        ' "phenoxyethanol"]\n[limits]\n"phenoxyethanol" = { min = 0.9 }\n'
    )
    weighing = weigh(found, 0.06, 1e-3)  # 1 g of 60 is 1.67 %, and 1 % is the law's
    assert not weighing.kept
    assert weighing.lines == ()
    assert {each.rule.owner for each in weighing.missed} == {"law"}
    assert weighing.finer == pytest.approx(2e-4)


def test_a_batch_of_less_than_a_step_for_each_is_refused(solved):
    with pytest.raises(InputError) as told:
        weigh(solved(BAR), 0.005, 1e-3)
    (only,) = told.value.problems
    assert (only.field, only.found) == ("the batch", "5 g")
    assert only.wrong.startswith("is less than a step of the scale (1 g) for each")
