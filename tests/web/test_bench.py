"""At the bench: what the page records is in the book, once, or it says why not."""

import re
import shutil
import threading
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from optimiser.cli.begin import begun
from optimiser.cli.bookkeeping import place_of_scenario
from optimiser.domain.record import Temperature, VerdictGiven
from optimiser.errors import InputError
from optimiser.reading import shipped_folder
from optimiser.web import serving
from optimiser.web.app import made
from tests.web.conftest import HOME, ORIGIN, PORT, TOKEN

BAR = Path("scenarios/massage_bar.toml")
ROWS = [
    {"stage": "melt", "ingredient": key, "grams": grams, "lots": lot,
     "weighed_grams": grams}
    for key, grams, lot in [
        ("rapeseed_oil", "320", ""), ("sal_butter", "290", ""),
        ("refined_shea_butter", "155", "A3"), ("beeswax", "115", "B1"),
        ("coconut_oil", "50", ""), ("cetearyl_alcohol", "20", ""),
        ("stearic_acid", "20", ""), ("cocoa_butter", "10", "A1"),
        ("carnauba_wax", "5", ""), ("mixed_tocopherols", "5", ""),
        ("lavender_oil", "10", ""),
    ]
]  # fmt: skip


@pytest.fixture
def workspace(tmp_path, monkeypatch):
    """Return a workspace with the demo's shelf, whose book may be written."""
    begun(tmp_path / "own")
    stock = "workshops/demo/stock.csv"
    own = tmp_path / "own" / "catalogues" / stock
    shutil.copyfile(shipped_folder("catalogues") / stock, own)
    monkeypatch.chdir(tmp_path / "own")
    return tmp_path / "own"


@pytest.fixture
def client(workspace):
    """Return a client of the workbench, as its own pages ask."""
    assert workspace == Path.cwd()
    return TestClient(made(Path(), TOKEN, PORT), base_url=HOME)


@pytest.fixture
def bench(client):
    """Return a function that asks at the bench of the massage bar."""
    opened = client.get(
        f"/{TOKEN}/open", params={"file": str(BAR)}, follow_redirects=False
    )
    own = f"{opened.headers['location']}bench/"

    def ask(what="", **body):
        if not what:
            return client.get(own)
        return client.post(own + what, json=body, headers=ORIGIN)

    return ask


def book():
    return place_of_scenario(BAR, "demo").book()


def text(reply):
    return " ".join(re.sub(r"<[^>]*>", " ", reply.json()["html"]).split())


def test_a_sheet_has_a_field_for_each_weight_and_the_lots_to_take(bench):
    assert "What to weigh" in bench().text
    told = bench("sheet", units="24", net="60 g")
    html = told.json()["html"]
    assert "24 units of 60 g" in html
    names = re.findall(r'aria-label="weighed of ([^"]*), g"', html)
    assert len(names) == 11
    assert re.search(r'value="B1"[^>]*aria-label="lot of beeswax"', html)
    assert "484.5" in html
    assert "--" not in html
    assert "`optimiser" not in html


@pytest.mark.parametrize(
    ("asks", "says"),
    [
        ({"units": "many", "net": "60 g"}, "units: 'many' is no count of units"),
        ({"units": "24"}, "net"),
        ({"units": "24", "net": "60 parsecs"}, "net weight: '60 parsecs'"),
        ({"mould": "bathtub"}, "bathtub"),
    ],
)
def test_a_sheet_that_cannot_be_made_says_what_to_write(bench, asks, says):
    told = bench("sheet", **asks)
    assert told.status_code == 422
    assert says in " ".join(told.json()["says"])
    assert "--" not in " ".join(told.json()["says"])


def test_a_batch_is_told_as_recorded_when_the_book_has_it(bench):
    told = bench("record", rows=ROWS, units="15", net="60 g", note="calm day")
    assert told.status_code == 200, told.text
    found = book().batches[0]
    assert f"Recorded as {found.made.number}: the book has it." in text(told)
    assert found.grams == 1000
    assert "keeps every rule" in text(told)
    assert "--" not in text(told)


def test_a_line_without_a_weight_is_told_of_beside_what_the_book_has(bench):
    told = bench("record", rows=ROWS[:-1], units="15", net="60 g")
    assert told.status_code == 200, told.text
    shown = text(told)
    assert "nothing was weighed of" in shown
    assert "correct the sheet, or take this batch back and record it whole" in shown
    assert "--" not in shown


