"""Law of a country from the maker's own workshop."""

from datetime import date

import pytest

from optimiser.domain.law import strictest
from optimiser.errors import InputError
from optimiser.explaining.basis import basis
from optimiser.presenting.notes import law_line
from optimiser.reading import duties, shipped_folder
from optimiser.reading.duties import shipped_markets
from optimiser.reading.labels import read_label_rules
from optimiser.reading.net_content import read_net_content

HEAD = "market,limit,use,products,max_percent,from,read,instrument,entry,source\n"
SCENARIO = 'title = "Bar"\nproduct = "lip balm"\nworkshop = "demo"\nmarket = ["ZZ"]\n'
ROW = "ZZ,sorbic acid,any,lip,0.2,2020-01-01,,Group Standard,4,\n"
FOLDER = "catalogues/workshops/demo/markets"


def test_a_countrys_file_is_taken_from_the_makers_own_workshop(desk):
    desk.write(f"{FOLDER}/restricted.csv", HEAD + ROW)
    assert desk.scenario(SCENARIO).markets == ("ZZ",)
    (own,) = [x for x in desk.catalogue("demo").substance_limits if x.market == "ZZ"]
    # The substances that count to it, and how, are those of the shared limit.
    assert own.factors == {"sorbic acid": 1.0, "potassium sorbate": 0.7464}
    assert (own.scope.products, own.scope.read) == (("lip",), "own")
    assert own.scope.begins == date(2020, 1, 1)


# The shared row of the EU is 0.6 % sorbic acid for every product.
@pytest.mark.parametrize(("own", "holds"), [(0.2, 0.2), (0.9, 0.6)])
def test_beside_a_row_of_ours_an_own_one_may_tighten_and_never_eases(desk, own, holds):
    row = f"EU,sorbic acid,any,lip,{own},,,Own paper,4,\n"
    desk.write(f"{FOLDER}/restricted.csv", HEAD + row)
    asked = desk.scenario(SCENARIO.replace('"ZZ"', '"EU"'))
    rows = [x for x in desk.catalogue("demo").substance_limits if x.market == "EU"]
    kept = [x for x in strictest(rows) if x.name == "sorbic acid"]
    assert [x.high for x in kept] == [holds]
    (line,) = basis({}, asked, desk.catalogue("demo")).law
    assert line.read["own"] == (own == holds)
    assert ("1 of your own" in law_line(line)) == (own == holds)


def test_a_kind_of_product_that_is_not_known_is_told_with_those_that_are(desk):
    row = ROW.replace(",lip,", ",lipp,")
    desk.write(f"{FOLDER}/restricted.csv", HEAD + row)
    said = desk.said(SCENARIO)
    assert "markets/restricted.csv, row 2, column products: 'lipp'" in said
    assert "the kinds are baby under 3, child 3 to 6, lip," in said


def test_a_limit_that_counts_nothing_is_told(desk):
    row = ROW.replace("sorbic acid", "sorbik acid")
    desk.write(f"{FOLDER}/restricted.csv", HEAD + row)
    assert "has no substance that counts toward it" in desk.said(SCENARIO)


def test_duties_may_come_from_the_workshop_alone(desk):
    head = "market,about,kind,use,text,instrument,source\n"
    row = "ZZ,label,label,any,ingredients on the pack,Group Standard,\n"
    desk.write(f"{FOLDER}/duties.csv", head + row)
    assert desk.scenario(SCENARIO).markets == ("ZZ",)


