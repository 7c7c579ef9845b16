"""Every page in every width: nothing overflows, and the answer comes first."""

import re
import shutil
from importlib import import_module
from pathlib import Path

import pytest

from optimiser import cli, presenting
from optimiser.cli.commands import COMMANDS
from optimiser.presenting import terminal
from tests.survey.conftest import PUBLISHED

BAR = "scenarios/massage_bar.toml"
FULL = """\
trial,room,verdict,cocoa butter,refined shea butter,beeswax,sunflower oil
a,21 degC,right,40,20,11,29
b,27 degC,too soft,40,20,11,29
c,25 degC,too soft,50,20,10,20
d,22 degC,too soft,30,20,8,42
"""
MINE = """\
ingredient,percent
cocoa butter,30
refined shea butter,20
beeswax,13
sunflower oil,36.5
mixed tocopherols,0.5
"""
WIDTHS = (40, 60, 80, 120)
MOST_LINES = 38
# With a formula of eleven ingredients, and with five rules that go both ways.
MORE_LINES = {"formulate": 48, "check": 40, "why": 56, "trials": 52}
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
        r"Fill to 60\.5 g \(0\.8 % over\)",
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
    "robust": (
        ("robust", BAR, "--draws", 200, "--budget", 1),
        r"Every rule is kept in \d+\.\d %.* 15\.8\d EUR per kg",
    ),
    "survey": (
        ("survey", "published.csv", "--class", "lotion bar", "--replace"),
        r"PROPOSED BASE .* beeswax +27\.12",
    ),
    "list": (("catalogue", "list", "--workshop", "demo"), r"235 ingredients"),
    "show": (("catalogue", "show", "cocoa butter"), r"cocoa butter .*INCI: Theobroma"),
    "inventory": (("catalogue", "check"), r"No problem found\. .*235 ingredients"),
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
    assert {arguments[0] for arguments, _ in ASKED.values()} == {*COMMANDS} - {"begin"}


@pytest.fixture
def pages(run, workspace, monkeypatch):
    """Return a function that gives the page which a command shows."""
    (workspace / "trials.csv").write_text(FULL, encoding="utf-8")
    (workspace / "mine.csv").write_text(MINE, encoding="utf-8")
    shutil.copy(PUBLISHED, workspace / "published.csv")
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
        # The whole page names keys and ids of rules, which are written with this one.
        stops = STOPS if page is short else set(STOPS) - {"guard"}
        assert [word for word in stops if word in text] == []
    lines = terminal.as_text(short, 80).splitlines()
    assert re.search(answer, " ".join(" ".join(lines[:15]).split()))
    assert len(lines) <= MORE_LINES.get(name, MOST_LINES)
    assert len(terminal.as_text(full, 80).splitlines()) >= len(lines)
