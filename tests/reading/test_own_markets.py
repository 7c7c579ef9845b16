"""Law of a country from the maker's own workshop."""

from datetime import date

HEAD = "market,limit,use,products,max_percent,from,read,instrument,entry,source\n"
SCENARIO = 'title = "Bar"\nproduct = "lip balm"\nworkshop = "demo"\nmarket = ["NZ"]\n'
ROW = "NZ,sorbic acid,any,lip,0.2,2020-01-01,,Group Standard,4,\n"
FOLDER = "catalogues/workshops/demo/markets"


def test_a_countrys_file_is_taken_from_the_makers_own_workshop(desk):
    desk.write(f"{FOLDER}/restricted.csv", HEAD + ROW)
    assert desk.scenario(SCENARIO).markets == ("NZ",)
    (own,) = [x for x in desk.catalogue("demo").substance_limits if x.market == "NZ"]
    # The substances that count to it, and how, are those of the shared limit.
    assert own.factors == {"sorbic acid": 1.0, "potassium sorbate": 0.7464}
    assert (own.scope.products, own.scope.read) == (("lip",), "own")
    assert own.scope.begins == date(2020, 1, 1)


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
    row = "NZ,label,label,any,ingredients on the pack,Group Standard,\n"
    desk.write(f"{FOLDER}/duties.csv", head + row)
    assert desk.scenario(SCENARIO).markets == ("NZ",)