def test_temperatures_and_a_verdict_are_in_the_book_with_the_batch(bench):
    fields = bench("sheet", units="24", net="60 g").json()["html"]
    assert re.search(
        r'<label for="read-1">[^<]+</label> <input[^>]*name="degrees"', fields
    )
    assert re.findall(r"<option>([^<]*)</option>", fields) == [
        "too soft", "right", "too hard",
    ]  # fmt: skip
    read = [("melt", "78.5"), ("cool down", ""), ("pour", "58")]
    told = bench(
        "record",
        rows=ROWS,
        temperatures=[{"stage": stage, "degrees": at} for stage, at in read],
        verdict="too soft",
        room="27.5",
    )
    assert told.status_code == 200, told.text
    (batch,) = book().batches
    assert batch.of(Temperature) == (Temperature("melt", 78.5), Temperature("pour", 58))
    assert batch.of(VerdictGiven) == (VerdictGiven(room=27.5, verdict="too soft"),)
    assert "too soft" in text(told)
    assert "78.5" in text(told)


@pytest.mark.parametrize(
    ("asks", "says"),
    [
        ({"verdict": "too soft"}, "room: is missing"),
        ({"room": "25"}, "room: '25' is given, but not how firm"),
        ({"verdict": "squishy", "room": "25"}, "'squishy' is no verdict"),
        ({"verdict": "right", "room": "hot"}, "room: 'hot'"),
        ({"temperatures": [{"stage": "melt", "degrees": "hot"}]}, "temperature: 'hot'"),
    ],
)
def test_a_verdict_or_a_temperature_that_is_wrong_is_told_and_nothing_is_recorded(
    bench, asks, says
):
    told = bench("record", rows=ROWS, **asks)
    assert told.status_code == 422
    assert says in " ".join(told.json()["says"])
    assert "--" not in " ".join(told.json()["says"])
    assert book().batches == ()


def test_the_same_sheet_sent_by_two_tabs_is_in_the_book_once(bench):
    assert bench("record", rows=ROWS).status_code == 200
    again = bench("record", rows=ROWS)
    assert again.status_code == 422
    assert "is recorded already" in again.json()["says"][0]
    assert len(book().batches) == 1


def test_two_tabs_at_once_record_two_batches_with_two_numbers(bench):
    other = [{**ROWS[0], "weighed_grams": "321"}, *ROWS[1:]]
    replies = []
    runs = [
        threading.Thread(target=lambda rows=rows: replies.append(
            bench("record", rows=rows).status_code))
        for rows in (ROWS, other)
    ]  # fmt: skip
    for each in runs:
        each.start()
    for each in runs:
        each.join()
    assert replies == [200, 200]
    assert len({each.made.number for each in book().batches}) == 2


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"weighed_grams": ""}, "rapeseed_oil"),
        ({"weighed_grams": "ten"}, "rapeseed_oil: 'ten'"),
        ({"weighed_grams": "-5"}, "rapeseed_oil: '-5' is not between 0 and"),
        ({"lots": "____"}, "rapeseed_oil: '____' is not filled in"),
        ({"ingredient": "unobtainium"}, "unobtainium"),
    ],
)
def test_a_line_that_is_wrong_is_told_by_its_ingredient_and_nothing_is_recorded(
    bench, change, says
):
    told = bench("record", rows=[{**ROWS[0], **change}, *ROWS[1:]])
    assert told.status_code == 422
    assert says in " ".join(told.json()["says"])
    assert "sheet.csv" not in told.text
    assert book().batches == ()


def test_a_day_to_come_and_a_number_that_is_taken_are_refused(bench):
    assert "is a day to come" in bench("record", rows=ROWS, made="2099-01-01").text
    assert bench("record", rows=ROWS, number="one").status_code == 200
    other = [{**ROWS[0], "weighed_grams": "321"}, *ROWS[1:]]
    assert (
        "is the number of another batch"
        in bench("record", rows=other, number="one").text
    )
    assert len(book().batches) == 1


def test_a_book_that_cannot_be_written_is_not_told_as_written(bench, monkeypatch):
    def full(*_):
        raise InputError([])

    monkeypatch.setattr("optimiser.web.bench.add", full)
    told = bench("record", rows=ROWS)
    assert told.status_code == 422
    assert "html" not in told.json()


