"""Price curves and formulas side by side: parts of the page that are asked for."""

import re
from pathlib import Path

import pytest

from optimiser import formulate, read_scenario
from optimiser.explaining import check
from optimiser.explaining.why import why_rule
from optimiser.presenting.comparing import Compared, compared_page
from tests.web.conftest import TOKEN

HARD = "band/hard butter/min"
BAR = Path("scenarios/massage_bar.toml")


def part(page, name, **asks):
    reply = page.client.get(page.own + name, params=asks)
    return reply, reply.json().get("html", "")


def text(html):
    return " ".join(re.sub(r"<[^>]*>", " ", html).split())


def test_a_curve_is_drawn_from_end_to_end_with_its_steps_in_words(opened):
    page = opened()
    reply, html = part(page, "curve", rule=HARD)
    assert reply.json()["number"] == page.number
    points = why_rule(*read_scenario(BAR), HARD).curves[0].points
    low, high = (float(re.search(rf'{x}="([\d.]+)"', html)[1]) for x in ("min", "max"))
    assert (low, high) == pytest.approx((points[0].limit, points[-1].limit))
    drawn = re.search(r'<polyline[^>]*points="([^"]*)"', html)[1].split()
    assert len(drawn) == len(points)
    assert float(drawn[0].split(",")[0]) == float(
        re.search(r'left="([\d.]+)"', html)[1]
    )
    assert float(drawn[-1].split(",")[0]) == float(
        re.search(r'right="([\d.]+)"', html)[1]
    )
    assert f'data-limit="{HARD}"' in html
    assert "down: 19.49 %: 15.08 EUR/kg (-0.74)" in text(html)


def test_a_curve_is_that_of_the_limits_as_they_were_moved(opened):
    page = opened()
    before = part(page, "curve", rule=HARD)[1]
    page.limit("band/liquid oil/max", 25)
    assert part(page, "curve", rule=HARD)[1] != before


def test_what_has_no_curve_is_told(opened):
    page = opened()
    assert part(page, "curve", rule="nothing")[0].status_code == 422
    assert part(page, "curve", rule="total")[0].status_code == 422
    page.limit(HARD, 60)
    assert "While the rules clash" in part(page, "curve", rule=HARD)[1]


def test_every_limit_that_holds_says_what_easing_saves_and_offers_its_curve(opened):
    page = opened()
    page.settle()
    holding = re.findall(r'<div class="limit holds".*?</div>', page.html, re.DOTALL)
    assert len(holding) >= 6
    for each in holding:
        assert re.search(r"<button[^>]* data-curve=[^>]*>price curve", each)
        assert "saves" in each or "lowering" in each, text(each)


def test_base_and_formula_stand_side_by_side_and_each_column_adds_up(opened):
    page = opened()
    page.settle()
    html = part(page, "compare")[1]
    answer = formulate(*read_scenario(BAR))
    first = re.search(r"<table>.*?</table>", html, re.DOTALL)[0]
    rows = re.findall(r"<tr.*?</tr>", first, re.DOTALL)
    cells = [re.findall(r'<td class="n">([^<]*)</td>', each) for each in rows[1:]]
    for column in (0, 1):
        told = [float(each[column]) for each in cells if each[column].strip()]
        assert sum(told[:-1]) == pytest.approx(told[-1]) == pytest.approx(100)
    shown = text(html)
    change = answer.base_cost_per_kg - answer.cost_per_kg
    assert f"EUR per kg 19.52 {answer.cost_per_kg:.2f} -{change:.2f}" in shown
    assert "now: keeps every rule as it is now." in shown


