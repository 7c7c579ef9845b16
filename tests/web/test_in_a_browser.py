"""The page in a real browser: begun, moved, clashing, saved, surveyed and recorded."""

import re
import time
from contextlib import contextmanager

import pytest

from optimiser import formulate, read_scenario
from optimiser.cli.begin import begun
from optimiser.cli.bookkeeping import place_of_scenario
from optimiser.domain.record import Temperature, VerdictGiven
from tests.web.conftest import serving
from tests.web.test_beginning import RECIPE, RECIPES

HARD = "band/hard butter/min"
BAR = "a[href$='scenarios/massage_bar.toml']"
LONG = 300  # seconds that end a wait for what never comes, on any machine
SETTLED = "#desk[data-settled='1']"
LOOKS = ((360, "dark"), (360, "light"), (800, "dark"), (1400, "light"))


@pytest.fixture(scope="module")
def kitchen(tmp_path_factory):
    """Return a workspace of one's own."""
    folder = tmp_path_factory.mktemp("browser") / "kitchen"
    begun(folder)
    return folder


@pytest.fixture(scope="module")
def home(browser, kitchen):
    """Return the address of the workbench over it; one browser looks at it."""
    assert browser.is_connected()
    with serving(kitchen) as address:
        yield address


@contextmanager
def watched(browser, home, **how):
    """Open a tab; what it complains of, or fetches from elsewhere, fails the test."""
    tab = browser.new_page(**{"viewport": {"width": 1000, "height": 900}, **how})
    tab.set_default_timeout(1000.0 * LONG)
    wrong = []
    tab.on("pageerror", lambda error: wrong.append(str(error)))
    tab.on("console", lambda said: said.type == "error" and wrong.append(said.text))
    tab.on(
        "request",
        lambda asked: asked.url.startswith(home) or wrong.append(asked.url),
    )
    tab.goto(home)
    yield tab
    tab.close()
    assert [x for x in wrong if not re.search("40[09]|422", x)] == []


@pytest.fixture
def page(browser, home):
    """Return the page of the massage bar."""
    with watched(browser, home) as tab:
        tab.click(BAR)
        tab.wait_for_selector(SETTLED)
        yield tab


def until(page, so):
    """Wait until something is so; the page's policy lets nothing wait within it."""
    end = time.monotonic() + LONG
    while time.monotonic() < end:
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


def focused(page, so):
    """Walk with the Tab key until the focus is where something is so of it."""
    for _ in range(150):
        page.keyboard.press("Tab")
        if page.evaluate(f"(() => {{ const it = document.activeElement; {so} }})()"):
            return
    pytest.fail(f"the Tab key leads nowhere: {so}")


def drop(page, place, name, content):
    """Let go of a file over a place, as a hand with a mouse does."""
    page.evaluate(
        """([place, name, content]) => {
             const carried = new DataTransfer();
             carried.items.add(new File([content], name, { type: "text/csv" }));
             const at = document.querySelector(place);
             for (const what of ["dragover", "drop"])
               at.dispatchEvent(new DragEvent(what, {
                 bubbles: true, cancelable: true, dataTransfer: carried }));
           }""",
        [place, name, content],
    )


def test_from_an_empty_folder_to_a_scenario_that_was_moved_saved_and_opened_again(
    browser, tmp_path
):
    folder = tmp_path / "new"
    folder.mkdir()
    with serving(folder) as home, watched(browser, home) as page:
        page.fill("#product", "massage bar")
        page.get_by_label("EU").check()
        drop(page, "[data-drop]", "mine.csv", RECIPE)
        page.get_by_role("button", name="Begin").click()
        page.get_by_role("link", name="Open scenarios/mine.toml").click()
        page.wait_for_selector(SETTLED)
        page.goto(home)
        page.click(BAR)
        page.wait_for_selector(SETTLED)
        before = cost(page)
        typed(page, HARD, 34)
        moved = cost(page)
        assert moved > before
        settled(page)
        last = cost(page)
        typed(page, HARD, 60)
        page.wait_for_selector(".ways button")
        assert cost(page) == last  # the last formula stays
        shown = page.inner_text("body")
        assert "Below is the last formula that kept every rule." in shown
        page.locator(".ways button").first.click()
        page.wait_for_selector("#clash[hidden]", state="attached")
        settled(page)
        now = cost(page)
        page.click("#save")
        page.fill("#save-name", "out.toml")
        page.get_by_role("button", name="Save", exact=True).last.click()
        until(page, "document.getElementById('said').textContent.includes('written')")
        saved = folder / "scenarios" / "out.toml"
        assert f"{formulate(*read_scenario(saved)).cost_per_kg:.2f}" == f"{now:.2f}"
        page.goto(home)
        page.locator("a[href*='out.toml']").click()
        page.wait_for_selector(SETTLED)
        assert cost(page) == now


