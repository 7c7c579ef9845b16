"""``optimiser record`` and ``trace`` from the maker's side."""

import csv
import json
import shutil
from datetime import date, timedelta

import pytest

from optimiser.reading import read_scenario

SHEET = """\
stage,ingredient,name,grams,lots,weighed_grams
melt,cocoa butter,,450,A1,451.2
melt,refined shea butter,,200,"A2 150 g, A3 50 g",199.5
melt,beeswax,,40,b1,40.1
melt,sunflower oil,,310,,309.8
"""
SCENARIO = "scenarios/bar.toml"
BOOK = "catalogues/workshops/demo/records.sqlite"
STOCK = "catalogues/workshops/demo/stock.csv"
DAY = ("--made", "2026-11-02", "--number", "N1")


@pytest.fixture
def bench(run, workspace):
    """Return what runs commands in a workspace with a filled-in sheet."""
    (workspace / "sheet.csv").write_text(SHEET, encoding="utf-8")
    weights = "unit,net\n" + "".join(f"{x},{60 + x / 10}\n" for x in range(1, 5))
    (workspace / "weights.csv").write_text(weights, encoding="utf-8")

    def call(*arguments, code=0):
        done = run(*arguments)
        assert done.code == code, done.out + done.err
        if "--json" in arguments:
            return json.loads(done.out)
        return " ".join((done.out + done.err).split())

    return call


@pytest.fixture
def recorded(bench, prepared, workspace):
    asked = (
        "record", "batch", SCENARIO, "sheet.csv", *DAY, "--units", 16, "--net", "60 g",
        "--yield", "985 g", "--temperature", "melt=78 degC", "--note", "a little lumpy",
    )  # fmt: skip
    prepared(workspace, asked, lambda: bench(*asked))
    return bench


def rows(path):
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_a_batch_is_recorded_with_its_lots_and_held_against_the_rules(bench):
    told = bench("record", "batch", SCENARIO, "sheet.csv", "--made", "2026-11-02")
    assert "Recorded: entries 1 to 6. Batch 2026-11-02-1: Plain massage bar" in told
    assert "As made it keeps every rule" in told
    assert "no lot is written for sunflower oil" in told
    found = bench("record", "show", "2026-11-02-1", "--json")
    lots = [(x["ingredient"], x["lot"], x["grams"]) for x in found["weighed"]]
    assert lots == [
        ("cocoa_butter", "A1", 451.2),
        ("shea_butter", "A2", 150.0),
        ("shea_butter", "A3", 49.5),  # the last takes what was weighed besides
        ("beeswax", "B1", 40.1),  # as stock.csv writes it
        ("sunflower_oil", "", 309.8),
    ]
    percents = {x["ingredient"]: x["percent"] for x in found["formula"]}
    assert percents["cocoa_butter"] == pytest.approx(100 * 451.2 / 1000.6)
    assert sum(percents.values()) == pytest.approx(100)


UNTOLD = "neither in stock.csv nor in an earlier batch: lot S7 of sunflower oil"


def test_a_lot_that_nothing_tells_of_is_asked_to_be_compared_with_the_pack(
    bench, workspace
):
    sheet = workspace / "sheet.csv"
    sheet.write_text(SHEET.replace("310,,", "310,S7,"))
    first = bench("record", "batch", SCENARIO, "sheet.csv", *DAY)
    assert (
        f"{UNTOLD}. A slip here is missed in a recall: compare with the pack" in first
    )
    again = bench("record", "batch", SCENARIO, "sheet.csv", "--number", "N2")
    assert "neither in stock.csv" not in again  # the book knows it by now
    assert UNTOLD in bench("record", "show", "N1")
    stock = workspace / STOCK
    rows = stock.read_text().rstrip("\n")
    columns = rows.splitlines()[0].split(",")
    row = {"ingredient": "sunflower oil", "lot": "s7", "amount": "5", "unit": "kg"}
    stock.write_text(rows + "\n" + ",".join(row.get(x, "") for x in columns) + "\n")
    assert "neither in stock.csv" not in bench("record", "show", "N1")


@pytest.mark.parametrize(
    ("option", "said"),
    [
        ("--checked", "A\x1b[31mB"),
        ("--checked", "A\u202eB"),
        ("--by", "A\x07"),
        ("--note", "x\x00y"),
        ("--temperature", "me\u200elt=78 degC"),
        ("--checked", "x" * 2001),
    ],
)
def test_what_is_no_writing_is_not_recorded(bench, workspace, option, said):
    told = bench("record", "batch", SCENARIO, "sheet.csv", *DAY, option, said, code=1)
    assert f"{option}: " in told
    assert not (workspace / BOOK).exists()
    bench("record", "batch", SCENARIO, "sheet.csv", *DAY, "--checked", "Zoë")
    why = said.partition("=")[0]
    told = bench("record", "correct", 1, "--to", "N2", "--why", why, code=1)
    assert "--why: " in told


