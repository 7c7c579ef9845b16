"""Requests to the workbench turned wrong: an answer or a refusal, and no failure."""

import base64
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.web.app import made
from tests.fuzz.conftest import tried
from tests.fuzz.mutating import NASTY, edits, mutated
from tests.fuzz.test_fuzz_command_line import SPREADSHEETS, Kitchen
from tests.fuzz.watching import no_hang, unseen
from tests.fuzz.workbooks import changes_of_parts, turned
from tests.web.conftest import HOME, ORIGIN, PORT, TOKEN, Page
from tests.web.test_hostile_requests import runs

testing = pytest.importorskip("starlette.testclient", reason="needs the extra open")

BAR = "scenarios/bar.toml"
ROW = {"stage": "melt", "ingredient": "cocoa butter", "grams": "760",
       "lots": "A2 500 g, A3 260 g", "weighed_grams": "760"}  # fmt: skip
RECORD = {
    "rows": [ROW, {**ROW, "ingredient": "beeswax", "lots": ""}],
    "made": "2026-11-20", "number": "B9", "units": "24", "net": "60 g", "out": "1.4 kg",
    "note": "pale", "checked": "", "temperatures": [{"stage": "melt", "degrees": "78"}],
    "verdict": "right", "room": "22 degC",
}  # fmt: skip
WISHES = (
    {"do": "limit", "rule": "band/hard butter/min", "to": 31.0},
    {"do": "limit", "rule": "pin/lavender_oil", "to": 0.5},
    {"do": "ingredient", "ingredient": "beeswax", "out": True},
    {"do": "allergen", "allergen": "tree nut", "out": True},
    {"do": "pin", "ingredient": "beeswax", "at": 10.0},
    {"do": "aim", "order": ["cost", "change"]},
    {"do": "way", "way": 1},
    {"do": "product", "product": "lip balm"},
    {"do": "markets", "markets": ["EU", "GB"]},
    {"do": "climate", "zone": "II"},
)
# What is sent to a scenario that is open; and before one is.
TO_DESK = (
    *(("wish", {"number": 0, "wish": wish}) for wish in WISHES),
    *((each, {"number": 0}) for each in ("undo", "redo", "again")),
    ("save", {"number": 0, "name": "mine.toml", "agreed": None}),
    ("bench/sheet", {"units": "24", "net": "60 g", "mould": "", "batch": ""}),
    ("bench/sheet", {"mould": "round bar", "batch": "2 kg"}),
    ("bench/label", {"net": "60 g", "lot": "L1", "made": "2026-11-20"}),
    ("bench/plan", {"file": "scenarios/plan.toml"}),
    ("bench/record", RECORD),
    ("bench/record", RECORD),
)
TO_START = (
    ("begin", {"product": "lip balm", "use": "leave-on", "markets": ["EU"]}),
    ("begin", {"start": BAR, "product": "foot scrub", "replace": True}),
)
DROPPED = ("kitchen.csv", "recipes.csv", "formula.toml", "kitchen.xlsx", "recipes.xlsx")
TO_SURVEY = (
    ("answers", {"product_class": "lotion bar", "structure": "", "use": "leave-on"}),
    ("answers", {"zone": "II", "markets": ["EU"]}),
    ("write", {"name": "lotion.toml"}),
)
STATUSES = {200, 400, 403, 404, 405, 409, 410, 411, 413, 415, 422}
OTHERS = (None, True, [], {}, [[]], 0, -1, 1e308, 10**30, 0.5, [None], ["a", "a"])


def copied(body):
    """Return a body of its own."""
    return json.loads(json.dumps(body))


def changed(body, changes):
    """Return a body with something else in some of its places, keys too."""
    for place, what in copied(changes):
        places = list(_places(body))
        holder, key = places[int(place * len(places))]
        if isinstance(holder, dict) and what == "" and place < 0.5:
            del holder[key]
        elif isinstance(holder, dict) and place > 0.97:
            holder[what if isinstance(what, str) else "more"] = holder.pop(key)
        else:
            holder[key] = what
        if not body:
            break
    return body


def _places(value):
    """Yield whatever holds something in a body, and the key of it there."""
    if isinstance(value, dict | list):
        keys = value if isinstance(value, dict) else range(len(value))
        for key in list(keys):
            yield value, key
            yield from _places(value[key])