def test_recipes_that_are_dropped_are_surveyed_answered_and_become_a_scenario(
    browser, home, kitchen
):
    with watched(browser, home) as page:
        drop(page, "form[data-to$='survey'] [data-drop]", "theirs.csv", RECIPES)
        page.get_by_role("button", name="Survey").click()
        page.select_option("#class", label="lotion bar (3)")
        page.wait_for_selector(".question")
        page.get_by_label(re.compile("three: shea butter")).fill("20 g")
        page.get_by_label("fluffium stands for").fill("gold")
        page.get_by_role("button", name="Survey again").click()
        page.wait_for_selector("[data-says] li")
        assert "gold" in page.inner_text("[data-says]")
        page.get_by_label("fluffium stands for").fill("kokum butter")
        page.get_by_role("button", name="Survey again").click()
        until(page, "!document.querySelector('.question')")
        assert "3 of them used" in page.inner_text("#survey")
        assert "Proposed base" in page.inner_text("#survey")
        page.fill("#file-name", "theirs.toml")
        page.get_by_role("button", name="Write it and open it").click()
        page.wait_for_selector(SETTLED)
    assert (kitchen / "scenarios" / "theirs.toml").is_file()


def test_a_file_that_is_too_large_or_no_table_is_refused_in_words(browser, home):
    with watched(browser, home) as page:
        place = "form[data-to$='survey'] [data-drop]"
        drop(page, place, "large.csv", "x" * 1_000_001)
        page.get_by_role("button", name="Survey").click()
        page.wait_for_selector("#surveyed li")
        assert "larger than 1 MB" in page.inner_text("#surveyed")
        drop(page, place, "odd.csv", "colour,shape\nred,round\n")
        page.get_by_role("button", name="Survey").click()
        until(page, "document.getElementById('surveyed').textContent.includes('odd')")


def test_a_batch_is_weighed_and_recorded_and_told_once_the_book_has_it(page, kitchen):
    page.get_by_role("link", name="At the bench").click()
    page.wait_for_load_state("load")  # what sends the form is there
    page.fill("#units", "24")
    page.fill("#net", "60 g")
    page.keyboard.press("Enter")
    page.wait_for_selector(".weigh")
    book = place_of_scenario(kitchen / "scenarios" / "massage_bar.toml", "demo").book
    page.get_by_role("button", name="Record this batch").click()
    page.wait_for_selector("form [data-says] li")
    assert book().batches == ()
    for row in page.locator("tr[data-row]").all():
        row.locator("[name=weighed_grams]").fill(row.locator(".grams").inner_text())
    page.locator("[name=degrees]").first.fill("78")
    page.get_by_label("How firm it came out").select_option("right")
    page.get_by_label("in a room of, °C").fill("22")
    page.get_by_role("button", name="Record this batch").click()
    until(page, "document.getElementById('recorded').innerText.includes('book has it')")
    (batch,) = book().batches
    assert [x.degrees for x in batch.of(Temperature)] == [78.0]
    assert [(x.verdict, x.room) for x in batch.of(VerdictGiven)] == [("right", 22.0)]
    assert f"Recorded as {batch.made.number}" in page.inner_text("#recorded")
    page.get_by_role("button", name="Record this batch").click()
    until(page, "document.body.innerText.includes('is recorded already')")
    assert len(book().batches) == 1


def test_by_keyboard_alone_a_limit_moves_along_its_slider_and_its_price_curve(page):
    focused(page, f"return it.dataset.limit === '{HARD}' && it.type === 'range'")
    for _ in range(8):
        page.keyboard.press("ArrowRight")
    settled(page)
    assert figure(page, HARD).input_value() == "34"
    assert page.evaluate("document.activeElement.dataset.limit") == HARD
    assert "34" in page.inner_text("#holds")
    focused(page, f"return it.dataset.curve === '{HARD}'")
    page.keyboard.press("Enter")
    page.wait_for_selector(".along")
    focused(page, "return 'along' in it.dataset")
    for _ in range(4):
        page.keyboard.press("ArrowLeft")
    settled(page)
    assert figure(page, HARD).input_value() == "32"
    assert page.evaluate("'along' in document.activeElement.dataset")
    page.locator("#undo").focus()
    page.keyboard.press("Enter")
    until(page, "document.getElementById('redo').disabled === false")


