"""Files that commands write: checked before any work, and nothing else is lost."""

import json

import pytest


@pytest.mark.usefixtures("workspace")
@pytest.mark.parametrize(
    "arguments",
    [
        ("formulate", "scenarios/bar.toml"),
        ("stock", "scenarios/bar.toml"),
        ("tradeoff", "scenarios/bar.toml"),
        ("variants", "scenarios/bar.toml"),
        ("substitute", "scenarios/bar.toml", "--without", "beeswax"),
    ],
)
@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("no/such/out.csv", "there is no folder no/such"),
        ("scenarios", "it is a folder"),
    ],
)
def test_a_csv_that_cannot_be_written_is_told_before_any_work(
    run, arguments, name, told
):
    done = run(*arguments, "--csv", name)
    assert (done.code, done.out) == (1, "")
    assert f"{name}: cannot be written ({told}" in done.err
    assert "To fix: " in done.err


def test_no_command_writes_over_what_something_else_wrote(run, workspace):
    mine = workspace / "mine.csv"
    mine.write_text("ingredient,lot\n", encoding="utf-8")
    for each in ("formulate", "variants"):
        done = run(each, "scenarios/massage_bar.toml", "--csv", "mine.csv", "--json")
        assert done.code == 1
        (problem,) = json.loads(done.out)["problems"]  # before any work: no answer
        assert problem["file"] == "mine.csv"
        assert problem["wrong"].startswith("is there already and was written by")
    done = run("formulate", "scenarios/clash.toml", "--write", "scenarios/bar.toml")
    assert done.code == 1
    assert mine.read_text(encoding="utf-8") == "ingredient,lot\n"


@pytest.mark.usefixtures("workspace")
def test_a_command_can_be_run_again(run):
    for _ in range(2):
        assert run("formulate", "scenarios/bar.toml", "--csv", "out.csv").code == 0
        done = run("formulate", "scenarios/clash.toml", "--write", "way.toml")
        assert done.code == 3
        assert done.err.endswith("way.toml: written.\n")


@pytest.mark.usefixtures("workspace")
def test_two_results_never_go_to_one_file(run):
    for option in (("--write", "./x.csv"), ("--write", "elbow", "./x.csv")):
        command = "formulate" if len(option) == 2 else "tradeoff"
        done = run(command, "scenarios/bar.toml", "--csv", "x.csv", *option)
        assert done.code == 1
        assert "is named twice, for two different results" in done.err


@pytest.mark.parametrize("command", ["stock", "robust"])
def test_a_study_refuses_what_something_else_wrote_before_solving(
    run, workspace, command, monkeypatch
):
    monkeypatch.setattr(f"optimiser.studies.{command}.{command}", None)
    (workspace / "mine.csv").write_text("ingredient,lot\n", encoding="utf-8")
    done = run(command, "scenarios/bar.toml", "--csv", "mine.csv")
    assert (done.code, done.out) == (1, "")
    assert "mine.csv: is there already and was written by something" in done.err


@pytest.mark.usefixtures("workspace")
@pytest.mark.parametrize(
    ("command", "scenario", "option"),
    [
        ("formulate", "scenarios/clash.toml", "--csv"),
        ("formulate", "scenarios/bar.toml", "--write"),
        ("variants", "scenarios/clash.toml", "--csv"),
    ],
)
def test_a_name_that_steers_a_terminal_is_told_without_that(
    run, command, scenario, option
):
    done = run(command, scenario, option, "a\x1b[31m.csv")
    assert "a[31m.csv: not written, for no" in done.err
    assert "\x1b" not in done.err