def test_what_was_weighed_wrong_breaks_the_rules_and_is_recorded(bench, workspace):
    text = SHEET.replace(",40.1", ",140.1")
    (workspace / "sheet.csv").write_text(text, encoding="utf-8")
    told = bench("record", "batch", SCENARIO, "sheet.csv", *DAY)
    assert "Recorded:" in told
    assert "As made it breaks 1 rule of" in told
    assert "wax at most 8 % now 12.73 %, out by 4.729 points" in told
    assert "beeswax: 140.1 g was weighed, 40.0 g was planned" in told
    assert "broke 1" in bench("record", "list")
    found = bench("record", "show", "N1", "--json")
    assert found["check"]["status"] == "broken"
    assert found["broken_when_recorded"] == ["wax at most 8 %"]
    bench("record", "correct", 5, "--to", "40.1 g", "--why", "a slip")
    assert bench("record", "show", "N1", "--json")["check"]["status"] == "kept"


def test_what_todays_rules_say_of_a_batch_stands_apart_from_what_was_kept(
    recorded, workspace
):
    with (workspace / SCENARIO).open("a", encoding="utf-8") as file:
        file.write('\n[limits]\n"beeswax" = { max = 3 }\n')
    told = recorded("record", "show", "N1")
    assert "When it was recorded it broke no rule." in told
    assert "By its rules as they are today it breaks 1 rule of" in told
    assert "As made" not in told
    assert "beeswax at most 3 % now" in told
    assert "broke" not in recorded("record", "list")
    recorded("record", "correct", 5, "--to", "40.2 g", "--why", "a slip")
    told = recorded("record", "show", "N1")
    assert "When it was recorded (a weight was corrected since) it broke no" in told


PIN = '\n[pins]\n"beeswax" = 4\n'
SCALE = '[scale]\nreadability = "{}"\n'
FINE = '[fine_scale]\nreadability = "0.01 g"\nsmallest = "0.2 g"\nmost = "200 g"\n'


@pytest.fixture
def scales(workspace):
    """Return what writes the scales of the workspace."""

    def put(step, fine=""):
        file = workspace / "catalogues/workshops/demo/scale.toml"
        file.write_text(SCALE.format(step) + fine, encoding="utf-8")

    return put


@pytest.mark.parametrize(
    ("fine", "weighed", "kept"),
    [("", 5.0, True), (FINE, 5.0, False), (FINE, 4.015, True), (FINE, 4.03, False)],
)
def test_a_small_line_is_held_to_the_step_of_the_scale_that_it_is_weighed_on(
    bench, workspace, scales, fine, weighed, kept
):
    scales("1 g", fine)
    with (workspace / SCENARIO).open("a", encoding="utf-8") as file:
        file.write(PIN)
    rows = f"cocoa butter,A1,45\nrefined shea butter,A3,20\nbeeswax,B1,{weighed}\n"
    (workspace / "sheet.csv").write_text(
        f"ingredient,lots,weighed_grams\n{rows}sunflower oil,,{35 - weighed}\n",
        encoding="utf-8",
    )
    code = 0 if kept else 1
    told = bench("check", "sheet.csv", SCENARIO, code=code)
    assert ("which is within the scale's step" in told) is kept
    told = bench("record", "batch", SCENARIO, "sheet.csv", *DAY)
    assert ("As made it keeps every rule" in told) is kept
    seen = bench("record", "show", "N1", "--json")["check"]["status"]
    assert seen == ("kept" if kept else "broken")


def test_the_label_of_a_batch_says_first_which_rules_it_breaks_as_weighed(
    bench, workspace, scales
):
    scales("1 g", FINE)
    plain = (workspace / SCENARIO).read_text(encoding="utf-8")
    (workspace / SCENARIO).write_text(plain + PIN, encoding="utf-8")
    text = SHEET.replace(",40.1", ",60.1")
    (workspace / "sheet.csv").write_text(text, encoding="utf-8")
    bench("record", "batch", SCENARIO, "sheet.csv", *DAY)
    for of in (("--lot", "N1"), ("--formula", "sheet.csv")):
        told = bench("label", SCENARIO, *of)
        at = told.index("As weighed it breaks 1 rule: beeswax exactly 4 %")
        assert at < told.index("ON THE LABEL")
        data = bench("label", SCENARIO, *of, "--json")
        assert data["broken"] == ["beeswax exactly 4 %"]
        assert data["broken_when_recorded"] == []
    (workspace / SCENARIO).write_text(plain, encoding="utf-8")
    told = bench("label", SCENARIO, "--lot", "N1")
    assert "As weighed it breaks" not in told
    once = "When it was recorded it broke, and by its rules of today keeps, 1 rule: "
    assert f"{once}beeswax exactly 4 %" in told


def test_what_the_fine_scale_does_not_bear_is_held_to_the_other_s_step(
    bench, workspace, scales
):
    scales("1 g", FINE)
    with (workspace / SCENARIO).open("a", encoding="utf-8") as file:
        file.write('\n[pins]\n"cocoa butter" = 45\n')
    text = SHEET.replace("451.2", "450.8").replace("309.8", "309.6")
    (workspace / "sheet.csv").write_text(text, encoding="utf-8")
    told = bench("record", "batch", SCENARIO, "sheet.csv", *DAY)
    assert "exactly 45 %: now 45.08 %, which is within the scale's step" in told