def test_a_limit_is_dragged_along_its_price_curve(page):
    page.locator(f"button[data-curve='{HARD}']").click()
    page.wait_for_selector(".along svg.plot")
    page.locator(".along svg.plot").scroll_into_view_if_needed()
    box = page.locator(".along svg.plot").bounding_box()
    high = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + 0.4 * box["width"], high)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.9 * box["width"], high, steps=4)
    page.mouse.up()
    settled(page)
    low, top = (
        float(page.get_attribute(".along", f"data-{end}")) for end in ("low", "high")
    )
    told = float(figure(page, HARD).input_value())
    assert told == pytest.approx(low + 0.909 * (top - low), abs=1.0)
    assert page.locator(".along .here").count() == 1


def test_a_price_curve_leaves_the_rows_where_they_are_and_is_shut_where_it_was_opened(
    page,
):
    rows = (
        "[...document.querySelectorAll('table.formula tr')]"
        ".map((it) => Math.round(it.getBoundingClientRect().top + scrollY))"
    )
    before = page.evaluate(rows)
    button = page.locator(f"button[data-curve='{HARD}']")
    assert button.get_attribute("aria-expanded") == "false"
    button.click()
    page.wait_for_selector("#curve-formula .along svg.plot")
    assert page.evaluate(rows) == before
    assert button.get_attribute("aria-expanded") == "true"
    typed(page, HARD, 33)
    settled(page)
    until(page, "document.querySelector('[data-along]').value === '33'")
    assert button.get_attribute("aria-expanded") == "true"
    other = page.locator("button[data-curve='band/liquid oil/max']")
    other.evaluate("(it) => it.click()")
    until(
        page, "document.querySelector('.along [data-limit^=\"band/liquid\"]') !== null"
    )
    assert button.get_attribute("aria-expanded") == "false"
    assert page.locator(".along").count() == 1
    page.locator("[data-shut]").click()
    assert page.locator("#curve-formula").is_hidden()
    assert page.evaluate("'curve' in document.activeElement.dataset")
    page.click("#undo")
    until(page, "document.getElementById('redo').disabled === false")
    settled(page)


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


def test_an_allergen_an_aim_a_market_and_a_climate_are_chosen(page):
    page.get_by_label("tree nut").check()
    settled(page)
    page.select_option("#aim", label="least change from the base, then least cost")
    until(page, "document.body.innerText.includes('Aim: least change from the base')")
    settled(page)
    assert page.locator("#aim option:checked").inner_text().startswith("least change")
    assert page.get_by_label("tree nut").is_checked()
    page.get_by_label("GB", exact=True).check()
    until(page, "document.body.innerText.includes('sold in EU and GB')")
    settled(page)
    page.locator("#climate").select_option(index=4)
    until(page, "document.querySelector('.melts').innerText.includes('IVA, 30 °C')")
    page.fill("#made-as", "lip balm")
    page.keyboard.press("Enter")
    until(page, "document.getElementById('undo').disabled === false")
    settled(page)
    assert page.locator("#made-as").input_value() == "lip balm"


def test_formulas_are_compared_and_follow_what_moves(page):
    page.locator("#compare > summary").click()
    page.wait_for_selector("#compare table")
    first = page.inner_text("#compare")
    assert "now, difference" in first
    typed(page, HARD, 38)
    settled(page)
    until(page, "document.getElementById('compare').innerText.includes('before')")
    assert page.inner_text("#compare") != first


