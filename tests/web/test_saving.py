"""A changed scenario becomes a file: never over another, never over what is newer."""

import csv
import shutil
import tomllib

import pytest

from optimiser import formulate, read_scenario
from tests.web.conftest import ROOT

HARD = "band/hard butter/min"


def test_a_saved_scenario_gives_the_formula_that_was_shown(opened, workspace):
    page = opened()
    page.limit(HARD, 33)
    page.settle()
    saved = page.post("save", name="firmer.toml")
    assert saved.json()["saved"] == "firmer.toml: written."
    path = workspace / "scenarios" / "firmer.toml"
    assert "# last year's bar, percent of the finished product" in path.read_text()
    answer = formulate(*read_scenario(path))
    assert f"{answer.cost_per_kg:.2f}" == f"{page.cost:.2f}"
    assert "(changed)" not in page.html
    assert (workspace / "scenarios/massage_bar.toml").read_text().count("33") == 0


def test_a_moved_window_is_written_where_it_stands(opened, workspace):
    page = opened()
    page.limit("window/firmness/25 degC/lipids/min", 54)
    page.settle()
    assert page.post("save", name="firmer.toml").status_code == 200
    was, now = (
        tomllib.loads((workspace / "scenarios" / name).read_text(encoding="utf-8"))
        for name in ("massage_bar.toml", "firmer.toml")
    )
    assert "eased" not in now
    firm, melts = was["windows"]
    assert firm["property"] == "firmness"
    assert now["windows"] == [{**firm, "min": 54}, melts]


def test_the_answer_to_a_question_without_a_number_is_not_given(opened):
    page = opened()
    for number in ("", "x", "-1", "1.0", "12345678901"):
        reply = page.client.get(page.own + "answer", params={"number": number})
        assert (reply.status_code, reply.text) == (400, "")


def test_a_file_that_is_there_is_written_over_only_when_agreed_to(opened, workspace):
    page = opened()
    page.limit(HARD, 33)
    path = workspace / "scenarios" / "lip_balm.toml"
    before = path.read_bytes()
    reply = page.post("save", name="lip_balm.toml")
    assert reply.status_code == 409
    assert reply.json()["says"] == "lip_balm.toml is there already."
    assert path.read_bytes() == before
    path.write_text("title = 'newer'\n")  # between the question and the answer to it
    again = page.post("save", name="lip_balm.toml", agreed=reply.json()["taken"])
    assert again.status_code == 409
    assert path.read_text() == "title = 'newer'\n"
    last = page.post("save", name="lip_balm.toml", agreed=again.json()["taken"])
    assert last.status_code == 200
    assert "min = 33" in path.read_text()


ELSEWHERE = [
    "../evil.toml", "/tmp/evil.toml", "a/b.toml", "a\\b.toml", ".toml", ".hidden.toml",
    "bar.csv", "bar.toml\n", "bar\0.toml", "", "..", "x" * 90 + ".toml", "~.toml",
]  # fmt: skip


def test_a_name_that_leads_elsewhere_is_refused(opened, workspace):
    page = opened()
    page.limit(HARD, 33)
    before = sorted(workspace.rglob("*"))
    for name in ELSEWHERE:
        reply = page.post("save", name=name)
        assert reply.status_code == 422, name
        assert "is no name for a scenario here" in reply.json()["says"], name
        assert sorted(workspace.rglob("*")) == before, name


def test_what_somebody_no_longer_sees_is_not_saved(opened, workspace):
    page = opened()
    seen = page.number
    page.limit(HARD, 33)
    reply = page.post("save", number=seen, name="firmer.toml")
    assert (reply.status_code, reply.json()["number"]) == (409, page.number)
    assert not (workspace / "scenarios" / "firmer.toml").exists()
    assert page.post("save", name="firmer.toml").status_code == 200


def test_a_link_is_not_followed_when_saving(opened, workspace):
    (workspace / "scenarios" / "link.toml").symlink_to(workspace / "elsewhere.toml")
    page = opened()
    assert page.post("save", name="link.toml").status_code == 422
    assert not (workspace / "elsewhere.toml").exists()


def test_a_file_changed_outside_is_noticed_and_can_be_taken_up(opened, workspace):
    page = opened()
    page.limit(HARD, 33)
    path = workspace / "scenarios" / "massage_bar.toml"
    path.write_text(path.read_text().replace("max = 45", "max = 41"))
    page.settle()
    assert "massage_bar.toml was changed outside this page" in page.text
    assert page.post("save", name="massage_bar.toml").status_code == 409
    assert page.post("again").status_code == 200
    assert "was changed outside" not in page.text
    assert 'value="41"' in page.html
    page.post("undo")
    assert 'value="33"' in page.html


def test_what_saving_would_change_is_shown_line_by_line(opened):
    page = opened()
    page.limit(HARD, 33)
    told = page.client.get(page.own + "saving").json()["saving"]
    assert "<del>-&#34;hard butter&#34;   = { min = 30, max = 45 }</del>" in told
    assert "<ins>+&#34;hard butter&#34;   = { min = 33, max = 45 }</ins>" in told
    assert 'value="massage_bar_2.toml"' in told


def test_two_pages_on_one_scenario_do_each_other_no_harm(opened):
    one, other = opened(), opened()
    one.limit(HARD, 40)
    other.limit(HARD, 25)
    assert one.cost > other.cost
    assert one.post("undo").status_code == 200
    assert other.limit(HARD, 26).status_code == 200


def test_reading_again_takes_up_what_the_workshop_pays_now(opened, workspace):
    (workspace / "catalogues").unlink()
    shutil.copytree(ROOT / "catalogues", workspace / "catalogues")
    page = opened()
    before = page.cost
    prices = workspace / "catalogues/workshops/demo/prices.csv"
    with prices.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        row["price"] = f"{2 * float(row['price']):.2f}"
        row["freight"] = f"{2 * float(row['freight'] or 0):.2f}"
    with prices.open("w", encoding="utf-8", newline="") as file:
        table = csv.DictWriter(file, rows[0])
        table.writeheader()
        table.writerows(rows)
    assert page.post("again").status_code == 200
    assert page.cost == pytest.approx(2 * before, abs=0.02)