def test_the_label_and_a_plan_are_told_and_only_plans_that_are_listed(bench):
    label = text(bench("label", net="60 g", lot="B 7", made="2026-11-20"))
    assert "Ingredients: Brassica Campestris" in label
    assert "60 g" in label
    assert "B 7" in label
    for file in ("../../etc/passwd", "scenarios/massage_bar.toml", ""):
        assert bench("plan", file=file).status_code == 422
    assert "scenarios/plans/autumn.toml" in bench().text


def test_what_is_not_saved_is_said_at_the_bench(client, bench):
    own = bench().text
    desk = re.search(r'data-to="([^"]*)bench/sheet"', own)[1]
    wish = {"do": "limit", "rule": "band/hard butter/min", "to": 33}
    page = client.get(desk).text
    number = int(re.search(r'data-number="(\d+)"', page)[1])
    client.post(f"{desk}wish", json={"number": number, "wish": wish}, headers=ORIGIN)
    assert "What was changed and not saved is not in this" in bench().text


# -- on a phone -----------------------------------------------------------------------


@pytest.fixture
def told(monkeypatch, workspace):
    """Return what is told and bound when the page is served, without serving."""
    seen = {}

    class Server:
        def __init__(self, config):
            seen["app"] = config.app

        def run(self, sockets):
            seen["bound"] = sockets[0].getsockname()

    monkeypatch.setattr(serving.uvicorn, "Server", Server)

    def serve(*, phone):
        said = []
        serving.serve(workspace, 0, tell=said.append, browser=False, phone=phone)
        return said[0], seen

    return serve


def test_without_the_option_only_this_machine_is_served(told):
    said, seen = told(phone=False)
    assert seen["bound"][0] == "127.0.0.1"
    assert said.startswith("http://127.0.0.1:")


def test_for_a_phone_the_network_is_served_with_a_token_and_the_same_checks(
    told, monkeypatch
):
    monkeypatch.setattr(serving, "_in_the_network", lambda: "127.0.0.2")
    said, seen = told(phone=True)
    address = said.split()[0]
    home, token = address.rsplit("/", 2)[:2]
    assert seen["bound"][0] == "127.0.0.2"
    assert len(token) >= 32
    client = TestClient(seen["app"], base_url=home)
    assert '<html lang="en" class="large">' in client.get(f"/{token}/").text
    assert client.get("/").status_code == 404
    other = {"host": f"127.0.0.1:{seen['bound'][1]}"}
    assert client.get(f"/{token}/", headers=other).status_code == 421
    evil = {"origin": "http://evil.example"}
    assert client.get(f"/{token}/", headers=evil).status_code == 403
    wish = client.post(f"/{token}/survey", json={}, headers=evil)
    assert wish.status_code == 403


def test_a_machine_in_no_network_says_so(monkeypatch, told):
    monkeypatch.setattr(serving, "ELSEWHERE", ("127.0.0.1", 9))
    with pytest.raises(InputError, match="this machine is in none"):
        told(phone=True)


PLAN = """title = "Fair"
[[batches]]
scenario = "massage_bar.toml"
units = 12
net = "60 g"
"""


def test_a_plan_is_known_by_its_batches_wherever_it_lies(client, bench):
    Path("scenarios/fair.toml").write_text(PLAN, encoding="utf-8")
    first = client.get(f"/{TOKEN}/").text
    assert "massage_bar.toml" in first
    assert "fair.toml" not in first
    assert '<option value="scenarios/fair.toml">' in bench().text
    assert '<option value="scenarios/plans/autumn.toml">' in bench().text
    told = bench("plan", file="scenarios/fair.toml")
    assert told.status_code == 200, told.text


def test_examples_in_empty_fields_say_that_they_are_examples(client, bench):
    pages = bench().text + client.get(f"/{TOKEN}/").text
    examples = re.findall(r'placeholder="([^"]*)"', pages)
    assert "for example 24" in examples
    assert all(each.startswith("for example ") for each in examples)


def test_steps_on_the_page_are_numbered_and_not_ticked_as_well(bench):
    told = bench("sheet", units="24", net="60 g").json()["html"]
    assert "<ol>" in told
    assert "[ ]" not in told
