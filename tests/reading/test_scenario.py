"""A scenario: names resolved, defaults filled in, files merged, origins kept."""

import re
from datetime import date

import pytest

from optimiser.domain.kinds.ratios import Ratio
from optimiser.domain.material import CATEGORIES, PARTS, Origin
from optimiser.domain.scenario import Aim, Bound, Choice, Exclusions, Window
from optimiser.errors import InputError
from optimiser.reading import read_scenario, shipped_folder
from optimiser.reading.folders import catalogues_of

SHIPPED = sorted(shipped_folder("scenarios").glob("*.toml"))
HEAD = 'title = "Bar"\nuse = "leave-on"\nworkshop = "demo"\n'


def at(desk, field, name="bar.toml"):
    return Origin(str(desk.folder / name), field=field)


def test_a_short_scenario_has_defaults_for_the_rest(desk):
    scenario = desk.scenario(HEAD)
    assert (scenario.title, scenario.use, scenario.workshop) == (
        "Bar",
        "leave-on",
        "demo",
    )
    assert scenario.file == str(desk.folder / "bar.toml")
    assert scenario.aims == (Aim("cost"),)
    assert scenario.batch_kg == 1.0
    assert scenario.markets == ()
    assert scenario.exclude == Exclusions()
    assert scenario.parts == dict(PARTS)
    assert scenario.only == frozenset()
    assert scenario.lauric_guard is None
    assert scenario.stock_only is None
    assert not scenario.cautious
    assert scenario.origins["use"] == at(desk, "use")


def test_names_of_every_kind_are_resolved(desk):
    scenario = desk.scenario(
        HEAD + '[base]\n"Cacao_Butter" = 40\n"Cera alba" = 10\n"JOJOBA OIL" = 50'
    )
    assert scenario.base == {"cocoa_butter": 40, "beeswax": 10, "jojoba_oil": 50}
    assert scenario.origins["base.beeswax"] == at(desk, "base.Cera alba")


def test_the_base_is_scaled_to_exactly_100(desk):
    scenario = desk.scenario(HEAD + "[base]\nbeeswax = 60.04\ncocoa_butter = 40")
    assert sum(scenario.base.values()) == pytest.approx(100, abs=1e-12)
    assert scenario.base["beeswax"] == pytest.approx(60.04 / 1.0004, rel=1e-12)


def test_nothing_of_an_ingredient_is_not_in_the_base(desk):
    scenario = desk.scenario(HEAD + "[base]\nbeeswax = 100\ncocoa_butter = 0")
    assert scenario.base == {"beeswax": 100.0}


@pytest.mark.parametrize(
    ("size", "kg"), [("2 kg", 2.0), ("750 g", 0.75), ("1 lb", 0.45359237)]
)
def test_the_batch_is_told_in_kg(desk, size, kg):
    scenario = desk.scenario(f'{HEAD}[batch]\nsize = "{size}"')
    assert scenario.batch_kg == pytest.approx(kg, rel=1e-12)


def test_aims_keep_their_order_and_slack(desk):
    text = '[aim]\norder = ["change", "cost"]\nslack = { cost = 0.05 }'
    assert desk.scenario_with(text).aims == (Aim("change"), Aim("cost", 0.05))


def test_without_an_aim_of_cost_no_workshop_is_needed(desk):
    scenario = desk.scenario(
        'title = "a"\nuse = "leave-on"\n[aim]\norder = ["count"]\n[base]\nbeeswax = 100'
    )
    assert scenario.workshop == ""


@pytest.mark.parametrize(
    "text",
    [
        '[aim]\norder = ["change"]',
        '[aim]\norder = ["kind change"]',
        "[closeness]\nby_category = 4",
    ],
)
def test_change_needs_a_base(desk, text):
    what = "needs a base" if "aim" in text else "needs a base to be close to"
    assert f"{what}.\n  To fix: write a [base]" in desk.said(HEAD + text)


