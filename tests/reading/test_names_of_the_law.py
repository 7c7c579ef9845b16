"""An ingredient of one's own that is called what the law calls a substance."""

from datetime import date

import pytest
from msgspec.structs import replace

from optimiser.domain.law import holds
from optimiser.domain.material import Ingredient, Origin
from optimiser.explaining.basis import basis
from optimiser.presenting.notes import law_lines
from optimiser.reading import read_catalogue, shipped_folder
from optimiser.reading.substances import called_as_the_law
from optimiser.rules.build import build
from tests.rules import workbench as wb

INGREDIENTS = "catalogues/workshops/demo/ingredients.csv"
HEAD = "key,name,inci,category,aliases\n"
SCENARIO = """\
title = "Balm"
product = "lip balm"
workshop = "demo"
market = ["EU"]
"""
LIMITS = """\
market,limit,use,max_percent,counted_as,instrument,entry,verified,source,note
EU,verbena essential oil,any,0,substance,Annex II,450,text read,act,
EU,butylphenyl methylpropional,any,0,substance,Annex II,1666,text read,act,
GB,linalool,rinse-off,5,substance,Annex III,84,text read,act,
"""
SUBSTANCES = """\
limit,substance,factor,names,source,note
sorbic acid,sorbic acid,1,,,
sorbic acid,potassium sorbate,0.7464,,,molar masses
verbena essential oil,lippia citriodora oil,1,,,
butylphenyl methylpropional,butylphenyl methylpropional,1,lilial;80-54-6,act,
"""
SHIPPED = read_catalogue(shipped_folder("catalogues"), None)
LAW = [each for each in SHIPPED.substance_limits if each.is_law]


def own(name, *, inci=None, aliases=(), category="powder"):
    return Ingredient("mine", name, inci, category, Origin("x"), aliases=aliases)


def found(*given, contents=None):
    scents = SHIPPED.scent_allergens
    called = called_as_the_law(given, LAW, scents, contents or {})
    return called.surely.get("mine", ()), called.perhaps.get("mine", ())


def names_of(limit):
    for substance in limit.factors:
        yield from (
            (x, substance) for x in (substance, *limit.names.get(substance, ()))
        )


NAMED = sorted({(x, s) for limit in LAW for x, s in names_of(limit)})
WALKED = [each for each in NAMED if not each[0].endswith("?")]
UNSURE = [each for each in NAMED if each[0].endswith("?")]


@pytest.mark.parametrize(("name", "substance"), UNSURE)
def test_a_name_that_may_be_another_thing_s_is_told_and_never_counted(name, substance):
    for given in (own(name.rstrip("?")), own("mine", inci=name.rstrip("?"))):
        assert found(given) == ((), (substance,))


def forms_of(name):
    """Return what a maker may write of a thing that has a name."""
    return (
        own(name, category="scent"),
        own(f"{name.upper()}", category="scent"),
        own("something of mine", inci=name, category="scent"),
        own("something of mine", aliases=("x", name), category="scent"),
    )


@pytest.fixture(scope="module")
def called():
    """Return what each form of each name counts as; all of them are asked at once."""
    given = {
        (name, form): replace(each, key=f"mine{number}.{form}")
        for number, name in enumerate(dict.fromkeys(name for name, _ in WALKED))
        for form, each in enumerate(forms_of(name))
    }
    all_ = called_as_the_law([*given.values()], LAW, SHIPPED.scent_allergens, {})
    return {which: all_.surely.get(each.key, ()) for which, each in given.items()}


@pytest.mark.parametrize(("name", "substance"), WALKED)
def test_every_name_of_what_a_law_limits_counts_as_all_of_it(name, substance, called):
    for form, _ in enumerate(forms_of(name)):
        assert substance in called[name, form]


@pytest.mark.parametrize("limit", sorted({each.name for each in LAW}))
def test_the_name_of_every_limit_counts_toward_it(limit):
    surely, _ = found(own(limit, category="scent"))
    factors = next(each.factors for each in LAW if each.name == limit)
    assert {*surely} & {*factors}


@pytest.mark.parametrize(("name", "substance"), WALKED)
def test_a_name_that_holds_more_words_than_a_limited_one_is_told(name, substance):
    surely, perhaps = found(own(f"northern {name} mixture"))
    assert surely == ()
    told = {x for limit in LAW if {*perhaps} & {*limit.factors} for x in limit.factors}
    assert substance in told


