"""Ways out of a clash: told, written, and taken."""

import json
import shutil
from pathlib import Path

import pytest
from msgspec.structs import replace

from optimiser import formulate, read_scenario
from optimiser.cli import main
from optimiser.presenting.clash import clash_page
from optimiser.presenting.terminal import as_text
from tests.presenting.shown import flat

ROOT = Path(__file__).resolve().parents[2]
CLASH = """\
extends = "massage_bar.toml"
[bands]
"wax" = { min = 12 }
[exclude]
ingredients = ["beeswax"]
[closeness]
by_ingredient = 4
"""

CROWDED = """\
extends = "massage_bar.toml"
[bands]
"wax" = { min = 13 }
"hard butter" = { min = 44, max = 45 }
"soft butter" = { min = 15, max = 30 }
"liquid oil" = { min = 30, max = 32 }
"""
NOTHING_LEFT = """\
title = "Nothing left"
use = "leave-on"
workshop = "demo"
[aim]
order = ["cost"]
[only]
ingredients = ["beeswax", "sweet almond oil"]
[exclude]
categories = ["wax", "liquid oil"]
"""


@pytest.fixture
def clashing(tmp_path):
    shutil.copy(ROOT / "scenarios" / "massage_bar.toml", tmp_path)
    (tmp_path / "clash.toml").write_text(CLASH, encoding="utf-8")
    return tmp_path / "clash.toml"


def run(*arguments):
    with pytest.raises(SystemExit) as ended:
        main([str(each) for each in arguments])
    return ended.value.code


def test_every_way_out_is_eased_by_what_may_be_eased_and_priced(clashing, capsys):
    assert run("formulate", clashing, "--json") == 3
    told = json.loads(capsys.readouterr().out)
    may = {rule["id"] for rule in told["rules"] if rule["may_ease"]}
    assert 1 <= len(told["ways_out"]) <= 3
    firm = {rule["id"] for rule in told["rules"]} - may
    for way in told["ways_out"]:
        eased = {each["id"] for each in way["ease"]}
        # One of the clash, and what must give beside it: all of the maker's wishes.
        assert eased & may
        assert not eased & firm
        kinds = {each.split("/")[0] for each in eased}
        assert kinds <= {"band", "closeness"}  # nothing else keeps beeswax out
        assert way["cost_per_kg"] > 0


@pytest.mark.parametrize("way", [1, 2])
@pytest.mark.parametrize("order", ['["cost"]', '["change"]', '["category change"]'])
def test_a_written_way_out_formulates_at_the_price_it_was_told_at(
    clashing, capsys, way, order
):
    aim = f"[aim]\norder = {order}\n"  # cost or not: of formulas that tie the same
    clashing.write_text(f"{CROWDED}{aim}", encoding="utf-8")
    written = clashing.with_name("way.toml")
    run("formulate", clashing, "--json", "--way", way, "--write", written)
    told = json.loads(capsys.readouterr().out)["ways_out"][way - 1]
    assert run("formulate", written, "--json") == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["cost_per_kg"] == pytest.approx(told["cost_per_kg"])
    eased = {rule["id"]: rule["limit"] for rule in answer["rules"]}
    for each in told["ease"]:
        assert eased[each["id"]] == each["to"]


def test_a_way_out_is_written_to_another_drive_with_the_whole_path(
    clashing, capsys, monkeypatch
):
    def refuse(*_):
        raise ValueError("path is on mount 'D:'")

    monkeypatch.setattr("os.path.relpath", refuse)
    written = clashing.with_name("way.toml")
    run("formulate", clashing, "--way", 1, "--write", written)
    assert capsys.readouterr().err.endswith("way.toml: written.\n")
    text = written.read_text(encoding="utf-8")
    assert f'extends = "{clashing.resolve().as_posix()}"' in text


def test_a_way_that_was_chosen_is_told_alone_with_what_to_run_next(clashing, capsys):
    written = clashing.with_name("way.toml")
    run("formulate", clashing)
    assert "RULES THAT CANNOT ALL HOLD" in capsys.readouterr().out
    assert run("formulate", clashing, "--way", 1, "--write", written) == 3
    told = flat(capsys.readouterr().out)
    assert "RULES THAT CANNOT ALL HOLD" not in told
    assert "Way 1 out of the clash: " in told
    command = f"Next: `optimiser formulate {written}`"  # a long path is broken
    assert command.replace(" ", "") in told.replace(" ", "")