def test_a_pin_missed_by_less_than_the_scale_shows_is_no_rule_broken(
    bench, workspace, scales
):
    scales("0.1 g")
    with (workspace / SCENARIO).open("a", encoding="utf-8") as file:
        file.write(PIN)
    small = "ingredient,lots,weighed_grams\n"
    small += "cocoa butter,A1,45.1\nrefined shea butter,A3,20.0\n"
    (workspace / "sheet.csv").write_text(
        f"{small}beeswax,B1,4.05\nsunflower oil,,31.0\n", encoding="utf-8"
    )
    told = bench("record", "batch", SCENARIO, "sheet.csv", *DAY)
    assert "As made it keeps every rule" in told
    assert "now 4.044 %, which is within the scale's step" in told
    assert "broke" not in bench("record", "list")
    assert bench("record", "show", "N1", "--json")["check"]["status"] == "kept"


@pytest.mark.parametrize("pinned", ["", PIN])
@pytest.mark.parametrize(("weighed", "kept"), [("3.95", True), ("3.75", False)])
def test_a_least_dose_is_kept_to_what_the_scale_shows(
    bench, workspace, scales, pinned, weighed, kept
):
    scales("0.1 g")
    with (workspace / SCENARIO).open("a", encoding="utf-8") as file:
        file.write(f'{pinned}\n[least_if_used]\n"beeswax" = 4\n')
    small = "ingredient,lots,weighed_grams\n"
    small += "cocoa butter,A1,45.1\nrefined shea butter,A3,20.0\n"
    (workspace / "sheet.csv").write_text(
        f"{small}beeswax,B1,{weighed}\nsunflower oil,,31.0\n", encoding="utf-8"
    )
    told = bench("record", "batch", SCENARIO, "sheet.csv", *DAY)
    assert ("As made it keeps every rule" in told) is kept
    within = "beeswax at least 4 % if used: now 3.948 %, which is within the scale's"
    assert (within in told) is kept
    status = bench("record", "show", "N1", "--json")["check"]["status"]
    assert status == ("kept" if kept else "broken")


@pytest.mark.parametrize(("weighed", "kept"), [(40.14, True), (40.17, False)])
def test_a_step_of_the_scale_counts_beside_the_digit_of_the_formula(
    bench, workspace, scales, weighed, kept
):
    scales("0.1 g")
    with (workspace / SCENARIO).open("a", encoding="utf-8") as file:
        file.write(PIN)
    # Of 1 kg a step of 0.1 g is 0.01 %, and a pin is written to 0.005 % either way.
    sheet = "ingredient,lots,weighed_grams\ncocoa butter,A1,450\n"
    sheet += f"refined shea butter,A3,200\nbeeswax,B1,{weighed}\n"
    sheet += f"sunflower oil,,{350 - weighed:.2f}\n"
    (workspace / "sheet.csv").write_text(sheet, encoding="utf-8")
    told = bench("record", "batch", SCENARIO, "sheet.csv", *DAY)
    assert ("As made it keeps every rule" in told) is kept
    assert ("which is within the scale's step" in told) is kept


def test_a_pin_missed_by_more_than_the_scale_shows_is_a_rule_broken(
    bench, workspace, scales
):
    scales("0.1 g")
    with (workspace / SCENARIO).open("a", encoding="utf-8") as file:
        file.write(PIN)
    text = SHEET.replace(",40.1", ",40.3")  # of a kilo 0.1 g is 0.01 %
    (workspace / "sheet.csv").write_text(text, encoding="utf-8")
    told = bench("record", "batch", SCENARIO, "sheet.csv", *DAY)
    assert "As made it breaks 1 rule of" in told
    assert "within the scale" not in told


def test_lines_that_were_left_out_are_named_at_the_top(bench, workspace):
    text = "ingredient,lots,weighed_grams\nbeeswax,B1,35\ncocoa butter,A1,2762\n"
    (workspace / "sheet.csv").write_text(text, encoding="utf-8")
    told = bench(
        "record", "batch", SCENARIO, "sheet.csv", *DAY, "--units", 30, "--net", "5 g"
    )
    missing = "nothing was weighed of refined shea butter and sunflower oil, which the"
    assert missing in told
    much = "2797.0 g was weighed, 19 times what 30 units of 5.0 g hold (150.0 g)"
    assert much in told
    assert told.index(missing) < told.index(much) < told.index("As made it")
    mind = bench("record", "show", "N1", "--json")["mind"]
    assert missing in mind[0]
    assert much in mind[1]


def test_units_without_a_net_weight_are_told_with_what_went_in_for_each(bench):
    told = bench("record", "batch", SCENARIO, "sheet.csv", *DAY, "--units", 10)
    assert "filled: 10 units; 100.06 g went in for each" in told


