"""``optimiser begin``: whole or not at all, and what it says next."""

import json
from importlib import import_module

import pytest

begin_module = import_module("optimiser.cli.begin")


def held(folder):
    return sorted(each.name for each in folder.iterdir())


def test_begin_makes_a_workspace_that_runs_at_once(run, tmp_path, monkeypatch):
    done = run("begin", tmp_path / "new" / "kitchen")
    assert done.code == 0
    monkeypatch.chdir(tmp_path / "new" / "kitchen")
    lines = [x for x in done.out.splitlines() if x.startswith("  optimiser ")]
    commands = [line.split()[1:] for line in lines]
    assert ["open"] in commands
    for words in commands:
        assert words == ["open"] or run(*words).code == 0  # which serves until it ends
    assert held(tmp_path / "new") == ["kitchen"]


def test_a_workshop_begins_with_an_empty_shelf(run, tmp_path, monkeypatch):
    run("begin", tmp_path / "kitchen")
    monkeypatch.chdir(tmp_path / "kitchen")
    stock = tmp_path / "kitchen/catalogues/workshops/demo/stock.csv"
    assert stock.read_text(encoding="utf-8").startswith("ingredient,lot,amount,unit,")
    assert len(stock.read_text(encoding="utf-8").splitlines()) == 1
    bought = run("buy", "scenarios/massage_bar.toml", "--units", 4, "--net", "60 g")
    told = " ".join(bought.out.split())
    assert "Buy nothing" not in told
    assert "lots invented" not in told
    assert "prices invented" in told


def test_begin_fills_an_empty_folder_in_place(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = run("begin", ".", "--json")
    told = json.loads(done.out)
    assert told["next"][0].startswith("optimiser ")
    assert told["next"][0] == "optimiser formulate scenarios/massage_bar.toml"
    assert held(tmp_path) == ["GUIDE.md", "catalogues", "scenarios"]


def test_begin_names_what_can_be_made_of_the_first_scenario(run, tmp_path):
    told = json.loads(run("begin", tmp_path / "kitchen", "--json").out)
    file = "scenarios/massage_bar.toml"
    assert told["next"][0] == f"cd {tmp_path / 'kitchen'}"
    assert [line for line in told["next"][1:] if line != "optimiser open"] == [
        f"optimiser formulate {file}",
        f"optimiser batch {file}",
        f"optimiser report {file} --out report.html",
        "optimiser catalogue check",
    ]


def test_begin_leaves_a_folder_alone_that_is_not_empty(run, tmp_path):
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    done = run("begin", tmp_path)
    assert done.code == 1
    assert "is there already, and is not empty" in done.err
    assert held(tmp_path) == ["mine.txt"]
    file = run("begin", tmp_path / "mine.txt")
    assert "is not a folder" in file.err


def test_begin_that_fails_leaves_nothing_behind(run, tmp_path, monkeypatch):
    def fail(*_):
        raise OSError(28, "No space left on device", "x.csv")

    monkeypatch.setattr("shutil.copyfile", fail)
    done = run("begin", tmp_path / "kitchen")
    assert done.code == 1
    assert f"{tmp_path / 'kitchen'}: cannot be filled (No space left on" in done.err
    assert "To fix: name a folder where you may write" in done.err
    assert held(tmp_path) == []


def test_begin_quotes_a_folder_with_a_space(run, tmp_path):
    done = run("begin", tmp_path / "my kitchen")
    assert f'cd "{tmp_path / "my kitchen"}"' in done.out


def test_begin_says_that_prices_are_invented_and_where_help_is(run, tmp_path):
    told = " ".join(run("begin", tmp_path / "kitchen").out.split())
    assert "The figures of prices.csv, costs.toml and scale.toml in" in told
    assert (
        "catalogues/workshops/demo are invented: put yours in their place,"
        " in any currency (theirs is EUR)" in told
    )
    guide = (tmp_path / "kitchen" / "GUIDE.md").read_text(encoding="utf-8")
    for part in ("## Change prices", "## Add an ingredient", "## Write a scenario"):
        assert part in guide
    assert "optimiser catalogue check" in guide


def test_the_keys_of_the_guide_are_those_that_a_scenario_takes(run, workspace):
    (workspace / "scenarios" / "winter.toml").write_text(
        'title   = "Winter bar"\nextends = "massage_bar.toml"\n\n[limits]\n'
        '"beeswax" = { max = 9, why = "softer for winter" }\n',
        encoding="utf-8",
    )
    assert run("formulate", "scenarios/winter.toml").code == 0


def test_begin_below_a_file_is_told(run, tmp_path):
    (tmp_path / "file").touch()
    done = run("begin", tmp_path / "file" / "kitchen")
    assert done.code == 1
    assert f"cannot be made, for {tmp_path / 'file'} is a file" in done.err


@pytest.mark.parametrize("there", [True, False])
def test_a_second_begin_at_the_same_time_harms_nothing(
    run, tmp_path, monkeypatch, there
):
    folder = tmp_path / "kitchen"
    if there:
        folder.mkdir()
    copy = begin_module._copy

    def copy_and_another_comes(source, target):
        copy(source, target)
        (folder / "scenarios").mkdir(parents=True, exist_ok=True)
        (folder / "scenarios" / "other.toml").touch()

    monkeypatch.setattr(begin_module, "_copy", copy_and_another_comes)
    done = run("begin", folder)
    assert done.code == 1
    assert "was filled by something else meanwhile" in done.err
    assert held(folder) == ["scenarios"]
    assert (folder / "scenarios" / "other.toml").exists()
