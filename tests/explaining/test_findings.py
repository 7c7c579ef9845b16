"""Cases that went wrong once."""

import shutil
from pathlib import Path

import pytest

from optimiser import Clash, InputError, formulate, read_scenario
from optimiser.explaining.why import why_rule
from tests.rules.workbench import notes_of

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def asked(tmp_path):
    shutil.copytree(ROOT / "scenarios", tmp_path / "scenarios")
    shutil.copytree(ROOT / "catalogues", tmp_path / "catalogues")

    def ask(text):
        file = tmp_path / "scenarios" / "asked.toml"
        file.write_text(text, encoding="utf-8")
        return read_scenario(file)

    return ask


def test_a_window_whose_price_holds_nowhere_is_walked_to_an_end(asked):
    answer = formulate(
        *asked(
            """
            extends = "massage_bar.toml"
            cautious = true
            [bands]
            "hard butter" = { min = 30, max = 72.5 }
            "wax" = { min = 3.4, max = 14 }
            "liquid oil" = { min = 7.5, max = 32 }
            [[ratios]]
            first = ["wax"]
            second = ["liquid oil"]
            max = 0.44
            [[windows]]
            name = "firm in a room"
            property = "firmness"
            at = "25 degC"
            over = "lipids"
            min = 50
            max = 76.52
            """
        )
    )
    assert answer.status == "answered"
    lines = {line.rule.id: line for line in answer.rules}
    firm = lines["window/firmness/25 degC/lipids/min"]
    assert firm.binding
    # Each way the price ends a few hundredths of a point on, and is not none at all.
    assert 49.9 < firm.ease.until < 50.0 < firm.tighten.until < 50.1
    assert firm.ease.price < -1.0
    assert firm.tighten.price > 1.0


def test_nothing_to_choose_from_is_said_with_what_kept_it_out(asked):
    with pytest.raises(InputError, match="leaves no ingredient to choose from") as said:
        formulate(
            *asked(
                """
                title = "nothing"
                workshop = "demo"
                use = "leave-on"
                [only]
                ingredients = ["bacuri butter"]
                """
            )
        )
    assert "no price is known in workshop 'demo'" in str(said.value)


def test_a_window_that_nothing_can_touch_is_noted(asked):
    answer = formulate(
        *asked(
            """
            extends = "massage_bar.toml"
            [[windows]]
            property = "HLB"
            over = "emulsifier"
            min = 5
            """
        )
    )
    assert any(
        "'HLB over the emulsifier at least 5' says nothing" in note
        for note in notes_of(answer)
    )


def test_an_answer_says_where_its_windows_hold_only_at_the_typical_figures(asked):
    answer = formulate(*asked('extends = "massage_bar.toml"'))
    short = [note for note in notes_of(answer) if note.startswith("at the low end")]
    assert len(short) == 1
    assert "under the 50 asked for" in short[0]


def test_the_cautious_reading_is_named_where_it_alone_keeps_something_out(asked):
    clash = formulate(
        *asked(
            """
            extends = "massage_bar.toml"
            [limits]
            "refined shea butter" = { min = 15 }
            [exclude]
            allergens = ["tree nut"]
            reading = "cautious"
            """
        )
    )
    assert isinstance(clash, Clash)
    assert any(
        "kept out by the cautious reading only" in cause for cause in clash.causes
    )


def test_an_answer_says_what_it_eased_and_what_it_dropped(asked):
    answer = formulate(
        *asked(
            """
            extends = "massage_bar.toml"
            [eased]
            "practice/candelilla wax/max" = 25
            [dropped]
            rules = ["guard/lauric fats/max"]
            """
        )
    )
    assert (
        "eased here: candelilla wax at most 25 % (common practice) (eased from 20)"
    ) in notes_of(answer)
    dropped = [note for note in notes_of(answer) if "does not count here" in note]
    assert len(dropped) == 1
    assert dropped[0].startswith("'guard/lauric fats/max' does not count here")


@pytest.mark.parametrize(
    ("low", "high", "found"),
    [
        (float("inf"), None, "'inf' is no limit that this rule could have"),
        (None, float("-inf"), "'-inf' is no limit that this rule could have"),
        (-500.0, None, "'-500' is no limit that this rule could have"),
        (50.0, None, "'50' leaves out the limit as it is, 30"),
        (None, 20.0, "'20' leaves out the limit as it is, 30"),
    ],
)
def test_a_span_that_makes_no_sense_is_refused(asked, low, high, found):
    scenario, catalogue = asked('extends = "massage_bar.toml"')
    with pytest.raises(InputError) as said:
        why_rule(scenario, catalogue, "band/hard butter/min", low=low, high=high)
    assert found in str(said.value)


def test_a_correlation_that_lacks_a_row_is_said(asked, tmp_path):
    scenario, _ = asked('extends = "massage_bar.toml"')
    table = tmp_path / "catalogues" / "materials" / "triglyceride_correlation.csv"
    rows = table.read_text(encoding="utf-8").splitlines(keepends=True)
    table.write_text(
        "".join(row for row in rows if not row.startswith("A_JJ,")), encoding="utf-8"
    )
    scenario, catalogue = read_scenario(tmp_path / "scenarios" / "asked.toml")
    with pytest.raises(InputError, match="lacks the parameters A_JJ"):
        formulate(scenario, catalogue)
