"""Every page in every width: nothing overflows, and the answer comes first."""

import csv
import re
import shutil
from importlib import import_module
from pathlib import Path

import pytest
from typer.main import get_command

from optimiser import cli, presenting
from optimiser.cli.commands import COMMANDS, application
from optimiser.cli.running import near
from optimiser.presenting import terminal
from optimiser.reading import shipped_folder
from tests.cli.written import write_all
from tests.survey.conftest import PUBLISHED

BAR = "scenarios/massage_bar.toml"
SHEET = """\
ingredient,lots,weighed_grams
cocoa butter,A1,300
refined shea butter,A2,200
beeswax,B1,130.5
sunflower oil,,364.5
mixed tocopherols,F1,5
"""
DEMOS = sorted(shipped_folder("scenarios").glob("*.toml"))
TABLE = shipped_folder("catalogues") / "materials" / "ingredients.csv"
with TABLE.open(encoding="utf-8", newline="") as table:
    MANY = rf"\b{len(list(csv.DictReader(table)))} ingredients"
WIDTHS = (40, 60, 80, 120)
MOST_LINES = 38
# With a formula of eleven ingredients, with five rules that go both ways, and with nine
# packs for four products.
MORE_LINES = {
    "plan": 54,
    "survey": 42,
    "batch": 48,
    "cost": 60,
    "formulate": 34,
    "check": 40,
    "why": 56,
    "trials": 52,
}
STOPS = (
    "points of change", "elbow", "compositional", "draws", "premium", "bends",
    "at their worst at once", "rounds from", "likeness", "worst miss",
    "straight rule", "in spec", "guard",
)  # fmt: skip
# What a maker asks, and the cost or the verdict that answers it.
ASKED = {
    "formulate": (("formulate", BAR), r"15\.83 EUR per kg, 3\.69 less than your base"),
    "check": (("check", "mine.csv", BAR), r"breaks 3 rules of 22"),
    "why": (("why", BAR), r"WHAT EACH RULE COSTS AS ITS LIMIT MOVES"),
    "fats": (("fats", "scenarios/massage_bar_hot.toml"), r"30 % of the fat at 20"),
    "pour": (("pour", "scenarios/foot_scrub_bar.toml"), r"stir to 31 °C, pour"),
    "fill": (
        ("fill", BAR, "--net", "60 g", "--spread", "1.2 g", "--a-year", 1000),
        r"Fill to 60\.4 g \(0\.7 % over\)",
    ),
    "label": (
        ("label", BAR, "--net", "60 g", "--size", "60 x 40 mm", "--made", "2026-11-26"),
        r"Cera Alba, .* Geraniol, Limonene",
    ),
    "batch": (
        ("batch", BAR, "--units", 24, "--net", "60 g"),
        r"1514\.3 g \(53\.42 oz\).*keep every rule.* \[ \] 484\.5 rapeseed oil",
    ),
    "list of batches": (("record", "list"), r"1 batch recorded\. .*N1 "),
    "record": (
        ("record", "show", "N1"),
        r"it broke: .*By its rules as they are today it breaks 3 rules of 2",
    ),
    "trace": (("trace", "N1/3"), r"Unit 3, 61\.0 g, of batch N1: .*cocoa butter +A1"),
    "lot": (("trace", "A1"), r"Lot A1 of cocoa butter: in 1 batch.* 1\.5 kg left"),
    "cost": (
        ("cost", BAR, "--units", 24, "--net", "60 g", "--price", "8.50"),
        r"A unit costs 3\.60 EUR .* At 8\.50 EUR a unit, as the buyer pays, 3\.25 is",
    ),
    "calibrate": (("calibrate", "trials.csv", BAR), r"a thin base: a first step"),
    "trials": (
        ("trials", BAR, "--bars", 3),
        r"firmness at 25 °C of today's answer .* less; as many bars drawn by lot",
    ),
    "variants": (("variants", BAR, "--count", 3), r"variant 2 +15\.86"),
    "themes": (
        ("variants", BAR, "--theme", "scenarios/themes"),
        r"4 of 4 themes are possible",
    ),
    "substitute": (
        ("substitute", BAR, "--without", "almond oil"),
        r"Materials cost 17\.41 EUR",
    ),
    "tradeoff": (("tradeoff", BAR), r"5 % cheaper if 7\.23 %"),
    "stock": (("stock", BAR, "--unit", "60 g"), r"it makes 4\.5 kg, 75 units"),
    "buy": (
        ("buy", BAR, "--units", 24, "--net", "60 g", "--loss", 3),
        r"Buy 7 packs of 5 ingredients for 44\.50 EUR",
    ),
    "plan": (
        ("plan", "scenarios/plans/autumn.toml"),
        r"Buy 14 packs of 10 ingredients for 92\.50 EUR.* 27\.50 more",
    ),
    "robust": (
        ("robust", BAR, "--draws", 200, "--budget", 1),
        r"Every rule is kept in \d+\.\d %.* 15\.8\d EUR per kg",
    ),
    "survey": (
        ("survey", "published.csv", "--class", "lotion bar", "--replace"),
        r"PROPOSED BASE .* beeswax +27\.12",
    ),
    "list": (("catalogue", "list", "--workshop", "demo"), MANY),
    "show": (("catalogue", "show", "cocoa butter"), r"cocoa butter .*INCI: Theobroma"),
    "inventory": (("catalogue", "check"), rf"No problem found\. .*{MANY}"),
    "sweep": (
        ("sweep", "scenarios/grids/prices_by_month.toml"),
        r"6 of 6 cases answered; 12\.60 to 16\.04 EUR/kg",
    ),
}