def test_two_hundred_quick_changes_leave_the_last_of_each_limit_and_its_answer(
    page, kitchen
):
    page.evaluate(
        """async (rules) => {
             window.seen = [];
             const desk = document.getElementById("desk");
             new MutationObserver(() => window.seen.push(Number(desk.dataset.number)))
               .observe(desk, { attributes: true, attributeFilter: ["data-number"] });
             for (let at = 0; at < 200; at += 1) {
               const rule = rules[at % rules.length];
               const it = document.querySelector(`input.slide[data-limit='${rule}']`);
               it.value = Number(it.max) * (0.45 + 0.05 * Math.sin(at));
               it.dispatchEvent(new Event("input", { bubbles: true }));
               const wait = () => new Promise((then) => setTimeout(then, 15));
               if (at % 4 === 0) await wait();
               // Some answers come in between, however slow they are.
               while (window.seen.length < Math.floor((at + 1) / 50)) await wait();
             }
             window.last = rules.map((rule) =>
               Number(document.querySelector(`input.slide[data-limit='${rule}']`).value));
           }""",
        [HARD, "band/wax/max", "band/liquid oil/max"],
    )
    settled(page)
    seen = page.evaluate("window.seen")
    assert seen == sorted(seen)
    assert len(seen) > 3
    for rule, to in zip(
        (HARD, "band/wax/max", "band/liquid oil/max"),
        page.evaluate("window.last"),
        strict=True,
    ):
        assert float(figure(page, rule).input_value()) == pytest.approx(to)
    told = cost(page)
    page.click("#save")
    page.fill("#save-name", "quick.toml")
    page.get_by_role("button", name="Save", exact=True).last.click()
    until(page, "document.getElementById('said').textContent.includes('written')")
    answer = formulate(*read_scenario(kitchen / "scenarios" / "quick.toml"))
    assert f"{answer.cost_per_kg:.2f}" == f"{told:.2f}"


def test_a_tab_that_is_behind_is_brought_up_to_date_and_changes_nothing(page, browser):
    home = page.url.partition("desk/")[0]
    with watched(browser, home) as other:
        other.goto(page.url)
        other.wait_for_selector(SETTLED)
        typed(page, HARD, 36)
        settled(page)
        typed(other, HARD, 25)  # refused: it was asked of what is no more
        settled(other)
        assert figure(other, "band/liquid oil/max").input_value() == "32"
        assert cost(other) == cost(page)


# -- how it looks ---------------------------------------------------------------------


def shown(tab, what):
    """Go to a page of the workbench, with what folds out unfolded."""
    if what == "start":
        return
    if what == "survey":
        drop(tab, "form[data-to$='survey'] [data-drop]", "theirs.csv", RECIPES)
        tab.get_by_role("button", name="Survey").click()
        tab.select_option("#class", label="lotion bar (3)")
        tab.wait_for_selector(".question")
        return
    tab.click(BAR)
    tab.wait_for_selector(SETTLED)
    if what == "bench":
        tab.get_by_role("link", name="At the bench").click()
        tab.fill("#batch", "1 kg")
        tab.get_by_role("button", name="What to weigh").click()
        tab.wait_for_selector(".weigh")
        return
    tab.locator("button[data-curve]").first.evaluate("(it) => it.click()")
    tab.wait_for_selector(".along")
    tab.locator("#compare > summary").click()
    tab.wait_for_selector("#compare table")
    tab.locator("#all > summary").click()
    tab.click("#save")
    tab.wait_for_selector("#save-name")


@pytest.mark.parametrize("what", ["start", "survey", "bench", "desk"])
def test_nothing_serious_is_wrong_for_who_cannot_see_and_nothing_is_too_wide(
    browser, home, what
):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    with watched(browser, home) as tab:
        shown(tab, what)
        for width, scheme in LOOKS:
            tab.set_viewport_size({"width": width, "height": 800})
            tab.emulate_media(color_scheme=scheme)
            wide = tab.evaluate("document.documentElement.scrollWidth")
            assert wide <= width
            found = axe.run(tab).response["violations"]
            heavy = [
                (each["id"], each["nodes"][0]["html"][:200])
                for each in found
                if each["impact"] in {"serious", "critical"}
            ]
            assert heavy == [], f"at {width} px, {scheme}"


def test_everything_that_can_be_moved_has_a_name_of_its_own(page):
    nameless = page.evaluate(
        """[...document.querySelectorAll("input, select, button")].filter((it) => !(
             it.getAttribute("aria-label") || it.labels?.length || it.innerText.trim()
           )).map((it) => it.outerHTML)"""
    )
    assert nameless == []
    ids = page.evaluate("[...document.querySelectorAll('[id]')].map((it) => it.id)")
    assert len(ids) == len(set(ids))