def test_rules_of_labels_and_of_net_content_come_from_the_workshop_too(desk):
    shipped = shipped_folder("catalogues") / "markets"
    for name in ("labels.csv", "net_content.csv", "sources.csv"):
        text = (shipped / name).read_text(encoding="utf-8")
        desk.write(f"catalogues/markets/{name}", text)
    root = desk.folder / "catalogues"
    shared = read_label_rules(root), read_net_content(root)
    labels = "market,rule,of,value,instrument\n"
    desk.write(
        f"{FOLDER}/labels.csv",
        f"{labels}ZZ,any order,,below 1,Standard\nZZ,word,scent,Fragrance,Standard\n"
        "AU,word,scent,Perfume,own reading\n",
    )
    head = "market,rule,over,up_to,percent,grams,sample,accept,factor,instrument\n"
    desk.write(
        f"{FOLDER}/net_content.csv",
        f"{head}ZZ,tolerance,0,100,,2.5,,,,Act\nAU,tolerance,0,500,10,,,,,own\n",
    )
    rules, content = read_label_rules(root, "demo"), read_net_content(root, "demo")
    assert (rules["ZZ"].scent, rules["ZZ"].reads) == ("Fragrance", ("own", "own"))
    # A row stands in place of that of the same rule; the rest is as it was.
    assert (shared[0]["AU"].scent, rules["AU"].scent) == ("Fragrance", "Perfume")
    assert rules["AU"].flavour == shared[0]["AU"].flavour
    assert rules["EU"] == shared[0]["EU"]
    assert content["ZZ"].tolerance(60.0) == 2.5
    assert content["AU"].tolerance(60.0) == 6.0 != shared[1]["AU"].tolerance(60.0)
    assert content["AU"].samplings == shared[1]["AU"].samplings
    assert content["EU"] == shared[1]["EU"]


def test_a_wrong_row_of_the_workshop_is_told_with_its_file(desk):
    for name in ("labels.csv", "sources.csv"):
        shipped = shipped_folder("catalogues") / "markets" / name
        desk.write(f"catalogues/markets/{name}", shipped.read_text(encoding="utf-8"))
    head = "market,rule,of,value,instrument,source\n"
    desk.write(f"{FOLDER}/labels.csv", f"{head}ZZ,word,smell,Scent,Act,nowhere\n")
    with pytest.raises(InputError) as told:
        read_label_rules(desk.folder / "catalogues", "demo")
    said = str(told.value)
    place = "catalogues/workshops/demo/markets/labels.csv, row 2, column"
    assert f"{place} of: 'smell' is not" in said
    assert f"{place} source: 'nowhere' is not a known source" in said
    assert "has no row 'any order' for ZZ" not in said


def test_a_limit_that_only_begins_later_is_no_law_that_was_checked(desk):
    desk.write(
        f"{FOLDER}/restricted.csv", HEAD + ROW.replace("2020-01-01", "2999-01-01")
    )
    (line,) = basis({}, desk.scenario(SCENARIO), desk.catalogue("demo")).law
    assert line.kept is None
    told = "ZZ: no limit in force yet (1 begins 2999-01-01): NOT checked"
    assert law_line(line) == told


def test_a_market_not_known_is_told_how_to_be_named_all_the_same(desk):
    said = desk.said(SCENARIO)
    assert 'write unchecked = ["ZZ"] too' in said


def test_markets_are_known_by_their_names_and_several_in_one_text(desk):
    text = 'title = "Bar"\nuse = "leave-on"\nworkshop = "demo"\nmarket = ["{}"]\n'
    assert desk.scenario(text.format("EU, United Kingdom")).markets == ("EU", "GB")
    assert desk.scenario(text.format("Germany")).markets == ("EU",)


def test_a_market_comes_with_the_program_by_its_rows_alone(tmp_path, monkeypatch):
    assert shipped_markets()[:2] == ("EU", "GB")
    table = tmp_path / "markets" / "duties.csv"
    table.parent.mkdir()
    monkeypatch.setattr(duties, "shipped_folder", lambda _: tmp_path)
    assert shipped_markets() == ()
    rows = "ZZ,label\nEU,label\nZZ,file\nany,habit\nnowhere,label\n\n"
    table.write_text(f"market,about\n{rows}", encoding="utf-8")
    assert shipped_markets() == ("ZZ", "EU")
    table.write_bytes(b"about\n\xff,\x00\n")
    assert shipped_markets() == ()