def test_every_command_that_shows_a_page_is_shown_here():
    commands = set()
    for path in Path(cli.__file__).parent.glob("[a-z]*.py"):
        found = getattr(import_module(f"optimiser.cli.{path.stem}"), path.stem, None)
        if "Example: optimiser" in (getattr(found, "__doc__", None) or ""):
            commands.add(path.stem)
    assert len(commands) > 10
    assert commands <= {*COMMANDS}
    others = {"begin", "open", "report"}  # which print no page
    assert {arguments[0] for arguments, _ in ASKED.values()} == {*COMMANDS} - others


def taken(command, words):
    """Yield each command below one by its words, and the options that it takes."""
    below = getattr(command, "commands", {})
    for word, each in below.items():
        yield from taken(each, (*words, word))
    if not below:
        yield words, {option for each in command.params for option in each.opts}


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_answers_as_json_and_a_page_in_full(name):
    command = get_command(application([name]))
    first = () if hasattr(command, "commands") else (name,)
    for words, options in taken(command, first):
        if words not in {("open",), ("record", "export")}:
            assert "--json" in options, words
        if any(words == asked[: len(words)] for asked, _ in ASKED.values()):
            assert "--full" in options, words


@pytest.fixture
def pages(request, run, workspace, monkeypatch):
    """Return a function that gives the page which a command shows."""
    write_all(workspace)
    shutil.copy(PUBLISHED, workspace / "published.csv")
    (workspace / "sheet.csv").write_text(SHEET, encoding="utf-8")
    name = request.node.callspec.params["name"]
    if ASKED[name][0][0] in {"record", "trace"}:
        sheet = ("scenarios/massage_bar.toml", "sheet.csv", "--number", "N1")
        assert run("record", "batch", *sheet, "--units", 16).code == 0
        assert run("record", "weights", "N1", "units.csv").code == 0
    shown = []

    def kept(page):
        shown.append(page)
        return ""

    def call(*arguments):
        shown.clear()
        with monkeypatch.context() as patch:
            for module in (terminal, presenting):
                patch.setattr(module, "as_text", kept)
            assert run(*arguments).code in {0, 1}
        return shown[0]

    return call


@pytest.mark.usefixtures("asked_once")
@pytest.mark.parametrize("name", ASKED)
def test_a_page_fits_every_width_answers_first_and_stops_no_maker(pages, name):
    arguments, answer = ASKED[name]
    short = pages(*arguments)
    full = pages(*arguments, "--full")
    for page in (short, full):
        for columns in WIDTHS:
            lines = terminal.as_text(page, columns).splitlines()
            assert max(map(len, lines)) <= columns
        text = " ".join(terminal.as_text(page, 80).split())
        plain = "".join(map(near, text))
        assert plain.count("?") == text.count("?")  # in a terminal of few letters
        # The whole page names keys and ids of rules, which are written with this one.
        stops = STOPS if page is short else set(STOPS) - {"guard"}
        assert [word for word in stops if word in text] == []
    lines = terminal.as_text(short, 80).splitlines()
    assert re.search(answer, " ".join(" ".join(lines[:15]).split()))
    assert len(lines) <= MORE_LINES.get(name, MOST_LINES)
    assert len(terminal.as_text(full, 80).splitlines()) >= len(lines)


# Lines that are not blank, at 80 columns; the foot scrub's formula alone has seventeen.
@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_each_shipped_scenario_is_answered_in_about_thirty_lines(
    run, path, monkeypatch
):
    monkeypatch.chdir(path.parents[1])
    lines = run("formulate", f"scenarios/{path.name}").out.splitlines()
    assert sum(bool(line.strip()) for line in lines) <= 32
    told = " ".join(" ".join(lines).split())
    for each in ("EUR per kg", "Allergens: ", "Next: "):
        assert each in told
    # How many there are is held where the README is.
    assert re.search(r"Law, EU: \d{2,} limits kept", told)


# Sixteen lines of a formula: what is said around it gives way, but no caution.
def test_a_long_formula_leaves_less_room_to_what_is_said_around_it(run, workspace):
    path = workspace / "scenarios" / "foot_scrub_bar.toml"
    lines = run("formulate", path).out.splitlines()
    assert len(lines) <= 32
    assert sum(line.startswith("  ") for line in lines[:20]) >= 15
    told = " ".join(" ".join(lines).split())
    assert re.search(r"Law, EU: \d{2,} limits kept", told)
    assert "pending, tea tree oil" in told
    assert "slippery" in told
    assert "Keep from children under three" in told
    assert "Allergens: soy" in told
    assert "2nd opinion" in told
    assert "a qualified assessor decide. Next: --full." in told