def test_exclusions_are_known_by_entry(desk):
    scenario = desk.scenario_with(
        '[exclude]\nallergens = ["Tree nut"]\nreading = "cautious"\nvegan = true\n'
        'palm_free = true\ningredients = ["jojoba oil"]\ncategories = ["surfactant"]'
    )
    found = scenario.exclude
    assert (found.allergens, found.reading) == (("tree nut",), "cautious")
    assert (found.ingredients, found.categories) == (("jojoba_oil",), ("surfactant",))
    assert (found.vegan, found.palm_free) == (True, True)
    assert found.origins["allergens.tree nut"] == at(desk, "exclude.allergens")
    assert found.origins["ingredients.jojoba_oil"] == at(desk, "exclude.ingredients")
    assert found.origins["categories.surfactant"] == at(desk, "exclude.categories")
    assert found.origins["vegan"] == at(desk, "exclude.vegan")


def test_only_keeps_the_base_too(desk):
    scenario = desk.scenario(
        HEAD + '[base]\nbeeswax = 100\n[only]\ningredients = ["jojoba oil"]'
    )
    assert scenario.only == {"beeswax", "jojoba_oil"}


def test_parts_are_told_as_categories_and_keys(desk):
    scenario = desk.scenario_with(
        '[parts]\n"Pourable" = ["butters", "emulsifier", "white wax", "emulsifier"]\n'
        '[bands]\n"pourable" = { max = 60, of = "beeswax" }'
    )
    held = ("hard butter", "soft butter", "emulsifier", "beeswax")
    assert scenario.parts == {**PARTS, "pourable": held}
    (band,) = scenario.bands
    assert (band.what, band.of) == ("pourable", "beeswax")


def test_shares_are_told_with_their_part_reason_and_origin(desk):
    scenario = desk.scenario_with(
        '[bands]\n"Hard butter" = { min = 40, max = 55 }\n'
        '[limits]\n"white wax" = { max = 3, of = "lipids", why = "glassy" }\n'
        '[constituents]\n"Linalool" = { max = 0.1 }\n'
        '[pins]\n"lavender oil" = 1\n'
        "[closeness]\nby_ingredient = 20\nby_kind = 8\n"
        'by_category = { max = 4, why = "label" }'
    )
    assert scenario.bands == (
        Bound("hard butter", 40, 55, "product", None, at(desk, "bands.Hard butter")),
    )
    assert scenario.limits == (
        Bound("beeswax", None, 3, "lipids", "glassy", at(desk, "limits.white wax")),
    )
    assert scenario.constituents == (
        Bound(
            "linalool", None, 0.1, "product", None, at(desk, "constituents.Linalool")
        ),
    )
    assert scenario.pins == (
        Bound("lavender_oil", 1, 1, "product", None, at(desk, "pins.lavender oil")),
    )
    assert scenario.closeness == (
        Bound(
            "ingredient", None, 20, "product", None, at(desk, "closeness.by_ingredient")
        ),
        Bound("kind", None, 8, "product", None, at(desk, "closeness.by_kind")),
        Bound(
            "category", None, 4, "product", "label", at(desk, "closeness.by_category")
        ),
    )


def test_choices_and_least_amounts_are_told(desk):
    scenario = desk.scenario_with(
        '[choices]\n"all" = { at_most = 8 }\n'
        '"soft butter" = { at_least = 1, at_most = 3, why = "feel" }\n'
        '[least_if_used]\ndefault = 0.5\n"white wax" = 1'
    )
    assert scenario.choices == (
        Choice("all", None, 8, None, at(desk, "choices.all")),
        Choice("soft butter", 1, 3, "feel", at(desk, "choices.soft butter")),
    )
    assert scenario.least_if_used == {
        "default": (0.5, at(desk, "least_if_used.default")),
        "beeswax": (1.0, at(desk, "least_if_used.white wax")),
    }