def test_a_list_tells_that_a_weight_was_put_right_since(recorded):
    assert "corrected" not in recorded("record", "list")
    entries = recorded("record", "show", "N1", "--json")["entries"]
    of = {each["fact"]["type"]: each["entry"] for each in entries}
    recorded("record", "correct", of["note"], "--to", "a bit lumpy")
    assert "corrected" not in recorded("record", "list")
    recorded("record", "correct", of["weighed"], "--to", "310 g", "--why", "a slip")
    assert "corrected" in recorded("record", "list")


def test_what_is_added_later_does_not_show_the_whole_sheet_again(recorded):
    assert "WEIGHED" in recorded("record", "show", "N1")
    added = (
        ("weights", "N1", "weights.csv"),
        ("verdict", "N1", "right", "--room", "22 degC"),
        ("add", "N1", "--note", "sold"),
        ("correct", 2, "--to", "452 g"),
    )
    for each in added:
        told = recorded("record", *each)
        assert told.startswith("Recorded: entr")
        assert "keeps every rule" in told
        assert "WEIGHED" not in told
    assert "WEIGHED" in recorded("record", "add", "N1", "--note", "more", "--full")


def test_the_label_of_a_recorded_batch_is_of_what_went_into_it(recorded, workspace):
    other = (workspace / SCENARIO).read_text(encoding="utf-8")
    (workspace / "scenarios/other.toml").write_text(other, encoding="utf-8")
    label = ("label", SCENARIO, "--json", "--lot")
    told = recorded(*label, "n1")
    shares = {x["of"][0]: x["percent"] for x in told["labels"][0]["entries"]}
    assert shares["cocoa butter"] == pytest.approx(100 * 451.2 / 1000.6)
    assert told["batch"] == "N1"
    assert told["labels"][0]["made"] == "2026-11-02"
    # A3 went in, of which the shelf is to be used first; C1 is no lot of this batch.
    assert told["keeping"]["until"] == "2027-02-28"
    assert set(told["keeping"]["unknown"]) == {"beeswax", "sunflower oil"}
    assert "as batch N1 was made" in recorded(*label[:2], "--lot", "N1")
    assert recorded(*label, "N2")["batch"] is None
    of_other = recorded("label", "scenarios/other.toml", "--json", "--lot", "N1")
    assert of_other["batch"] is None


def test_a_label_of_a_batch_recorded_without_lots_says_that_and_how_to_tell_them(
    bench, workspace
):
    sheet = "ingredient,weighed_grams\ncocoa butter,451\nrefined shea butter,199\n"
    sheet += "beeswax,40\nsunflower oil,310\n"
    (workspace / "sheet.csv").write_text(sheet, encoding="utf-8")
    bench("record", "batch", SCENARIO, "sheet.csv", *DAY)
    label = ("label", SCENARIO, "--lot", "N1")
    told = bench(*label)
    assert (
        "Batch N1 was recorded without lots for cocoa butter, refined shea butter,"
        " beeswax and sunflower oil, so none of theirs tells a date. `optimiser record"
        " show N1 --full` has the entries, `optimiser record correct ENTRY --lot LOT`"
        " writes one; or leave --lot out."
    ) in told
    assert "none is known of" not in told
    assert "No lot on the shelf" not in told
    entries = bench("record", "show", "N1", "--json")["entries"]
    cocoa = next(x["entry"] for x in entries if "cocoa" in json.dumps(x))
    bench("record", "correct", cocoa, "--lot", "A1", "--why", "from the pack")
    told = bench(*label)
    assert "without lots for refined shea butter, beeswax and sunflower oil" in told
    assert "recorded without lots" not in bench(*label[:2])


def test_a_usual_batch_is_not_asked_to_be_looked_at_again(recorded):
    told = recorded("record", "show", "N1")
    assert "LOOK AGAIN" not in told
    assert "times what" not in told


def test_a_batch_cannot_have_the_name_of_a_lot(bench):
    told = bench("record", "batch", SCENARIO, "sheet.csv", "--number", "b1", code=1)
    assert "--number" in told
    assert "is a lot of beeswax: a trace could not tell them apart" in told
    assert "0 batches recorded" in bench("record", "list")


def test_what_was_made_came_off_the_shelf(bench, workspace):
    more = "\n[stock]\nonly = true\n"
    text = (workspace / SCENARIO).read_text(encoding="utf-8") + more
    (workspace / SCENARIO).write_text(text, encoding="utf-8")
    # Nothing on the shelf is called sunflower oil, and yet it was weighed in.
    told = bench("record", "batch", SCENARIO, "sheet.csv", *DAY)
    assert "As made it keeps every rule" in told


def test_the_sheet_of_batch_is_recorded_as_it_comes_once_it_is_filled_in(
    bench, workspace
):
    bench("batch", SCENARIO, "--batch", "1 kg", "--csv", "weigh.csv")
    told = bench("record", "batch", SCENARIO, "weigh.csv", code=1)
    assert "weigh.csv, key weighed_grams: is not filled in" in told
    lines = rows(workspace / "weigh.csv")
    with (workspace / "weigh.csv").open("w", encoding="utf-8", newline="") as file:
        out = csv.DictWriter(file, lines[0].keys())
        out.writeheader()
        out.writerows({**x, "weighed_grams": x["grams"]} for x in lines)
    assert "keeps every rule" in bench("record", "batch", SCENARIO, "weigh.csv")