def some(most):
    """Return a few changes of a body."""
    what = st.sampled_from(NASTY) | st.sampled_from(OTHERS) | st.text(max_size=9)
    place = st.floats(0, 1, exclude_max=True)
    return st.lists(st.tuples(place, what), max_size=most)


class Bench:
    """The workbench over a small workspace; what is open is opened anew at times."""

    def __init__(self, folder):
        self.kitchen = Kitchen(folder)
        self.texts = {
            x: y
            for x, y in self.kitchen.held.items()
            if x in DROPPED and x not in SPREADSHEETS
        }
        self.anew()

    def anew(self):
        """Begin the program again."""
        app = made(self.kitchen.folder, TOKEN, PORT)
        self.client = testing.TestClient(app, base_url=HOME)
        self.page, self.survey = None, None

    def posted(self, place, body):
        """Send a body and return what was told, which runs and steers nothing."""
        content = json.dumps(body, ensure_ascii=True)
        headers = {**ORIGIN, "content-type": "application/json"}
        with no_hang():
            reply = self.client.post(place, content=content, headers=headers)
        assert reply.status_code in STATUSES, (place, body, reply.status_code)
        if reply.status_code in {200, 409, 422} and reply.text:
            told = reply.json()
            html = told.get("html", "")
            assert runs(html) == [], (place, body)
            assert not unseen(html), (place, body)
            says = told.get("says", "")
            assert not unseen(says if isinstance(says, str) else "".join(says))
            assert "inside the program" not in str(says)
            return reply.status_code, told
        return reply.status_code, {}

    def at_desk(self):
        """Return where the scenario is open, and open it if it is not."""
        if self.page is None:
            self.page = Page(self.client, BAR)
        return self.page


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    return Bench(tmp_path_factory.mktemp("bench"))


def test_what_is_sent_as_the_pages_send_it_is_answered(bench, monkeypatch):
    monkeypatch.chdir(bench.kitchen.folder)
    for what, body in TO_DESK:
        page = bench.at_desk()
        number = {"number": page.number} if body.get("number") == 0 else {}
        status, told = bench.posted(page.own + what, {**body, **number})
        assert status in {200, 422}, (what, body, told)
        assert status == 200 or told["says"]
        bench.page = None
    for what, body in TO_START:
        assert bench.posted(f"/{TOKEN}/{what}", body)[0] == 200
    bench.kitchen.as_it_was()
    bench.anew()


@tried(few=30)
@given(which=st.integers(0, len(TO_DESK) - 1), changes=some(2), again=st.booleans())
def test_no_request_of_what_is_open_fails(bench, monkeypatch, which, changes, again):
    monkeypatch.chdir(bench.kitchen.folder)
    page = bench.at_desk()
    what, body = TO_DESK[which]
    body = copied(body)
    if body.get("number") == 0:
        body["number"] = page.number
    try:
        _, told = bench.posted(page.own + what, changed(body, changes))
        if "number" in told:
            page.number = told["number"]
    finally:
        if again:
            bench.page = None
        bench.kitchen.as_it_was()


@tried(few=30)
@given(
    which=st.integers(0, len(TO_START) + len(DROPPED) - 1),
    survey=st.booleans(),
    file=edits(most=2),
    parts=changes_of_parts(most=2),
    changes=some(2),
)
def test_no_request_that_begins_fails(
    bench, monkeypatch, which, survey, file, parts, changes
):
    monkeypatch.chdir(bench.kitchen.folder)
    if which < len(TO_START):
        what, body = TO_START[which]
        body = copied(body)
    else:
        name = DROPPED[which - len(TO_START)]
        content = bench.kitchen.held[name]
        if name in SPREADSHEETS:
            content = turned(content, parts)
        else:
            text = content.decode("utf-8")
            content = mutated(text, file, table=name.endswith(".csv"))
        dropped = {"name": name, "content": base64.b64encode(content).decode()}
        what = "survey" if survey else "begin"
        body = {"recipes" if survey else "recipe": dropped}
    try:
        status, told = bench.posted(f"/{TOKEN}/{what}", changed(body, changes))
        if status == 200 and "go" in told:
            with no_hang():
                shown = bench.client.get(told["go"])
            assert shown.status_code == 200
            assert runs(shown.text) == []
            for part, asked in TO_SURVEY:
                bench.posted(told["go"] + part, changed(copied(asked), changes))
        with no_hang():
            assert bench.client.get(f"/{TOKEN}/").status_code == 200
    finally:
        bench.kitchen.as_it_was()
