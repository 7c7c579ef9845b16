"""A formula checked against the limits alone."""

import json
import os
import re
import shlex
from pathlib import Path

import pytest

TABLE = "ingredient,percent\ncocoa butter,{}\njojoba oil,30\nlavender oil,{}\n"


@pytest.fixture
def formula(workspace):
    """Return a function that writes a formula with so much lavender oil."""

    def write(scent):
        file = workspace / "mine.csv"
        file.write_text(TABLE.format(70 - scent, scent), encoding="utf-8")
        return file.name

    return write


def test_a_formula_within_the_limits_is_kept(run, formula):
    done = run("check", formula(1), "--market", "EU", "--product", "lip balm")
    assert done.code == 0
    assert done.out.startswith("mine.csv, lip balm: keeps every rule (1).")
    assert "limits of law, suppliers and practice alone; leave-on" in done.out
    assert "lip balm is taken as lip, leave-on; --use says otherwise" in done.out


def test_a_broken_limit_needs_attention(run, formula):
    done = run("check", formula(6), "--market", "EU", "--use", "leave-on", "--json")
    told = json.loads(done.out)
    assert (done.code, told["status"], told["use"]) == (1, "broken", "leave-on")
    broken = [each["sentence"] for each in told["rules"] if (each["slack"] or 0) < 0]
    assert broken == ["lavender oil at most 3 % (common practice)"]


def test_uk_is_understood_as_gb_and_its_limits_say_how_they_were_read(run, formula):
    told = run("check", formula(1), "--market", "UK", "--use", "leave-on", "--json")
    (law,) = json.loads(told.out)["law"]
    assert (law["market"], law["kept"]) == ("GB", True)
    assert law["limits"] == sum(law["read"].values())
    assert law["read"]["secondary"] > law["read"]["retrieved"] > 0
    page = run("check", formula(1), "--market", "UK", "--use", "leave-on").out
    assert "NOT checked" not in page
    assert re.search(r"\d+ second-hand", page)


def test_the_law_stands_above_the_formula(run, formula):
    page = run("check", formula(1), "--market", "EU", "--product", "lip balm").out
    assert page.index("Law, EU") < page.index("cocoa butter")
    assert page.splitlines()[2].startswith("Law, EU")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--product", "lip balm"], "option --market: is missing"),
        (["--market", "EU"], 'say what it is, as in --product "lip balm"'),
        (["--market", "EU", "--product", "bar"], "add --use leave-on, or"),
        (["--market", "Mars", "--use", "leave-on"], "'Mars' is no market"),
        (["--market", "EU", "--use", "eaten"], "'eaten' is no use"),
    ],
)
def test_what_is_not_told_is_asked(run, formula, arguments, said):
    done = run("check", formula(1), *arguments)
    assert (done.code, done.out) == (1, "")
    assert said in done.err


def test_what_a_scenario_says_is_not_said_twice(run, formula):
    done = run("check", formula(1), "scenarios/bar.toml", "--market", "EU")
    assert done.code == 1
    assert "option --market: is not for a scenario, which says it itself" in done.err


KITCHEN = "ingredient,amount,unit\ncocoa butter,1/2,cup\njojoba,3,tbsp\n"


@pytest.mark.parametrize("command", ["check", "pour", "fats"])
def test_a_table_in_kitchen_units_is_read_by_every_command(run, workspace, command):
    (workspace / "k.csv").write_text(KITCHEN, encoding="utf-8")
    more = ["--market", "EU", "--use", "leave-on"] if command == "check" else []
    done = run(command, "k.csv", *more)
    assert done.code == 0
    said = " ".join((done.out + done.err).split())
    assert "jojoba: 3 tbsp is about 38 g (" in said


def test_grams_of_another_batch_than_was_written_are_said_to_be_scaled(run, workspace):
    text = "ingredient,grams\ncocoa butter,22\njojoba oil,77.7\n"
    (workspace / "mine.csv").write_text(text, encoding="utf-8")
    asked = ("check", "mine.csv", "--market", "EU", "--product", "lip balm")
    scaled = " ".join(run(*asked).out.split())
    assert "grams are scaled to a batch of 1000 g; you wrote 99.7 g in all" in scaled
    mine = " ".join(run(*asked, "--batch", "99.7 g").out.split())
    assert " 22.0" in mine.partition("cocoa butter")[2][:20]
    assert "scaled" not in mine


@pytest.mark.parametrize("inside", [True, False])
def test_the_command_that_comes_next_begins_from_the_formula_that_was_given(
    run, workspace, tmp_path, monkeypatch, inside
):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(workspace if inside else elsewhere)
    mine = elsewhere / "my bar.csv"
    mine.write_text(TABLE.format(69, 1), encoding="utf-8")
    path = os.path.relpath(mine)
    page = run("check", path, "--market", "EU", "--product", "lip balm").out
    told = " ".join(page.split()).rpartition("Next: ")[2]
    command = shlex.split(re.match(r"`optimiser (.*?)` makes rules", told)[1])
    folder = "." if inside else "my_workshop"
    said = ["--product", "lip balm", "--market", "EU"]
    assert command == ["begin", folder, "--from", path, *said]
    assert run(*command).code == 0
    assert Path(folder, "scenarios", "my_bar.toml").exists()