def test_everything_wrong_is_told_at_once_and_nothing_is_kept(bench, workspace):
    text = (
        "ingredient,lots,weighed_grams\ncocoa buter,A1,451\nbeeswax,,\n"
        'shea butter,"A2, A3","1,995"\nsunflower oil,____,310 ml\nbeeswax,B1,-4\n'
    )
    (workspace / "sheet.csv").write_text(text, encoding="utf-8")
    told = bench(
        "record", "batch", SCENARIO, "sheet.csv", "--yield", "much", "--net", "60 g",
        "--temperature", "78", "--made", "2.11.2026", code=1,
    )  # fmt: skip
    for part in (
        "sheet.csv, row 2, column ingredient: 'cocoa buter' is no ingredient",
        "row 3, column weighed_grams: is blank",
        "row 4, column weighed_grams: '1,995' is not a number",
        "row 4, column lots: 'A2, A3' names several lots, and not how much of each",
        "row 5, column weighed_grams: '310 ml' is not an amount",
        "row 5, column lots: '____' is not filled in",
        "row 6, column weighed_grams: '-4' is not between 0",
        "option --temperature: '78' names no stage",
        "option --yield: 'much'",
        "option --net: tells of units",
        "option --made: '2.11.2026' is not a date",
    ):
        assert part in told
    assert not (workspace / BOOK).exists()


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        (
            "ingredient,lots,weighed_grams\nbeeswax,B7,40\n",
            "sheet.csv, key lots: 'B7' is no lot of beeswax",
        ),
        (
            'ingredient,lots,weighed_grams\nbeeswax,"B1 50 g, B9",40\n',
            "has more in its",
        ),
        ("ingredient,lots,weighed_grams\nbeeswax,B1,4\nbeeswax,B1,5\n", "in row 2 alr"),
        ("ingredient,lots,weighed_grams\nbeeswax,B1,0\n", "holds nothing that was"),
        ("ingredient,weighed\nbeeswax,4\n", "column weighed: is not a known column"),
        ("", "is empty"),
    ],
)
def test_a_sheet_that_cannot_be_right_is_refused(bench, workspace, text, wrong):
    (workspace / "sheet.csv").write_text(text, encoding="utf-8")
    assert wrong in bench("record", "batch", SCENARIO, "sheet.csv", code=1)
    assert not (workspace / BOOK).exists()


def test_more_does_not_come_out_than_went_in(bench):
    told = bench("record", "batch", SCENARIO, "sheet.csv", "--yield", "1.1 kg", code=1)
    assert "'1100 g' is more than the 1000.6 g that went in" in told


def test_the_same_sheet_is_not_recorded_twice_by_mistake(bench):
    bench("record", "batch", SCENARIO, "sheet.csv")
    told = bench("record", "batch", SCENARIO, "sheet.csv", code=1)
    assert f"is recorded already, as {date.today()}-1" in told
    bench("record", "batch", SCENARIO, "sheet.csv", "--number", "again")
    told = bench("record", "batch", SCENARIO, "sheet.csv", "--number", "Again", code=1)
    assert "'Again' is the number of another batch" in told
    told = bench("record", "batch", SCENARIO, "sheet.csv", "--number", "a/1", code=1)
    assert "parts a batch from its unit" in told


def test_a_batch_of_tomorrow_is_not_recorded(bench):
    day = str(date.today() + timedelta(days=1))
    told = bench("record", "batch", SCENARIO, "sheet.csv", "--made", day, code=1)
    assert f"'{day}' is a day to come" in told


def test_what_batches_used_is_not_on_the_shelf_any_more(recorded, workspace):
    def left():
        _, catalogue = read_scenario(SCENARIO)
        lots = catalogue.stock
        return {(x.ingredient, x.lot): round(1000 * x.amount, 1) for x in lots}

    shelf = (workspace / STOCK).read_text(encoding="utf-8")
    shelf += (
        "sunflower_oil,S1,200,g,2027-01-31,invented\nsunflower_oil,S2,1,kg,,invented\n"
    )
    (workspace / STOCK).write_text(shelf, encoding="utf-8")
    now = left()
    assert now["cocoa_butter", "A1"] == 1348.8
    assert now["shea_butter", "A3"] == 850.5
    # Of a lot that was not written: the first to expire is empty, and then the next.
    assert ("sunflower_oil", "S1") not in now
    assert now["sunflower_oil", "S2"] == 890.2
    counted = shelf.replace("expiry,evidence", "expiry,counted,evidence").replace(
        ",invented", ",2026-11-02,invented"
    )
    (workspace / STOCK).write_text(counted, encoding="utf-8")
    assert left()["cocoa_butter", "A1"] == 1800.0  # counted when it was made already
    (workspace / STOCK).write_text(
        counted.replace(",2026-11-02,", ",2026-11-01,"), encoding="utf-8"
    )
    assert left()["cocoa_butter", "A1"] == 1348.8
    (workspace / STOCK).write_text(shelf, encoding="utf-8")
    recorded("record", "correct", 1, "--withdraw", "--why", "never made")
    assert left()["cocoa_butter", "A1"] == 1800.0


