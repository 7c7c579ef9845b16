"""The page in a real browser: it moves, clashes, saves and is opened again."""

import re

import pytest

from optimiser import formulate, read_scenario

HARD = "band/hard butter/min"
SETTLED = "#desk[data-settled='1']"


@pytest.fixture
def page(browser, served):
    """Return the page of the massage bar; what it complains of fails the test."""
    tab = browser.new_page(viewport={"width": 1000, "height": 900})
    tab.set_default_timeout(20_000)
    wrong = []
    tab.on("pageerror", lambda error: wrong.append(str(error)))
    tab.on("console", lambda said: said.type == "error" and wrong.append(said.text))
    tab.on(
        "request",
        lambda asked: asked.url.startswith(served) or wrong.append(asked.url),
    )
    tab.goto(served)
    tab.get_by_role("link", name="Massage bar (demo)", exact=True).click()
    tab.wait_for_selector(SETTLED)
    yield tab
    tab.close()
    assert [each for each in wrong if "409" not in each] == []


def until(page, so):
    """Wait until something is so; the page's policy lets nothing wait within it."""
    for _ in range(600):
        if page.evaluate(so):
            return
        page.wait_for_timeout(30)
    pytest.fail(f"never so: {so}")


def cost(page):
    return float(re.search(r"(\d+\.\d\d) EUR per kg", page.inner_text("#answer"))[1])


def settled(page):
    until(
        page,
        "document.getElementById('desk').dataset.settled === '1' "
        " && (document.getElementById('desk').dataset.waits || '0') === '0'",
    )


def figure(page, rule):
    return page.locator(f"input.figure[data-limit='{rule}']")


def typed(page, rule, to):
    number = page.get_attribute("#desk", "data-number")
    figure(page, rule).fill(str(to))
    figure(page, rule).press("Enter")
    until(page, f"document.getElementById('desk').dataset.number !== '{number}'")


def test_a_limit_moves_and_the_figures_follow_and_are_those_of_formulate(
    page, workspace
):
    before = cost(page)
    typed(page, HARD, 34)
    assert cost(page) > before
    settled(page)
    path = workspace / "scenarios" / "massage_bar.toml"
    saved = path.with_name("as_saved.toml")
    saved.write_text(
        path.read_text().replace("min = 30, max = 45", "min = 34, max = 45")
    )
    assert f"{formulate(*read_scenario(saved)).cost_per_kg:.2f}" == f"{cost(page):.2f}"


def test_a_clash_is_got_out_of_saved_and_opened_again(page, served, workspace):
    before = cost(page)
    typed(page, HARD, 60)
    page.wait_for_selector(".ways button")
    assert cost(page) == before  # the last formula stays
    assert "Below is the last formula that kept every rule." in page.inner_text("body")
    page.locator(".ways button").first.click()
    page.wait_for_selector("#clash[hidden]", state="attached")
    settled(page)
    now = cost(page)
    page.click("#save")
    page.fill("#save-name", "out.toml")
    page.get_by_role("button", name="Save", exact=True).last.click()
    until(page, "document.getElementById('said').textContent === 'out.toml: written.'")
    assert (workspace / "scenarios" / "out.toml").is_file()
    page.goto(served)
    page.locator("a[href*='out.toml']").click()
    page.wait_for_selector(SETTLED)
    assert cost(page) == now


def test_a_slider_is_moved_by_the_keyboard_alone_and_keeps_the_focus(page):
    slide = page.locator(f"input.slide[data-limit='{HARD}']")
    for _ in range(60):
        page.keyboard.press("Tab")
        if (
            page.evaluate("document.activeElement.dataset.limit") == HARD
            and page.evaluate("document.activeElement.type") == "range"
        ):
            break
    for _ in range(8):
        page.keyboard.press("ArrowRight")
    settled(page)
    assert slide.input_value() == "34"
    assert figure(page, HARD).input_value() == "34"
    assert page.evaluate("document.activeElement.id") == slide.get_attribute("id")
    assert "34" in page.inner_text("#holds")


def test_undo_and_redo_bring_back_what_was(page):
    before = cost(page)
    typed(page, HARD, 36)
    settled(page)
    after = cost(page)
    page.click("#undo")
    until(page, f"document.body.innerText.includes('{before:.2f} EUR per kg')")
    settled(page)
    assert figure(page, HARD).input_value() == "30"
    page.click("#redo")
    until(page, f"document.body.innerText.includes('{after:.2f} EUR per kg')")


def test_an_allergen_is_kept_out_and_an_aim_taken(page):
    page.get_by_label("tree nut").check()
    settled(page)
    until(page, "!document.querySelector('[data-key=isweet_almond_oil] .now').textContent.match(/[1-9]/)")
    page.select_option("#aim", label="least change from the base, then least cost")
    until(page, "document.body.innerText.includes('Aim: least change from the base')")
    settled(page)
    assert page.locator("#aim option:checked").inner_text().startswith("least change")
    assert page.get_by_label("tree nut").is_checked()


def test_a_sweep_of_the_hand_ends_with_the_last_limit_and_its_answer(page):
    slide = page.locator(f"input.slide[data-limit='{HARD}']")
    slide.evaluate(
        """(it) => { for (let to = 20; to <= 40; to += 0.5) {
             it.value = to;
             it.dispatchEvent(new Event("input", { bubbles: true })); } }"""
    )
    settled(page)
    assert figure(page, HARD).input_value() == "40"
    group = page.locator("tbody[data-key='ghard butter'] tr.category td.n").first
    assert group.inner_text().strip() == "40.0"


@pytest.mark.parametrize("width", [360, 800, 1400])
def test_the_page_is_as_wide_as_its_window(page, width):
    page.set_viewport_size({"width": width, "height": 800})
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= width


def test_everything_that_can_be_moved_has_a_name(page):
    nameless = page.evaluate(
        """[...document.querySelectorAll("input, select, button")].filter((it) => !(
             it.getAttribute("aria-label") || it.labels?.length || it.innerText.trim()
           )).map((it) => it.outerHTML)"""
    )
    assert nameless == []
    ids = page.evaluate("[...document.querySelectorAll('[id]')].map((it) => it.id)")
    assert len(ids) == len(set(ids))
