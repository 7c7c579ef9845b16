"""``optimiser stock`` from the maker's side."""

import json
import re

import pytest

SCENARIO = "scenarios/massage_bar.toml"


def test_units_lots_and_what_runs_out_are_told(run, workspace):  # noqa: ARG001
    told = run("stock", SCENARIO, "--unit", "60 g", "--loss", 3)
    assert told.code == 0
    first = " ".join(" ".join(told.out.splitlines()[:15]).split())
    assert "Within the rules it makes 4.453 kg, 72 units of 60 g, 3 % lost" in first
    assert "41 units of 60 g, 3 % lost; sweet almond oil runs out first" in first
    assert first.index("The base as written makes") < first.index("Within the rules")
    assert re.search(r"3 % lost of a formula [\d.]+ % different", first)
    assert "100 g more lavender oil would make 1.5 kg more" in first
    assert "WHAT TO TAKE, OLDEST LOTS FIRST" in told.out


@pytest.mark.parametrize(
    "command",
    [
        ("stock", SCENARIO),
        ("batch", SCENARIO, "--units", 4, "--net", "60 g"),
        ("buy", SCENARIO, "--units", 4, "--net", "60 g"),
        ("label", SCENARIO),
        ("trials", SCENARIO, "--bars", 1),
        ("formulate", "scenarios/shelf.toml"),
    ],
    ids=lambda command: command[0],
)
def test_invented_lots_are_told_wherever_lots_count(run, workspace, command):
    shelf = 'title = "Shelf"\nextends = "massage_bar.toml"\n[stock]\nonly = true\n'
    (workspace / "scenarios/shelf.toml").write_text(shelf, encoding="utf-8")
    head = " ".join(run(*command).out.split())[:250]
    assert "lots invented" in head
    assert "some lots" not in head
    stock = workspace / "catalogues/workshops/demo/stock.csv"
    text = stock.read_text(encoding="utf-8")
    stock.write_text(text.replace(",invented", ","), encoding="utf-8")
    assert "lots invented" not in run(*command).out


def test_json_and_csv_hold_the_lots(run, workspace):
    told = run("stock", SCENARIO, "--json", "--csv", "take.csv")
    data = json.loads(told.out)
    lines = (workspace / "take.csv").read_text(encoding="utf-8-sig").splitlines()
    assert lines[0] == "ingredient,name,lot,expiry,take_g,left_g"
    assert len(lines) == 1 + len(data["takes"])


def test_too_large_a_unit_needs_attention(run, workspace):  # noqa: ARG001
    told = run("stock", SCENARIO, "--unit", "60 kg")
    assert told.code == 1
    assert "Not one unit: the shelf makes 4.5 kg at most." in told.out


def test_a_unit_without_its_unit_is_told(run, workspace):  # noqa: ARG001
    told = run("stock", SCENARIO, "--unit", "60")
    assert told.code == 1
    assert told.err == (
        "option --unit: '60' is not a number, a space and a unit.\n"
        '  To fix: write "60 g".\n'
    )


def test_a_unit_may_be_typed_without_its_space(run, workspace):  # noqa: ARG001
    spaced = run("stock", SCENARIO, "--unit", "60 g")
    assert run("stock", SCENARIO, "--unit", "60g") == spaced
    assert run("stock", SCENARIO, "--unit", "60xyz").code == 1


@pytest.mark.usefixtures("workspace")
def test_lots_add_up_to_the_grams_of_the_formula(run, monkeypatch):
    monkeypatch.setenv("COLUMNS", "120")
    told = run("stock", SCENARIO, "--unit", "75 g", "--full").out
    lots, formula = told.split("\nFORMULA\n")
    taken = {}
    row_of_lots = r"^  (\S.*?) {2,}\d+\.\d+ +\S+ +(\d+\.\d)"
    for row in re.findall(row_of_lots, lots, flags=re.MULTILINE):
        taken[row[0].strip()] = taken.get(row[0].strip(), 0.0) + float(row[1])
    assert len(taken) > 5
    for name, grams in taken.items():
        row = next(x for x in formula.splitlines() if x.startswith(f"  {name} "))
        shown = re.findall(r"\d+\.\d+", row.split(name)[1])
        assert float(shown[1]) == pytest.approx(grams), name
    assert not re.search(r"  0\.0 +\d+\.\d  ", lots)  # nothing is taken of it


def test_nothing_that_fits_is_a_clash(run, workspace):  # noqa: ARG001
    assert run("stock", "scenarios/lip_balm.toml").code == 3


FEW = """\
ingredient,lot,amount,unit,expiry,note
cocoa butter,A1,1.8,kg,,
beeswax,B7,250,g,,
rapeseed oil,C1,1,kg,2020-01-31,
"""