def test_a_lot_that_gave_more_than_it_held_is_told(recorded, workspace):
    shelf = (workspace / STOCK).read_text(encoding="utf-8")
    few = shelf.replace("A1,1.8,kg", "A1,0.4,kg")
    (workspace / STOCK).write_text(few, encoding="utf-8")
    told = recorded("record", "show", "N1")
    assert "lot A1 of cocoa butter: batches took 51.2 g more than stock.csv" in told
    assert "0.4 kg in stock.csv, 0 kg left" in recorded("trace", "A1")


def test_an_expired_lot_is_told(bench, workspace):
    shelf = (workspace / STOCK).read_text(encoding="utf-8")
    old = shelf.replace("A1,1.8,kg,2027-09-30", "A1,1.8,kg,2026-10-30")
    (workspace / STOCK).write_text(old, encoding="utf-8")
    told = bench("record", "batch", SCENARIO, "sheet.csv", *DAY)
    assert "lot A1 of cocoa butter expired on 2026-10-30" in told


def test_a_lot_leads_to_its_batches_and_units(recorded):
    told = recorded("trace", "a3")
    assert "Lot A3 of refined shea butter: in 1 batch." in told
    assert "0.9 kg in stock.csv, 0.8505 kg left; expires 2027-02-28" in told
    assert "N1 2026-11-02 Plain massage bar 49.5 N1/1 to /16" in told
    (found,) = recorded("trace", "A3", "--json")["found"]
    assert found["batches"][0]["units"] == [str(each) for each in range(1, 17)]
    assert "No batch that was recorded took of it." in recorded("trace", "A4")


def test_a_bottle_is_told_in_grams(recorded, workspace):
    shelf = (workspace / STOCK).read_text(encoding="utf-8")
    (workspace / STOCK).write_text(f"{shelf}rosemary_oil,R7,36.8,g,,\n", "utf-8")
    assert "36.8 g in stock.csv, 36.8 g left" in recorded("trace", "R7")


def test_what_a_lot_may_be_in_is_told_too(recorded, workspace):
    shelf = (workspace / STOCK).read_text(encoding="utf-8")
    more = shelf + "sunflower_oil,S1,200,g,2027-01-31,invented\n"
    (workspace / STOCK).write_text(more, encoding="utf-8")
    told = recorded("trace", "S1")
    assert "Lot S1 of sunflower oil: in 0 batches." in told
    assert "0.2 kg in stock.csv, 0 kg left" in told
    assert "PERHAPS INTO THESE, WHOSE LOT NOBODY WROTE DOWN" in told
    (found,) = recorded("trace", "S1", "--json")["found"]
    assert [x["batch"] for x in found["perhaps"]] == ["N1"]
    assert recorded("trace", "A3", "--json")["found"][0]["perhaps"] == []


def test_a_wrong_price_keeps_nobody_from_tracing(recorded, workspace):
    prices = workspace / "catalogues/workshops/demo/prices.csv"
    with prices.open("a", encoding="utf-8") as file:
        file.write("beeswax,1,kg,dear,,EUR,,\n")
    told = recorded("trace", "A1")
    assert "in 1 batch." in told
    assert "prices.csv: a row cannot be read" in told
    assert "cocoa butter A1 451.2" in recorded("record", "show", "N1")


def test_a_unit_leads_to_its_batch_and_lots(recorded):
    recorded("record", "weights", "N1", "weights.csv")
    told = recorded("trace", "N1/3")
    assert told.startswith("Unit 3, 60.3 g, of batch N1: Plain massage bar")
    assert "4 of 5 lines with a lot; what has none cannot be traced" in told
    assert "cocoa butter A1 451.2" in told
    (found,) = recorded("trace", "n1/16", "--json")["found"]
    assert (found["is"], found["unit"], found["unit_grams"]) == ("unit", "16", None)
    assert "'17' is no unit of batch N1, of which 16" in recorded(
        "trace", "N1/17", code=1
    )
    assert "'A12' is no batch, unit or lot; the nearest known" in recorded(
        "trace", "A12", code=1
    )


def test_a_corrected_lot_is_traced_as_it_is_right(recorded):
    recorded("record", "correct", 2, "--lot", "A4", "--why", "x", code=1)
    recorded("record", "correct", 3, "--lot", "a3", "--why", "the other tub")
    assert "No batch that was recorded took of it." in recorded("trace", "A2")
    (found,) = recorded("trace", "A3", "--json")["found"]
    assert found["batches"][0]["grams"] == pytest.approx(199.5)
    told = recorded("record", "show", "N1", "--full")
    before = "weighed refined shea butter 150.0 g lot A2"
    assert f"{before} -> weighed refined shea butter 150.0 g lot A3 (the other" in told
    assert "counts no more" in told