@pytest.mark.parametrize(
    ("text", "ats"),
    [
        ('at = "30 degC"\nmin = 3\nmax = 9', [(30.0, 3, 9)]),
        ('at = "storage"\nmin = 3\nmax = 9', [(25.0, 3, 9)]),
        ('at = "transit"\nmin = 3', [(70.0, 3, None)]),
        ('at = "skin"\nmax = 9', [(32.0, None, 9)]),
        ('at = "skin, hands"\nmax = 9', [(24.0, None, 9)]),
        ('at = "skin"\nmin = 3\nmax = 9', [(35.0, 3, None), (32.0, None, 9)]),
    ],
)
def test_a_window_holds_at_the_harder_end_of_a_range(desk, text, ats):
    scenario = desk.scenario_with(
        f'[climate]\nzone = "II"\n[[windows]]\nproperty = "Solid fat"\n{text}'
    )
    assert [(w.at, w.low, w.high) for w in scenario.windows] == ats
    assert {w.over for w in scenario.windows} == {"lipids"}
    assert {w.origin for w in scenario.windows} == {at(desk, "windows[1]")}
    assert scenario.zone == "II"


def test_a_window_keeps_what_the_maker_wrote(desk):
    scenario = desk.scenario_with(
        '[[windows]]\nproperty = "density"\nover = "hard butter"\nmin = 900\n'
        'why = "it must sink"'
    )
    assert scenario.windows == (
        Window(
            "density",
            None,
            None,
            "hard butter",
            900,
            None,
            "it must sink",
            at(desk, "windows[1]"),
        ),
    )


@pytest.mark.parametrize(
    ("name", "over"),
    [("HLB", "emulsifier"), ("iodine value", "fats"), ("solids load", "product")],
)
def test_a_window_has_a_part_of_its_own_unless_it_names_one(desk, name, over):
    (window,) = desk.scenario_with(f'[[windows]]\nproperty = "{name}"\nmax = 9').windows
    assert window.over == over


def test_a_ratio_counts_ingredients_categories_and_parts(desk):
    scenario = desk.scenario_with(
        '[[ratios]]\nfirst = ["beeswax"]\nsecond = ["butters", "jojoba oil"]\n'
        "min = 0.1\n"
        '[[ratios]]\nname = "r"\nfirst = ["wax"]\nsecond = ["scent"]\nmax = 2'
    )
    second = frozenset({"cocoa_butter", "shea_butter", "jojoba_oil"})
    beeswax = frozenset({"beeswax"})
    assert scenario.others == (
        Ratio(
            "beeswax to butters + jojoba oil",
            beeswax,
            second,
            0.1,
            None,
            None,
            at(desk, "ratios[1]"),
        ),
        Ratio(
            "r",
            beeswax,
            frozenset({"lavender_oil"}),
            None,
            2,
            None,
            at(desk, "ratios[2]"),
        ),
    )


def test_the_guard_may_be_set_or_set_to_false(desk):
    guard = desk.scenario_with("[guard]\nlauric = { max = 12 }").lauric_guard
    assert guard == Bound("lauric", None, 12, "butters", None, at(desk, "guard.lauric"))
    off = desk.scenario_with("[guard]\nlauric = false").lauric_guard
    assert off == Bound("lauric", None, None, "butters", None, at(desk, "guard.lauric"))


@pytest.mark.parametrize(
    ("today", "lots"), [("2026-01-31", ["A1", "A2"]), ("2026-02-01", ["A1"])]
)
def test_lots_that_have_expired_are_not_on_the_shelf(desk, today, lots):
    path = desk.write("bar.toml", f"{HEAD}[stock]\nonly = true\ntoday = {today}")
    scenario, catalogue = read_scenario(path)
    assert [lot.lot for lot in catalogue.stock] == lots
    assert scenario.stock_only == at(desk, "stock.only")


def test_the_shelf_is_looked_at_today_unless_a_day_is_named(desk, monkeypatch):
    class Day(date):
        @classmethod
        def today(cls):
            return cls(2030, 1, 1)

    monkeypatch.setattr("optimiser.reading.disk.date", Day)
    _, catalogue = read_scenario(desk.write("bar.toml", HEAD))
    assert catalogue.stock == ()