def test_what_was_before_and_another_file_can_be_compared_three_at_most(opened):
    page = opened()
    page.settle()
    assert 'data-of="before"' not in part(page, "compare")[1]
    page.limit(HARD, 36)
    page.settle()
    other = "file:scenarios/massage_bar_nut_free.toml"
    html = part(page, "compare", of=["before", "now", other, "base"])[1]
    heads = re.findall(r'scope="col" class="n">([^<]*)<', html)[:3]
    assert heads == ["before %", "now %", "Massage bar without tree nuts (demo) %"]
    assert re.search(r'data-of="base" disabled', html)
    assert "before: breaks 1 rule" in text(html)
    assert part(page, "compare", of=["now"])[1].count("Choose two.") == 1
    assert part(page, "compare", of=["file:../../etc/passwd"])[0].status_code == 200


def test_a_file_that_has_no_formula_says_so_where_it_is_compared(opened, workspace):
    clash = 'extends = "lip_balm.toml"\n[bands]\nwax = { min = 1, max = 2 }\n'
    (workspace / "scenarios/soft.toml").write_text(clash, encoding="utf-8")
    reply, _ = part(opened(), "compare", of=["now", "file:scenarios/soft.toml"])
    assert reply.status_code == 422
    assert reply.json()["says"] == [
        "scenarios/soft.toml: has no formula, for its rules clash."
        " To fix: open it to see ways out."
    ]


def test_variants_are_found_on_demand(opened):
    page = opened("scenarios/lip_balm.toml")
    html = part(page, "compare", search="1")[1]
    assert 'data-of="variant 2"' in html
    html = part(page, "compare", of=["variant 1", "variant 2"])[1]
    assert "variant 2, difference" in html


@pytest.mark.usefixtures("workspace")
def test_a_difference_is_that_of_the_figures_as_they_are_shown():
    asked, catalogue = read_scenario(BAR)
    one = {"cocoa_butter": 50.0, "beeswax": 50.0}
    other = {"cocoa_butter": 50.2, "beeswax": 49.8}
    told = [
        Compared(name, check(each, asked, catalogue))
        for name, each in (("one", one), ("other", other))
    ]
    page = compared_page(told)
    for table in page.sections[0].blocks:
        was, now, apart = ([_shown(x) for x in c.cells] for c in table.columns[1:])
        rows = list(zip(was, now, apart, strict=True))
        assert any(each[2] for each in rows)
        for first, second, difference in rows:
            assert second - first == pytest.approx(difference or 0.0)


def _shown(cell):
    shown = getattr(cell, "text", cell)
    return 0.0 if shown in {"", "="} else float(shown)


def test_the_curve_of_firmness_follows_what_moves_and_tells_its_marks(opened):
    page = opened()
    firm, fat = re.findall(r"<figcaption>.*?</figcaption>", page.html, re.DOTALL)[:2]
    assert "Firmness at 25 °C (a room): 50, by lot" in firm
    assert "skin, 32 °C" in firm
    assert "Solid fat of the lipids:" in fat
    page.limit("window/firmness/25 degC/lipids/min", 54)
    assert "Firmness at 25 °C (a room): 54, by lot" in page.html


def test_a_category_is_told_with_what_its_lines_add_up_to(opened):
    groups = re.findall(r'<tbody[^>]*data-key="g.*?</tbody>', opened().html, re.DOTALL)
    assert len(groups) > 3
    for group in groups:
        rows = re.findall(r'<tr role="row" class="(\w+).*?</tr>', group, re.DOTALL)
        cells = re.findall(r'<td role="cell" class="n(?: now)?">(.*?)</td>', group)
        figures = [float(each.strip() or 0.0) for each in cells]
        assert len(figures) == 2 * len(rows)
        for place in (0, 1):  # now, and in the base
            whole, *lines = figures[place::2]
            assert whole == pytest.approx(sum(lines), abs=1e-9)


KINDS = (
    ("page.css", "css"),
    ("desk.css", "css"),
    ("desk.js", "javascript"),
    ("forms.js", "javascript"),
)


def test_a_page_gets_what_it_is_drawn_with(client):
    for name, kind in KINDS:
        reply = client.get(f"/{TOKEN}/{name}")
        assert (reply.status_code, reply.text != "") == (200, True)
        assert kind in reply.headers["content-type"]
