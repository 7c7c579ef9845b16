"""From an empty folder, or from other people's recipes, to a scenario on the page."""

import base64
import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from optimiser import formulate, read_scenario
from optimiser.web.app import made
from optimiser.web.guard import MOST_UPLOADED
from tests.web.conftest import HOME, ORIGIN, PORT, TOKEN, Page

RECIPE = "ingredient,amount,unit\ncocoa butter,100,g\nbeeswax,40,g\nalmond oil,60,g\n"
RECIPES = """recipe,class,ingredient,amount,unit
one,lotion bar,beeswax,30,%
one,lotion bar,cocoa butter,35,%
one,lotion bar,almond oil,35,%
two,lotion bar,beeswax,25,%
two,lotion bar,shea butter,45,%
two,lotion bar,fluffium,30,%
three,lotion bar,beeswax,25,g
three,lotion bar,shea butter,some,
three,lotion bar,coconut oil,30,g
four,lip balm,beeswax,20,%
four,lip balm,castor oil,80,%
"""


def dropped(name, content):
    content = content if isinstance(content, bytes) else content.encode()
    return {"name": name, "content": base64.b64encode(content).decode()}


@pytest.fixture
def empty(tmp_path, monkeypatch):
    """Return a client of the workbench over a new folder."""
    (tmp_path / "new").mkdir()
    monkeypatch.chdir(tmp_path / "new")
    return TestClient(made(Path(), TOKEN, PORT), base_url=HOME)


def post(client, where, **body):
    return client.post(f"/{TOKEN}/{where}", json=body, headers=ORIGIN)


def test_an_empty_folder_says_how_to_begin_and_lists_what_to_begin_from(empty):
    page = empty.get(f"/{TOKEN}/").text
    assert "There is nothing in this folder yet" in page
    assert '<option value="scenarios/lip_balm.toml">' in page


def test_a_workspace_is_begun_from_another_scenario_with_product_and_market(empty):
    told = post(
        empty,
        "begin",
        product="hand balm",
        markets=["GB"],
        start="scenarios/massage_bar.toml",
    )
    assert told.status_code == 200, told.text
    assert "open?file=scenarios%2Fhand_balm.toml" in told.json()["html"].replace(
        "scenarios/hand", "scenarios%2Fhand"
    )
    asked, _ = read_scenario(Path("scenarios/hand_balm.toml"))
    assert (asked.product, asked.markets) == ("hand balm", ("GB",))
    parent, _ = read_scenario(Path("scenarios/massage_bar.toml"))
    assert asked.base == parent.base != {}
    assert Path("GUIDE.md").is_file()
    page = Page(empty, "scenarios/hand_balm.toml")
    assert "GB:" in page.text


def test_a_recipe_that_is_dropped_becomes_a_scenario(empty):
    recipe = dropped("My bar.csv", RECIPE)
    told = post(empty, "begin", product="massage bar", markets=["EU"], recipe=recipe)
    assert told.status_code == 200, told.text
    asked, catalogue = read_scenario(Path("scenarios/my_bar.toml"))
    assert asked.base["cocoa_butter"] == 50
    assert formulate(asked, catalogue).status == "answered"
    bare = post(empty, "begin", recipe=dropped("bare.csv", RECIPE)).json()["html"]
    assert "nobody said what it is" in bare
    assert "--" not in bare
    again = post(empty, "begin", product="massage bar", recipe=recipe)
    assert again.status_code == 422
    assert "is there already" in " ".join(again.json()["says"])
    assert "begin again with replace" in " ".join(again.json()["says"])
    assert 'name="replace"' in empty.get(f"/{TOKEN}/").text
    mine = Path("scenarios/my_bar.toml")
    mine.write_text(f"{mine.read_text('utf-8')}# mine\n", encoding="utf-8")
    anew = post(empty, "begin", product="soap", recipe=recipe, replace=True)
    assert anew.status_code == 200, anew.text
    assert "# mine" not in mine.read_text("utf-8")
    assert "# mine" in mine.with_name("my_bar.toml.old").read_text("utf-8")


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("bar.csv", "ingredient,amount,unit\ncocoa buter xx,1,g\n", "bar.csv, row 2"),
        ("bar.csv", "colour,shape\nred,round\n", "bar.csv"),
        ("bar.csv", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "bar.csv"),
        ("bar.csv", "", "bar.csv"),
        ("../../bar.csv", "x", "bar.csv"),
    ],
)
def test_a_recipe_that_cannot_be_read_is_told_by_its_reader_and_changes_nothing(
    empty, name, content, told
):
    reply = post(empty, "begin", product="bar", recipe=dropped(name, content))
    assert reply.status_code == 422
    says = " ".join(reply.json()["says"])
    assert says.startswith((told, f"'{told}")) or told in says
    assert "tmp" not in says
    assert list(Path().iterdir()) == []


def test_what_is_no_base64_is_told(empty):
    reply = post(empty, "begin", recipe={"name": "a.csv", "content": "***"})
    assert reply.json()["says"] == [
        "a.csv: did not arrive whole. To fix: drop it again."
    ]


@pytest.mark.parametrize("where", ["begin", "survey"])
def test_a_file_that_is_too_large_is_refused_unread(empty, where):
    large = dropped("a.csv", b"x" * MOST_UPLOADED)
    assert post(empty, where, recipe=large, recipes=large).status_code == 413
    assert list(Path().iterdir()) == []


def test_a_folder_with_other_things_in_it_is_left_alone(empty):
    Path("letters.txt").write_text("dear")
    told = post(empty, "begin", product="bar", start="scenarios/massage_bar.toml")
    assert told.status_code == 422
    assert "is not empty" in " ".join(told.json()["says"])
    assert [each.name for each in Path().iterdir()] == ["letters.txt"]