@pytest.mark.parametrize(
    ("entry", "options", "wrong"),
    [
        (2, ("--to", "heavy"), "option --to: 'heavy'"),
        (2, ("--to", "451.2 g"), "says that already"),
        (2, ("--room", "25 degC"), "is not of this entry, which is a weighed"),
        (2, (), "nothing is corrected"),
        (2, ("--to", "4 g", "--withdraw"), "is given with what would be right"),
        (99, ("--to", "4 g"), "'99' is no entry of the book"),
        (8, ("--to", "2 kg"), "is more than the 1000.6 g that went in"),
        (9, ("--to", "0"), "'0' is no count"),
        (7, ("--to", "999 degC"), "'999 degC' is no temperature here"),
        (1, ("--made", "2099-01-01"), "is a day to come"),
    ],
)
def test_a_correction_that_cannot_be_right_is_refused(recorded, entry, options, wrong):
    assert wrong in recorded("record", "correct", entry, *options, code=1)
    assert "10 entries" in recorded("record", "list")


@pytest.mark.parametrize(
    ("entry", "options", "key", "value"),
    [
        (7, ("--to", "75"), "temperatures", [{"stage": "melt", "degrees": 75}]),
        (8, ("--to", "980 g"), "yield_grams", 980),
        (9, ("--to", "15"), "units", 15),
        (10, ("--to", "smooth"), "notes", ["smooth"]),
        (10, ("--withdraw",), "notes", []),
        (1, ("--to", "N1b"), "batch", "N1b"),
        (1, ("--made", "2026-11-03"), "made_on", "2026-11-03"),
    ],
)
def test_what_is_corrected_counts_and_the_rest_stays(
    recorded, entry, options, key, value
):
    before = recorded("record", "show", "N1", "--json")
    after = recorded("record", "correct", entry, *options, "--json")
    assert after[key] == value
    same = set(before) - {key, "entries", "added", "status"}
    assert {x: after[x] for x in same} == {x: before[x] for x in same}
    assert after["entries"][:10] != before["entries"]  # it counts no more
    assert [x["fact"] for x in after["entries"][:10]] == [
        x["fact"] for x in before["entries"]
    ]
    told = recorded("record", "correct", entry, *options, code=1)
    assert "was corrected already, by entry 11" in told


def test_a_batch_that_was_taken_back_may_be_recorded_again(recorded):
    told = recorded("record", "correct", 1, "--withdraw", "--why", "wrong sheet")
    assert "The batch was taken back: wrong sheet." in told
    assert "0 batches recorded." in recorded("record", "list")
    assert "is no batch" in recorded("record", "show", "N1", code=1)
    recorded("record", "batch", SCENARIO, "sheet.csv", *DAY)
    assert "1 batch recorded." in recorded("record", "list")


def test_weights_and_verdicts_are_recorded_once(recorded):
    recorded("record", "weights", "N1", "weights.csv")
    told = recorded("record", "weights", "N1", "weights.csv", code=1)
    assert "unit 1 is recorded already, as entry 11" in told
    assert "optimiser record correct 14 --to VALUE" in told
    told = recorded("record", "add", "N1", "--yield", "980 g", "--units", 15, code=1)
    assert "the yield is recorded already, as entry 8" in told
    assert "the count of units is recorded already, as entry 9" in told
    told = recorded("record", "add", "N1", "--temperature", "pour=47 degC")
    assert "temperatures: melt 78 °C, pour 47 °C" in told
    assert "there is nothing to record" in recorded("record", "add", "N1", code=1)


def test_more_units_are_not_weighed_than_were_filled(recorded, workspace):
    many = "net\n" + "60\n" * 17
    (workspace / "weights.csv").write_text(many, encoding="utf-8")
    told = recorded("record", "weights", "N1", "weights.csv", code=1)
    assert "has 16 units, and more than that would be weighed" in told


def test_a_unit_is_not_weighed_twice_in_one_table(recorded, workspace):
    twice = "unit,net\na,60\nA,61\n"
    (workspace / "weights.csv").write_text(twice, encoding="utf-8")
    told = recorded("record", "weights", "N1", "weights.csv", code=1)
    assert "row 3, column unit: 'A' is in row 2 already" in told


@pytest.mark.parametrize(
    ("arguments", "wrong"),
    [
        (("to soft",), "'to soft' is no verdict"),
        (("right",), "option --room: is missing"),
        ((), "nothing was observed"),
        (("right", "--room", "400 degC"), "'400 degC' is no temperature here"),
        (("--penetration", 0, "--room", "20"), "'0' is no penetration"),
        (("right", "--room", "20", "--unit", "17"), "'17' is no unit of batch N1"),
    ],
)
def test_a_verdict_that_cannot_be_right_is_refused(recorded, arguments, wrong):
    assert wrong in recorded("record", "verdict", "N1", *arguments, code=1)
    assert "10 entries" in recorded("record", "list")


