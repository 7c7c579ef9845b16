"""A supplier's limit is not the maker's to move: ways out, and every page, say so."""

import json
import re

import pytest

LIMITS = "catalogues/workshops/demo/limits.csv"
HEAD = "ingredient,whose,use,min_percent,max_percent,of,evidence,source,note\n"
BY = "beeswax,{whose},any,,3,product,supplier,,data sheet\n"
PINNED = 'title = "Pinned"\nextends = "bar.toml"\n[pins]\n"beeswax" = 4\n'
PAST = 'title = "Past it"\nextends = "pinned.toml"\n[eased]\n"{id}" = 4\n'
TOLD = (
    "Over the supplier's limit of 3 %: beeswax 4 % (eased here; only if the supplier"
    " agrees in writing)."
)
SHEET = (
    "ingredient,lots,weighed_grams\ncocoa butter,A1,450\nrefined shea butter,A3,200\n"
    "beeswax,B1,40\nsunflower oil,,310\n"
)


def limited(workspace, whose):
    (workspace / LIMITS).write_text(HEAD + BY.format(whose=whose), encoding="utf-8")
    scenarios = workspace / "scenarios"
    (scenarios / "pinned.toml").write_text(PINNED, encoding="utf-8")
    eased = PAST.format(id=f"{whose}/beeswax/max")
    (scenarios / "past.toml").write_text(eased, encoding="utf-8")
    (workspace / "sheet.csv").write_text(SHEET, encoding="utf-8")
    return workspace


@pytest.fixture
def supplied(workspace):
    """Return a workspace with a recipe that its supplier's limit does not allow."""
    return limited(workspace, "supplier")


def flat(done):
    return " ".join(done.out.split())


def test_a_way_past_a_suppliers_limit_comes_last_and_says_who_must_agree(run, supplied):  # noqa: ARG001
    told = json.loads(run("formulate", "scenarios/pinned.toml", "--json").out)
    eased = [[each["id"] for each in way["ease"]] for way in told["ways_out"]]
    assert eased[0] == ["pin/beeswax"]
    assert ["supplier/beeswax/max"] in eased
    page = flat(run("formulate", "scenarios/pinned.toml"))
    assert (
        "beeswax at most 3 % (the supplier's limit) -> 4 %, only if the supplier agrees"
        " in writing" in page
    )


def test_a_written_way_past_a_suppliers_limit_says_who_must_agree(run, supplied):
    told = json.loads(run("formulate", "scenarios/pinned.toml", "--json").out)
    eased = [[each["id"] for each in way["ease"]] for way in told["ways_out"]]
    way = 1 + eased.index(["supplier/beeswax/max"])
    written = supplied / "scenarios" / "way.toml"
    run("formulate", "scenarios/pinned.toml", "--way", way, "--write", written)
    assert "# It goes past a supplier's limit: only if" in written.read_text("utf-8")


# In the first lines, or below the line on law.
PAGES = {
    "formulate": ("scenarios/past.toml",),
    "formulate in full": ("scenarios/past.toml", "--full"),
    "why": ("scenarios/past.toml",),
    "check": ("sheet.csv", "scenarios/past.toml"),
    "batch": ("scenarios/past.toml",),
    "label": ("scenarios/past.toml",),
    "record": ("batch", "scenarios/past.toml", "sheet.csv", "--made", "2026-11-02"),
}


@pytest.mark.parametrize("page", PAGES)
def test_every_page_of_a_formula_past_a_suppliers_limit_says_so(run, supplied, page):  # noqa: ARG001
    done = run(page.split()[0], *PAGES[page])
    assert done.code == 0, done.err
    assert TOLD in flat(done)
    law = re.search(r"Law, EU.*?\.(?= )", flat(done))
    ahead = flat(done).index(TOLD) - (0 if law is None else law.end())
    assert ahead < 240  # signs


@pytest.mark.parametrize("page", ["formulate", "batch", "record", "check"])
def test_rules_kept_past_a_suppliers_limit_are_kept_as_eased(run, supplied, page):  # noqa: ARG001
    told = flat(run(page.split()[0], *PAGES[page]))
    assert re.search(r"keeps? every rule as eased here", told)


def test_the_book_goes_on_telling_that_a_batch_went_past_a_suppliers_limit(
    run, supplied
):
    assert run("record", *PAGES["record"], "--number", "N1").code == 0
    assert "kept as eased" in flat(run("record", "list"))
    (supplied / LIMITS).unlink()
    (supplied / "scenarios" / "past.toml").write_text(PINNED, encoding="utf-8")
    told = flat(run("record", "show", "N1"))
    assert TOLD in told


def test_what_goes_past_common_practice_needs_no_letter(run, workspace):
    limited(workspace, "practice")
    told = flat(run("formulate", "scenarios/past.toml"))
    assert "Over common practice's limit of 3 %: beeswax 4 % (eased here)." in told
    assert "in writing" not in told


def test_a_formula_within_an_eased_limit_as_it_stood_is_told_as_any(run, supplied):
    eased = PAST.format(id="supplier/beeswax/max").replace("pinned", "bar")
    eased += '[limits]\n"beeswax" = { max = 2.5 }\n'
    (supplied / "scenarios" / "past.toml").write_text(eased, encoding="utf-8")
    told = flat(run("formulate", "scenarios/past.toml"))
    assert "Over the supplier" not in told
    assert "as eased" not in told
