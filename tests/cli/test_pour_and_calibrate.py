"""``pour`` and ``calibrate`` as a maker runs them."""

import json

import pytest

SCRUB = """\
ingredient,percent
cocoa butter,28
mango butter,18.2
candelilla wax,4
fine sea salt,49
phenoxyethanol with ethylhexylglycerin,0.8
"""
FULL = """\
trial,room,verdict,cocoa butter,refined shea butter,beeswax,sunflower oil
a,21 degC,right,40,20,11,29
b,27 degC,too soft,40,20,11,29
c,25 degC,too soft,50,20,10,20
d,22 degC,too soft,30,20,8,42
e,21 degC,right,58,20,10,12
"""
WINDOW = """
[[windows]]
property = "firmness"
at = "25 degC"
over = "lipids"
min = 50
max = 75
"""
OWN = "catalogues/workshops/demo/calibration.csv"


@pytest.fixture
def kitchen(workspace):
    (workspace / "scrub.csv").write_text(SCRUB, encoding="utf-8")
    (workspace / "trials.csv").write_text(FULL, encoding="utf-8")
    bar = workspace / "scenarios" / "bar.toml"
    bar.write_text(bar.read_text(encoding="utf-8") + WINDOW, encoding="utf-8")
    return workspace


@pytest.mark.usefixtures("kitchen")
def test_a_formula_is_poured(run):
    told = run("pour", "scrub.csv")
    assert told.code == 0
    assert "Stir to" in told.out
    assert "in last, just before pouring" in " ".join(
        told.out.split()
    )  # 8 % of wax in the lipids
    assert "fine sea salt" in told.out
    assert "never direct heat" in told.out


@pytest.mark.usefixtures("kitchen")
def test_a_deeper_mould_and_json(run):
    data = json.loads(run("pour", "scrub.csv", "--depth", "60", "--json").out)
    assert data["status"] == "answered"
    assert data["depth_mm"] == 60
    assert data["gel_point"]["holds"] < data["gel_point"]["thickens"]
    assert data["additions"][0]["ingredient"] == "phenoxyethanol_ethylhexylglycerin"


@pytest.mark.usefixtures("kitchen")
def test_the_answer_of_a_scenario_is_poured(run):
    told = run("pour", "scenarios/bar.toml")
    assert told.code == 0
    assert told.out.startswith("Pouring: Plain massage bar")


@pytest.mark.usefixtures("kitchen")
def test_a_scenario_that_clashes_is_not_poured(run):
    told = run("pour", "scenarios/clash.toml")
    assert told.code == 3
    assert "Pouring" not in told.out


@pytest.mark.usefixtures("kitchen")
def test_a_workshop_is_not_named_twice(run):
    told = run("pour", "scenarios/bar.toml", "--workshop", "demo")
    assert told.code == 1
    assert told.err.startswith("'--workshop' is not for a scenario")