def test_a_way_that_is_not_offered_is_said_and_nothing_is_written(clashing, capsys):
    written = clashing.with_name("way.toml")
    assert run("formulate", clashing, "--way", 9, "--write", written) == 1
    assert "'9' is no way out of this clash" in capsys.readouterr().err
    assert not written.exists()


def test_nothing_is_written_where_nothing_clashes(clashing, capsys):
    written = clashing.with_name("way.toml")
    base = clashing.with_name("massage_bar.toml")
    assert run("formulate", base, "--write", written) == 0
    assert "not written, for nothing clashes" in capsys.readouterr().err
    assert not written.exists()


def test_a_way_asked_for_in_vain_is_told(clashing, capsys):
    base = clashing.with_name("massage_bar.toml")
    assert run("formulate", base, "--way", 9) == 0
    assert capsys.readouterr().err == "--way 9: not taken, for nothing clashes.\n"
    assert run("formulate", clashing, "--way", 1) == 3
    assert "no file was named with --write" in capsys.readouterr().err
    assert run("formulate", clashing, "--way", 9) == 1
    assert "'9' is no way out of this clash" in capsys.readouterr().err


def test_what_is_kept_out_is_let_in_only_where_nothing_else_helps(clashing, capsys):
    run("formulate", clashing)
    assert "let in" not in flat(capsys.readouterr().out)
    clashing.write_text(NOTHING_LEFT, encoding="utf-8")
    run("formulate", clashing)
    told = flat(capsys.readouterr().out)
    assert "No other way was found than to let in some of what you keep out" in told
    assert "no liquid oil -> at most 100 %" in told


def test_letting_in_is_not_called_the_only_way_beside_another(clashing):
    clashing.write_text(CROWDED, encoding="utf-8")
    crowded = formulate(*read_scenario(clashing))
    clashing.write_text(NOTHING_LEFT, encoding="utf-8")
    alone = formulate(*read_scenario(clashing))
    both = replace(alone, ways_out=(*crowded.ways_out[:1], *alone.ways_out[:1]))
    assert "No other way was found" in as_text(clash_page(alone), 80)
    assert "No other way was found" not in as_text(clash_page(both), 80)


def test_what_is_kept_out_is_let_in_only_by_who_asks_for_that_way(clashing, capsys):
    clashing.write_text(NOTHING_LEFT, encoding="utf-8")
    written = clashing.with_name("way.toml")
    assert run("formulate", clashing, "--write", written) == 3
    assert "add --way 1" in flat(capsys.readouterr().err)
    assert not written.exists()
    assert run("formulate", clashing, "--way", 1, "--write", written) == 3
    capsys.readouterr()
    run("formulate", written)
    assert "Out for" not in capsys.readouterr().out


def test_where_no_way_out_is_known_there_is_none_to_write(
    clashing, capsys, monkeypatch
):
    found = formulate(*read_scenario(clashing))
    none = replace(found, ways_out=())
    monkeypatch.setattr("optimiser.explaining.formulate", lambda *_, **__: none)
    written = clashing.with_name("way.toml")
    assert run("formulate", clashing, "--write", written) == 1
    assert "0 are offered" in flat(capsys.readouterr().err)
    assert not written.exists()


def test_what_was_let_in_is_not_told_as_kept_out(clashing, capsys):
    """The base holds beeswax, which was out and may be some again."""
    clashing.write_text(
        'extends = "massage_bar.toml"\n[exclude]\ningredients = ["beeswax"]\n',
        encoding="utf-8",
    )
    run("formulate", clashing)
    assert "Out for 'no beeswax'" in flat(capsys.readouterr().out)
    eased = clashing.with_name("eased.toml")
    eased.write_text(
        'extends = "clash.toml"\n[eased]\n"exclude/beeswax" = 7.5\n',
        encoding="utf-8",
    )
    run("formulate", eased)
    assert "Out for" not in flat(capsys.readouterr().out)