@pytest.mark.parametrize(
    ("name", "category"),
    [
        ("verbena essential oils", "powder"),
        ("Verbena EO", "powder"),
        ("organic verbena oil", "powder"),
        ("verbena", "scent"),
        ("Lippia Citriodora Oil", "scent"),
    ],
)
def test_an_oil_is_the_same_however_one_writes_that_it_is_one(name, category):
    assert found(own(name, category=category))[0] == ("lippia citriodora oil",)


@pytest.mark.parametrize("name", ["lemon verbena oil", "verbana oil", "verbena"])
def test_a_name_nearly_that_of_a_banned_oil_is_told_and_does_not_count(name):
    assert found(own(name)) == ((), ("lippia citriodora oil",))


@pytest.mark.parametrize(
    "name", ["ascorbic acid", "cetyl alcohol", "stearic acid", "lavender wax", "oil"]
)
def test_other_names_are_near_nothing(name):
    assert found(own(name)) == ((), ())


def test_what_the_maker_knows_of_an_ingredient_stands():
    known = {"retinol": {"mine": None}}
    assert found(own("retinol"), contents=known) == ((), ())


def law(desk, row, scenario=SCENARIO):
    desk.write("catalogues/markets/restricted.csv", LIMITS)
    desk.write("catalogues/markets/substances.csv", SUBSTANCES)
    desk.write(INGREDIENTS, HEAD + row)
    return desk.scenario(scenario), desk.catalogue("demo")


@pytest.mark.parametrize(
    "row",
    [
        "mine,verbena essential oil,,scent,\n",
        "mine,Lilial,,powder,\n",
        "mine,my scent,Butylphenyl Methylpropional,scent,\n",
        "mine,my scent,,scent,80-54-6\n",
    ],
)
def test_a_banned_substance_by_its_own_name_is_not_allowed(desk, row):
    asked, catalogue = law(desk, row)
    limits = [
        x
        for x in build(asked, catalogue, ("cocoa_butter", "mine")).rules
        if x.owner == "law"
    ]
    assert [(x.limit, [*x.amounts.coefficients]) for x in limits] == [(0.0, [1.0])]


def test_a_near_name_is_told_with_what_the_law_says_of_it(desk):
    asked, catalogue = law(desk, "mine,lemon verbena oil,,scent,\n")
    page = law_lines(basis({"mine": 1.0}, asked, catalogue))
    wanted = (
        "lemon verbena oil may be verbena essential oil, which EU does not allow:"
        " ask the supplier."
    )
    assert wanted in [each.text for each in page]


# By the law as it is shipped.
@pytest.mark.parametrize(
    ("name", "use", "market", "high"),
    [
        ("polyethylene beads", "rinse-off", "GB", [0.0]),
        ("polyethylene beads", "leave-on", "GB", []),
        ("polyethylene beads", "leave-on", "EU", [0.01]),
        ("PET glitter", "rinse-off", "CA", [0.0]),
        ("PET glitter", "rinse-off", "US", []),
    ],
)
def test_plastic_grains_are_limited_by_name_where_the_law_limits_them(
    name, use, market, high
):
    substances, _ = found(own(name))
    asked = wb.scenario(
        use=use, markets=(market,), product="body scrub", on=date(2026, 11, 26)
    )
    limits = [x for x in LAW if holds(x, asked) and {*x.factors} & {*substances}]
    assert [each.high for each in limits] == high


def test_what_nothing_is_known_of_is_counted_on_the_line_of_the_law(desk):
    asked, catalogue = law(desk, "mine,unicorn powder,,powder,\n")
    found = basis({"mine": 1.0, "cocoa_butter": 99.0}, asked, catalogue)
    assert [each.unknown for each in found.law] == [1]
    told = [each.text for each in law_lines(found)]
    assert "kept but for 1 unknown ingredient, NOT checked" in told[0]
    assert "Not judged: nothing is known of unicorn powder." in told


def test_a_countrys_own_table_may_call_a_substance_by_other_names(desk):
    folder = "catalogues/workshops/demo/markets"
    head = "market,limit,use,max_percent,instrument,entry,source\n"
    desk.write(f"{folder}/restricted.csv", f"{head}NZ,bad stuff,any,0,Own paper,1,\n")
    names = "limit,substance,factor,names\nbad stuff,bad stuff,1,evil powder\n"
    desk.write(f"{folder}/substances.csv", names)
    asked, catalogue = law(
        desk, "mine,Evil Powder,,powder,\n", SCENARIO.replace("EU", "NZ")
    )
    limits = [
        x
        for x in build(asked, catalogue, ("cocoa_butter", "mine")).rules
        if x.owner == "law"
    ]
    assert [x.limit for x in limits] == [0.0]