@pytest.mark.usefixtures("kitchen")
def test_a_formula_written_in_toml_is_poured_with_a_workshops_figures(run, tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text('[formula]\n"cocoa butter" = 90\nbeeswax = 10\n', encoding="utf-8")
    assert run("pour", file, "--workshop", "demo").code == 0


@pytest.mark.usefixtures("kitchen")
def test_a_file_that_is_not_there_is_told(run):
    for name in ("no.csv", "no.toml"):
        told = run("pour", name)
        assert told.code == 1
        assert name in told.err


def test_trials_change_nothing_until_asked_to(run, kitchen):
    told = run("calibrate", "trials.csv", "scenarios/bar.toml")
    assert told.code == 0
    assert "Nothing is changed yet" in told.out
    assert not (kitchen / OWN).exists()


def test_what_is_written_counts_from_then_on_and_is_said(run, kitchen):
    before = json.loads(run("formulate", "scenarios/bar.toml", "--json").out)
    told = run("calibrate", "trials.csv", "scenarios/bar.toml", "--write")
    assert told.err == f"{OWN}: written.\n"
    after = json.loads(run("formulate", "scenarios/bar.toml", "--json").out)
    assert after["formula"] != before["formula"]
    assert any("calibration.csv" in note for note in after["notes"])
    assert not any("calibration.csv" in note for note in before["notes"])
    assert run("catalogue", "check").code == 0
    text = (kitchen / OWN).read_text(encoding="utf-8")
    run("calibrate", "trials.csv", "scenarios/bar.toml", "--write")
    # The same trials again start from the published figures: they count once.
    assert (kitchen / OWN).read_text(encoding="utf-8") == text
    (kitchen / OWN).unlink()
    again = json.loads(run("formulate", "scenarios/bar.toml", "--json").out)
    assert again["formula"] == before["formula"]


def test_too_few_trials_are_reported_but_not_written(run, kitchen):
    few = "".join(FULL.splitlines(keepends=True)[:3])
    (kitchen / "trials.csv").write_text(few, encoding="utf-8")
    told = run("calibrate", "trials.csv", "scenarios/bar.toml", "--json")
    assert told.code == 0
    assert json.loads(told.out)["status"] == "too few"
    told = run("calibrate", "trials.csv", "scenarios/bar.toml", "--write")
    assert told.code == 1
    assert told.err.startswith("trials.csv: holds too few trials to change figures on")
    assert not (kitchen / OWN).exists()


def test_without_a_workshop_there_is_nowhere_to_write(run, kitchen):
    (kitchen / "catalogues" / "workspace.toml").unlink()
    bar = kitchen / "scenarios" / "bar.toml"
    text = bar.read_text(encoding="utf-8").replace('workshop = "demo"\n', "")
    text = text.replace("[batch]", '[aim]\norder = ["count"]\n\n[batch]')
    bar.write_text(text, encoding="utf-8")
    told = run("calibrate", "trials.csv", "scenarios/bar.toml", "--write")
    assert told.code == 1
    assert "names no workshop" in told.err


def test_catalogues_that_came_with_the_program_are_left_alone(
    run, kitchen, tmp_path_factory
):
    alone = tmp_path_factory.mktemp("alone") / "bar.toml"
    alone.write_bytes((kitchen / "scenarios" / "bar.toml").read_bytes())
    told = run("calibrate", "trials.csv", alone, "--write")
    assert told.code == 1
    assert "are not yours" in told.err


@pytest.mark.usefixtures("kitchen")
def test_a_depth_may_have_a_unit(run):
    for text, depth in (("4 cm", 40.0), ("1", 1.0), ("1000", 1000.0), ("25.5", 25.5)):
        told = run("pour", "scrub.csv", "--depth", text, "--json")
        assert json.loads(told.out)["depth_mm"] == pytest.approx(depth)


@pytest.mark.usefixtures("kitchen")
@pytest.mark.parametrize(
    "depth",
    ["inf", "nan", "1e300", "-5", "0.5", "1001", "4,5cm", "4 kg", "deep", "2 m"],
)
def test_a_depth_of_no_mould_is_told(run, depth):
    told = run("pour", "scrub.csv", "--depth", depth)
    assert told.code == 1
    assert f"option --depth: '{depth}' is no depth of a mould" in told.err


@pytest.mark.usefixtures("kitchen")
def test_a_room_too_warm_to_set_in_is_told(run):
    data = json.loads(run("pour", "scrub.csv", "--room", "45", "--json").out)
    assert data["gel_point"]["holds"] < 45
    assert data["cautions"][0].startswith("In a 45 °C room this will not set")
    told = run("pour", "scrub.csv", "--room", "45").out
    assert "this will not set" in told
    assert "set somewhere colder than this room" in " ".join(told.split())
    assert "this will not set" not in run("pour", "scrub.csv").out


UPSIDE_DOWN = """\
trial,room,verdict,cocoa butter,refined shea butter,beeswax,sunflower oil
a,25 degC,too soft,50,20,10,20
b,25 degC,too soft,58,20,10,12
c,25 degC,too hard,30,20,8,42
d,22 degC,too hard,30,20,8,42
e,21 degC,right,40,20,11,29
"""


def test_figures_that_explain_no_bar_are_not_written(run, kitchen):
    (kitchen / "trials.csv").write_text(UPSIDE_DOWN, encoding="utf-8")
    told = run("calibrate", "trials.csv", "scenarios/bar.toml", "--json")
    assert json.loads(told.out)["status"] == "not explained"
    told = run("calibrate", "trials.csv", "scenarios/bar.toml", "--write")
    assert told.code == 1
    assert "holds bars that the figures cannot explain" in told.err
    assert not (kitchen / OWN).exists()


def test_a_proposed_window_is_written_beside_the_scenario_and_answers(run, kitchen):
    bar = kitchen / "scenarios" / "bar.toml"
    bar.write_text(bar.read_text(encoding="utf-8").replace(WINDOW, ""), "utf-8")
    told = run("calibrate", "trials.csv", "scenarios/bar.toml", "--write")
    assert told.code == 0
    assert told.err == "scenarios/bar_firmness.toml: written.\n"
    assert not (kitchen / OWN).exists()
    data = json.loads(run("calibrate", "trials.csv", bar, "--json").out)
    window = data["proposed_window"]
    told = run("formulate", "scenarios/bar_firmness.toml")
    assert f"asked {window['low']:g} to {window['high']:g}" in told.out
    # With the window written, the same verdicts are bounds on the figures.
    again = json.loads(
        run("calibrate", "trials.csv", "scenarios/bar_firmness.toml", "--json").out
    )
    assert again["proposed_window"] is None
    assert again["support"]["observations"] == 5


def test_a_room_may_have_its_unit_as_elsewhere(run, workspace):  # noqa: ARG001
    scenario = "scenarios/bar.toml"
    plain = run("pour", scenario, "--room", "25").out
    for written in ("25 C", "25 degC", "25°C", "77 F"):
        assert run("pour", scenario, "--room", written).out == plain
    wrong = run("pour", scenario, "--room", "warm")
    assert wrong.code == 1
    assert "'warm' is no temperature of a room" in wrong.err