def test_verdicts_go_to_calibrate_without_retyping(recorded, workspace):
    assert "holds no verdict yet" in recorded(
        "record", "export", "trials.csv", "--trials", code=1
    )
    recorded("record", "verdict", "N1", "too soft", "--room", "27 degC", "--unit", "3")
    recorded("record", "verdict", "N1", "right", "--room", "21", "--note", "=1+1")
    recorded(
        "record", "verdict", "N1", "--drop-point", "41 degC", "--penetration", 55,
        "--room", "25 degC",
    )  # fmt: skip
    recorded("record", "correct", 12, "--to", "too hard")
    recorded("record", "export", "trials.csv", "--trials")
    found = rows(workspace / "trials.csv")
    assert [x["trial"] for x in found] == ["N1/3", "N1", "N1"]
    assert sorted(x["verdict"] for x in found) == ["", "too hard", "too soft"]
    assert {x["note"] for x in found} == {"", "'=1+1"}
    assert float(found[0]["cocoa_butter"]) == pytest.approx(100 * 451.2 / 1000.6)
    told = recorded("calibrate", "trials.csv", "scenarios/massage_bar.toml", "--json")
    assert told["trials"]
    assert "3 trials" in recorded(
        "calibrate", "trials.csv", "scenarios/massage_bar.toml"
    )


def test_every_entry_is_exported_corrected_ones_too(recorded, workspace):
    recorded("record", "correct", 8, "--to", "980 g", "--why", "@SUM(1)")
    recorded("record", "export", "all.csv")
    found = rows(workspace / "all.csv")
    assert [x["entry"] for x in found] == [str(each) for each in range(1, 12)]
    assert [x["counts"] for x in found] == ["yes"] * 7 + ["no"] + ["yes"] * 3
    assert (found[10]["value"], found[10]["corrects"]) == ("980", "8")
    assert found[10]["why"] == "'@SUM(1)"
    (workspace / "mine.csv").write_text("a,b\n1,2\n", encoding="utf-8")
    told = recorded("record", "export", "mine.csv", code=1)
    assert "was written by something else" in told


def test_a_damaged_book_is_told_by_all_that_need_the_shelf(recorded, workspace):
    (workspace / BOOK).write_bytes(b"spilt oil" * 500)
    for arguments in (
        ("record", "list"),
        ("record", "batch", SCENARIO, "sheet.csv"),
        ("trace", "A1"),
        ("stock", SCENARIO),
        ("formulate", SCENARIO),
    ):
        told = recorded(*arguments, code=1)
        assert f"{BOOK}: is damaged (file is not a database)" in told
    assert (workspace / BOOK).read_bytes() == b"spilt oil" * 500
    # What needs no shelf goes on, and says so.
    assert "cannot be read, which nothing here needs" in recorded("fats", SCENARIO)


def test_a_scenario_that_is_gone_leaves_what_was_said_then(recorded, workspace):
    (workspace / SCENARIO).unlink()
    told = recorded("record", "show", "N1")
    assert "Not held against its rules today" in told
    assert "When it was recorded it broke no rule." in told


def test_the_book_stays_where_its_batches_were_made(recorded, workspace, run):
    shutil.copytree(workspace, workspace.parent / "copied")
    recorded("record", "list")
    assert run("begin", workspace.parent / "second").code == 0
    assert not (workspace.parent / "second" / BOOK).exists()
    assert (workspace.parent / "copied" / BOOK).exists()


def test_without_a_workspace_nothing_is_recorded(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for arguments in (("record", "list"), ("trace", "A1")):
        told = run(*arguments)
        assert told.code == 1
        assert "there is no workspace of yours here to record in" in told.err


def test_a_workshop_that_is_not_there_is_told(bench):
    told = bench("record", "list", "--workshop", "demi", code=1)
    assert "'demi' is not a workshop of catalogues/workshops" in told


def test_weights_with_a_decimal_comma_are_read_where_it_can_be_nothing_else(
    bench, workspace
):
    with_commas = SHEET.replace("451.2", '"451,2"').replace("199.5", '"199,500 g"')
    with_commas = with_commas.replace(",40,", ',"40,0",')
    (workspace / "sheet.csv").write_text(with_commas, encoding="utf-8")
    bench("record", "batch", SCENARIO, "sheet.csv", *DAY)
    weighed = bench("record", "show", "N1", "--json")["weighed"]
    grams = {(x["ingredient"], x["lot"]): x["grams"] for x in weighed}
    assert grams["cocoa_butter", "A1"] == 451.2
    assert grams["shea_butter", "A3"] == pytest.approx(49.5)


def test_a_comma_that_may_part_thousands_is_asked_about(bench, workspace):
    text = SHEET.replace(",451.2", ',"1,451"')
    (workspace / "sheet.csv").write_text(text, encoding="utf-8")
    told = bench("record", "batch", SCENARIO, "sheet.csv", *DAY, code=1)
    assert "'1,451' is not a number" in told


def test_a_verdict_that_calibrate_cannot_use_is_told_as_it_is_written(recorded):
    told = recorded("record", "verdict", "N1", "too hard", "--room", "18 degC")
    assert "the verdict at 18 °C says nothing to `calibrate`" in told
    assert "no firmness is known there of cocoa butter" in told
    assert "in a room between 20 and 40 °C" in told
    entry = recorded("record", "show", "N1", "--json")["entries"][-1]["entry"]
    recorded("record", "correct", entry, "--room", "20.5 degC", "--why", "misread")
    assert "says nothing" not in recorded("record", "show", "N1")