def test_a_market_of_the_catalogue_alone_may_be_named(desk):
    desk.table("markets/restricted.csv", "GB", "NZ")
    scenario = desk.scenario(HEAD.replace("use", 'market = ["NZ", "EU", "NZ"]\nuse'))
    assert scenario.markets == ("NZ", "EU")


def test_a_market_without_rows_is_refused_unless_it_is_said_to_be_unchecked(desk):
    asked = HEAD.replace("use", 'market = ["EU", "CA"]\nuse', 1)
    assert "'CA' has no rows in the catalogues, so nothing of its law" in desk.said(
        asked
    )
    known = asked.replace("market", 'unchecked = ["CA"]\nmarket', 1)
    scenario = desk.scenario(known)
    assert (scenario.markets, scenario.unchecked) == (("EU", "CA"), ("CA",))
    vain = HEAD.replace("use", 'unchecked = ["CA"]\nuse', 1)
    assert "'CA' is not among the markets" in desk.said(vain)


def test_the_use_follows_from_the_product(desk):
    told = re.sub(r"(?m)^use .*$", 'product = "lip balm"', HEAD)
    scenario = desk.scenario(told)
    assert (scenario.use, scenario.product_kinds) == ("leave-on", ("lip",))
    unclear = told.replace("lip balm", "cube")
    assert "'cube' does not tell whether it stays on the skin" in desk.said(unclear)


def test_the_day_whose_law_counts_may_be_written(desk):
    scenario = desk.scenario(HEAD.replace("use", "on = 2027-02-01\nuse", 1))
    assert scenario.day == date(2027, 2, 1)
    assert desk.scenario(HEAD).day == date.today()


def test_an_envelope_is_read_beside_the_file_that_names_it(desk):
    desk.write(
        "base/env.toml",
        'title = "Assessed"\n[[lists]]\nname = "fats"\nmin = 90\n'
        'caps = { "cacao butter" = 100, beeswax = 25 }',
    )
    desk.write("base/massage.toml", HEAD + '[envelope]\nfile = "env.toml"')
    envelope = desk.scenario('extends = "base/massage.toml"').envelope
    assert (envelope.title, envelope.origin) == ("Assessed", Origin("base/env.toml"))
    (fats,) = envelope.lists
    assert (fats.name, fats.low, fats.high) == ("fats", 90, None)
    assert fats.caps == {"cocoa_butter": 100, "beeswax": 25}
    assert fats.origin == Origin("base/env.toml", field="lists[1]")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            'title = "a"\nlists = []',
            "env.toml: has no lists.\n  To fix: write at least one [[lists]].",
        ),
        (
            'title = "a"\n[[lists]]\nname = "f"\nmin = 9\nmax = 4\ncaps = {}',
            "env.toml, key lists[1]: has min 9 above max 4.\n"
            "  To fix: correct one of the two.",
        ),
        (
            'title = "a"\n[[lists]]\nname = "f"\ncaps = { bee = 1, beeswax = 200 }',
            "env.toml, key lists[1].caps.bee: 'bee' is not a known ingredient; "
            "the nearest known name is beeswax.\n  To fix: correct the name, or add "
            "the ingredient to ingredients.csv.\n"
            "env.toml, key lists[1].caps.beeswax: '200' is more than 100 percent.\n"
            "  To fix: write a percentage from 0 to 100.",
        ),
        (
            'title = "a"\n[[lists]]\nname = "f"\n'
            'caps = { beeswax = 1, "Cera alba" = 2 }',
            "env.toml, key lists[1].caps.Cera alba: 'Cera alba' is on this list "
            "twice.\n  To fix: keep one cap.",
        ),
        (
            'titel = "a"\nlists = [{ name = "f", caps = 3 }]',
            "env.toml, key title: is missing.\n  To fix: write title = ... here.\n"
            "env.toml, key lists[1].caps: '3' is a number, not a table.\n"
            "  To fix: write [lists[1].caps] and, below it, its keys.\n"
            "env.toml, key titel: is not a known key; the nearest known name is title."
            "\n  To fix: the keys here are title, lists.",
        ),
        (
            "title\n",
            "env.toml: line 1 is not written as TOML (expected '=' after a key in a "
            "key/value pair).\n  To fix: write one name = value a line, with text in "
            "quotes.",
        ),
    ],
)
def test_slips_in_an_envelope_are_told(desk, text, said):
    desk.write("env.toml", text)
    assert desk.said(HEAD + '[envelope]\nfile = "env.toml"') == said