def test_a_shelf_that_lacks_what_is_asked_for_leads_with_what_and_what_to_do(
    run, workspace
):
    stock = workspace / "catalogues/workshops/demo/stock.csv"
    stock.write_text(FEW, encoding="utf-8")
    told = run("stock", SCENARIO)
    assert told.code == 3
    assert len(told.out.splitlines()) <= 15
    page = " ".join(told.out.split())
    assert (
        "Nothing can be made from the shelf, for what the rules ask for is not on it:"
        " no soft butter, no liquid oil, no lavender oil and no mixed tocopherols."
        " Of the 7 ingredients of the base 2 are there; not there: refined shea butter,"
        " sweet almond oil, cetyl alcohol, mixed tocopherols and lavender oil. Lot C1"
        " of rapeseed oil expired on 2020-01-31 and does not count."
        f" Next: `optimiser buy {SCENARIO}` says which packs to buy for it."
    ) in page
    assert "RULES THAT CANNOT ALL HOLD" not in told.out
    full = run("stock", SCENARIO, "--full").out
    assert " ".join(full.split()).startswith(page.partition(" What you have")[0])
    assert "RULES THAT CANNOT ALL HOLD" in full


def test_what_an_exclusion_keeps_out_is_neither_there_nor_missed(run, workspace):
    stock = workspace / "catalogues/workshops/demo/stock.csv"
    stock.write_text(f"{FEW}sweet almond oil,C2,1,kg,,\n", encoding="utf-8")
    page = " ".join(run("stock", "scenarios/massage_bar_nut_free.toml").out.split())
    assert "no soft butter, no liquid oil, no lavender oil" in page
    assert "Of the 6 ingredients of the base 2 are there" in page


def test_a_clash_that_no_lot_would_mend_is_told_as_one(run, workspace):
    crowded = (
        f'extends = "{SCENARIO.removeprefix("scenarios/")}"\n'
        'title = "Crowded"\n[limits]\n"cocoa butter" = { max = 1 }\n'
        '[exclude]\ningredients = ["sal butter", "illipe butter", "kokum butter"]\n'
    )
    (workspace / "scenarios/crowded.toml").write_text(crowded, encoding="utf-8")
    told = run("stock", "scenarios/crowded.toml")
    assert told.code == 3
    assert "Nothing can be made from the shelf" not in told.out
    assert "RULES THAT CANNOT ALL HOLD" in told.out
    # What formulate would write does not answer the shelf's question.
    assert "WAYS OUT" in told.out
    assert "formulate" not in told.out


def test_a_unit_of_no_product_is_told(run, workspace):  # noqa: ARG001
    for unit in ("1e-300 g", "0.09 g", "-60 g", "1001 kg"):
        told = run("stock", SCENARIO, "--unit", unit)
        assert told.code == 1
        assert "is no weight of one unit" in told.err
        assert "give one from 0.1 g to 1000 kg" in told.err
    assert run("stock", SCENARIO, "--unit", "0.1 g").code == 0


def test_nothing_that_can_be_made_is_told_as_such(run, workspace):
    told = run("stock", SCENARIO, "--unit", "60 kg", "--json", "--csv", "take.csv")
    assert told.code == 1
    data = json.loads(told.out)
    assert (data["status"], data["units"], data["formula"]) == ("nothing", 0, None)
    assert told.err == "take.csv: not written, for nothing can be made.\n"
    assert not (workspace / "take.csv").exists()


def test_a_lot_past_its_date_is_told_where_it_is_missed(run, workspace):
    stock = workspace / "catalogues/workshops/demo/stock.csv"
    rows = stock.read_text(encoding="utf-8").splitlines()
    kept = [each for each in rows if not each.startswith("cocoa_butter,")]
    expired = "cocoa_butter,C9,5,kg,2020-01-31,"
    stock.write_text("\n".join([*kept, expired, ""]), encoding="utf-8")
    told = " ".join(run("stock", SCENARIO).out.split())
    assert "lot C9 of cocoa butter expired on 2020-01-31 and does not count" in (
        told[:1].lower() + told[1:].replace("Lot C9", "lot C9")
    )


def test_what_is_not_on_the_shelf_is_bought_or_not_and_never_to_a_share(run, workspace):
    stock = workspace / "catalogues/workshops/demo/stock.csv"
    rows = stock.read_text(encoding="utf-8").splitlines()
    kept = [each for each in rows if not each.startswith(("beeswax,", "cetyl"))]
    stock.write_text("\n".join([*kept, ""]), encoding="utf-8")
    (workspace / "scenarios/waxy.toml").write_text(
        'title = "Waxy"\nextends = "massage_bar.toml"\n'
        '[limits]\n"beeswax" = { min = 3 }\n[stock]\nonly = true\n',
        encoding="utf-8",
    )
    told = run("formulate", "scenarios/waxy.toml")
    assert told.code == 3
    assert "nothing that is not on the shelf -> dropped" in " ".join(told.out.split())
    assert "-> at most" not in told.out
    way = json.loads(run("formulate", "scenarios/waxy.toml", "--json").out)["ways_out"]
    number = 1 + next(
        n
        for n, each in enumerate(way)
        if [e["id"] for e in each["ease"]] == ["stock/nothing bought"]
    )
    written = "scenarios/bought.toml"
    arguments = ("--way", number, "--write", written)
    assert run("formulate", "scenarios/waxy.toml", *arguments).code == 3
    assert '"stock/nothing bought"' in (workspace / written).read_text(encoding="utf-8")
    assert run("formulate", written).code == 0