# -- surveys --------------------------------------------------------------------------


@pytest.fixture
def surveyed(client):
    """Return where a survey of the recipes is."""
    told = post(client, "survey", recipes=dropped("recipes.csv", RECIPES))
    return told.json()["go"]


def ask(client, place, **body):
    told = {"product_class": "lotion bar", **body}
    return client.post(f"{place}answers", json=told, headers=ORIGIN)


def text(html):
    return " ".join(re.sub(r"<[^>]*>", " ", html).split())


def test_a_survey_asks_for_its_class_then_shows_bands_a_base_and_questions(
    client, surveyed
):
    first = client.get(surveyed).text
    assert "choose one" in first
    html = ask(client, surveyed).json()["html"]
    for each, sent in ((first, ["answers"]), (html, ["answers", "write"])):
        goes = re.findall(r'data-to="([^"]*)"', each)
        assert goes == [f"{surveyed}{what}" for what in sent]
    shown = text(html)
    assert "Proposed base" in shown
    assert "Proposed bands" in shown
    assert "three: shea butter: some: no amount can be told" in shown
    assert "fluffium stands for" in shown
    assert "--" not in shown.replace("---", "")


def test_what_is_answered_is_asked_no_more_and_stays_answered(client, surveyed):
    answers = [[[["three"], "shea butter"], "20 g"]]
    names = [["fluffium", "kokum butter"]]
    told = ask(client, surveyed, answers=answers, names=names)
    assert told.status_code == 200, told.text
    shown = text(told.json()["html"])
    assert "no amount can be told" not in shown
    assert "fluffium stands for" not in shown
    assert "3 of them used" in shown
    assert "3 of them used" in text(ask(client, surveyed).json()["html"])


def test_a_name_that_nobody_knows_is_asked_once_and_may_be_left_out(client, surveyed):
    html = ask(client, surveyed).json()["html"]
    fields = re.findall(r'data-of="([^"]*)"', html)
    assert len([each for each in fields if "fluffium" in each]) == 1
    assert "fluffium: is not known" not in text(html)
    told = ask(client, surveyed, names=[["fluffium", "leave out"]])
    assert told.status_code == 200, told.text
    shown = text(told.json()["html"])
    assert "fluffium stands for" not in shown
    assert "two: recipe two adds up to 70 %" in shown
    again = text(ask(client, surveyed).json()["html"])
    assert "fluffium stands for" not in again


def test_an_answer_that_is_not_understood_is_told_and_changes_nothing(client, surveyed):
    ask(client, surveyed)
    answers = [[[["three"], "shea butter"], "plenty of it"]]
    told = ask(client, surveyed, answers=answers)
    assert told.status_code == 422
    assert "is no answer that is understood" in " ".join(told.json()["says"])
    assert "no amount can be told" in text(client.get(surveyed).text)


def test_a_survey_becomes_a_scenario_that_opens_and_has_an_answer(client, surveyed):
    ask(client, surveyed, zone="II", markets=["EU"])
    told = client.post(f"{surveyed}write", json={"name": "bars.toml"}, headers=ORIGIN)
    assert told.status_code == 200, told.text
    shown = text(client.get(told.json()["go"]).text)
    assert "Your base keeps every rule." in shown
    written = Path("scenarios/bars.toml").read_text()
    assert "recipes.csv" in written
    assert "/tmp" not in written
    again = client.post(f"{surveyed}write", json={"name": "bars.toml"}, headers=ORIGIN)
    assert again.json()["says"] == [
        "bars.toml: is there already. To fix: give another name."
    ]


def test_a_survey_shows_the_recipes_that_are_built_as_was_chosen(client):
    lines = "".join(
        f"{wax} {n},bar,{wax},{20 + n},%\n{wax} {n},bar,shea butter,{80 - n},%\n"
        for wax in ("beeswax", "candelilla wax")
        for n in range(3)
    )
    table = dropped("bars.csv", f"recipe,class,ingredient,amount,unit\n{lines}")
    place = post(client, "survey", recipes=table).json()["go"]
    for chosen, wax in (("plant wax", "candelilla wax"), ("beeswax", "beeswax")):
        told = ask(client, place, product_class="bar", structure=chosen)
        shown = text(told.json()["html"])
        base = shown[shown.index("Proposed base") :]
        held = {each: each in base for each in ("beeswax", "candelilla wax")}
        assert held == {each: each == wax for each in held}, base


@pytest.mark.parametrize("name", ["../evil", "/tmp/evil", "a/b", "..", ""])
def test_a_survey_is_written_among_the_scenarios_whatever_it_is_called(
    client, surveyed, workspace, name
):
    ask(client, surveyed)
    before = {each for each in workspace.rglob("*") if "scenarios" not in str(each)}
    told = client.post(f"{surveyed}write", json={"name": name}, headers=ORIGIN)
    assert told.status_code in {200, 422}
    after = {each for each in workspace.rglob("*") if "scenarios" not in str(each)}
    assert after == before
    assert not list(workspace.parent.glob("evil*"))


def test_a_table_that_holds_no_recipe_is_told_by_its_reader(client):
    told = post(client, "survey", recipes=dropped("a.csv", "colour,shape\nred,round\n"))
    assert told.status_code == 422
    assert "a.csv" in told.json()["says"][0]


def test_a_survey_that_is_not_open_leads_back_to_the_first_page(client):
    told = client.get(f"/{TOKEN}/survey/none/", follow_redirects=False)
    assert told.headers["location"] == f"/{TOKEN}/"
    assert ask(client, f"/{TOKEN}/survey/none/").status_code == 410
    assert post(client, "survey/none/write", name="bars").status_code == 410