@pytest.mark.parametrize(
    ("name", "why"),
    [("a\\u0000b", "embedded null byte"), ("a" * 300, "file name too long")],
)
def test_an_envelope_of_an_impossible_name_is_told(desk, name, why):
    told = desk.said(f'{HEAD}[envelope]\nfile = "{name}"')
    shown = name.replace("\\u0000", "\0")
    assert told == (
        f"bar.toml, key envelope.file: '{shown}' cannot be read ({why}).\n"
        "  To fix: check the name of the file."
    )


def test_catalogues_are_looked_for_upwards_and_else_the_shipped_ones_serve(
    desk, tmp_path_factory
):
    deep = desk.folder / "a" / "b" / "bar.toml"
    assert catalogues_of(deep) == desk.folder.resolve() / "catalogues"
    elsewhere = tmp_path_factory.mktemp("elsewhere") / "bar.toml"
    assert catalogues_of(elsewhere) == shipped_folder("catalogues")


def test_a_scenario_that_is_not_there_is_told(desk):
    desk.write("bar.toml", "")
    with pytest.raises(InputError) as caught:
        read_scenario(desk.folder / "baar.toml")
    assert str(caught.value) == (
        f"{desk.folder}/baar.toml: is not there.\n"
        "  To fix: correct the name; the nearest file there is bar.toml."
    )


def test_every_category_is_a_part(desk):
    names = ", ".join(f'"{category}" = {{ max = 90 }}' for category in CATEGORIES)
    scenario = desk.scenario(f"bands = {{ {names} }}\n{HEAD}")
    assert [band.what for band in scenario.bands] == list(CATEGORIES)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_each_shipped_scenario_is_read_without_problems(path):
    scenario, catalogue = read_scenario(path)
    assert scenario.title
    assert scenario.use in {"leave-on", "rinse-off"}
    assert set(scenario.base) <= set(catalogue.ingredients)


def test_there_are_shipped_scenarios():
    assert "massage_bar" in [path.stem for path in SHIPPED]


def test_the_wax_guard_and_the_second_opinion_may_be_set(desk):
    plain = desk.scenario_with("")
    assert (plain.second_opinion, plain.margin, plain.wax_guard) == (True, None, None)
    guarded = desk.scenario_with("[guard]\nwax = { max = 20 }").wax_guard
    assert guarded == Bound("wax", None, 20, "lipids", None, at(desk, "guard.wax"))
    off = desk.scenario_with("[guard]\nsecond_opinion = false")
    assert off.second_opinion is False
    assert off.margin == at(desk, "guard.second_opinion")  # margins stand in for it
    bare = desk.scenario_with("[guard]\nsecond_opinion = false\nmargin = false")
    assert (bare.second_opinion, bare.margin) == (False, None)
    both = desk.scenario_with("[guard]\nmargin = true")
    assert (both.second_opinion, both.margin) == (True, at(desk, "guard.margin"))


def test_totals_of_emulsifiers_are_read_once_each(desk):
    text = "[emulsifiers]\ntotal = [10, 12, 10]\nwithin = 0.2"
    asked = desk.scenario_with(text).emulsify
    assert (asked.totals, asked.within) == ((10, 12), 0.2)
    assert asked.origin == at(desk, "emulsifiers.total")
