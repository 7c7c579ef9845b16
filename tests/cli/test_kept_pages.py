"""Pages kept as files: to read and print, or as a spreadsheet."""

import re
import shutil

import pytest
from python_calamine import CalamineWorkbook

from tests.survey.conftest import PUBLISHED

BAR = "scenarios/massage_bar.toml"
SIZE = ("--units", 24, "--net", "60 g")
# What each page says, whose command is asked for it, and its pictures.
KEPT = {
    "formulate": (("report", BAR), "Where the money goes", 8),
    "clash": (("report", "scenarios/clash.toml"), "Rules that cannot all hold", 0),
    "survey": (
        ("survey", "published.csv", "--class", "lotion bar"),
        "Bands, base and recipes",
        1,
    ),
    "variants": (("variants", BAR, "--count", 3), "variant 2", 0),
    "themes": (("variants", BAR, "--theme", "scenarios/themes"), "themes", 0),
    "tradeoff": (("tradeoff", BAR), "bargain", 1),
    "plan": (("plan", "scenarios/plans/autumn.toml"), "What to buy", 0),
    "buy": (("buy", BAR, *SIZE), "What to buy", 0),
    "batch": (("batch", BAR, *SIZE), "Batch sheet", 0),
    "cost": (("cost", BAR, *SIZE), "What a unit costs", 0),
    "fill": (("fill", BAR, "--net", "60 g", "--spread", "1 g"), "By which rules", 0),
    "label": (("label", BAR, "--net", "60 g"), "Ingredients in order", 0),
    "why": (("why", BAR), "What each rule costs, drawn", 5),
    "one rule": (("why", BAR, "--rule", "band/hard butter/min"), "hard butter", 1),
    "check": (("check", "scenarios/bar.toml", BAR), "Rules", 0),
    "fats": (("fats", BAR), "of the lipids", 1),
    "pour": (("pour", BAR), "Pour", 0),
    "stock": (("stock", BAR), "What to take", 0),
    "substitute": (("substitute", BAR, "--without", "beeswax"), "beeswax", 0),
    "robust": (("robust", BAR, "--draws", 200, "--budget", 1), "rule", 0),
    "sweep": (("sweep", BAR), "1 of 1 case answered", 0),
    "trials": (("trials", BAR, "--bars", 3), "bar", 0),
}


@pytest.mark.usefixtures("asked_once")
@pytest.mark.parametrize("name", KEPT)
def test_a_page_is_kept_to_print_with_its_pictures_told(run, workspace, name):
    arguments, says, pictures = KEPT[name]
    shutil.copy(PUBLISHED, workspace / "published.csv")
    first = run(*arguments, "--out", "kept.html")
    assert first.code in ({3} if name == "clash" else {0, 1}), first.err
    assert "kept.html: written." in first.err
    told = (workspace / "kept.html").read_text(encoding="utf-8")
    assert told.startswith("<!doctype html>")
    assert says.casefold() in told.casefold()
    assert told.count('<svg class="plot"') >= pictures
    assert told.count('role="img"') == told.count("<desc ")
    assert not re.search(r"https?://|<script|<img|url\(|@import", told)


@pytest.mark.parametrize("arguments", [("cost", BAR, *SIZE), KEPT["clash"][0]])
def test_a_page_is_kept_as_a_spreadsheet_and_written_again(run, workspace, arguments):
    first = run(*arguments, "--out", "kept.xlsx")
    assert "kept.xlsx: written." in first.err
    book = CalamineWorkbook.from_path(str(workspace / "kept.xlsx"))
    assert book.sheet_names[0] == "report"
    again = run(*arguments, "--out", "kept.xlsx")
    assert (again.code, again.err) == (first.code, first.err)


def test_another_file_is_not_written_over_and_another_ending_is_refused(run, workspace):
    asked = ("cost", BAR, *SIZE, "--out")
    (workspace / "mine.html").write_text("<p>mine</p>", encoding="utf-8")
    assert "is there already" in run(*asked, "mine.html").err
    assert (workspace / "mine.html").read_text(encoding="utf-8") == "<p>mine</p>"
    told = run(*asked, "kept.pdf")
    assert told.code == 1
    assert "option --out: 'kept.pdf' is neither a page nor a spreadsheet." in told.err
    refused = run(*asked, BAR)
    assert refused.code == 1
    assert not (workspace / "kept.pdf").exists()


def test_a_report_tells_its_cautions_notes_law_and_bargain_once(run, workspace):
    assert run("report", BAR, "--out", "kept.html").code == 0
    told = (workspace / "kept.html").read_text(encoding="utf-8")
    assert told.count("The bargain turns at") == 1
    assert told.count("<p>Law, EU:") == 1
    said = re.findall(r"<(?:p|li)>([^<]{40,}[.])</(?:p|li)>", told)
    assert len(said) > 20
    assert sorted({x for x in said if said.count(x) > 1}) == []
