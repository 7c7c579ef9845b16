"""Whatever is sent to the workbench: an answer or a refusal, and nothing of it runs."""

import base64
import http.client
import re
import shutil
import threading
from html.parser import HTMLParser
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from optimiser.web.app import made
from tests.web.conftest import HOME, ORIGIN, PORT, TOKEN, serving

SCRIPT = "\"'><script>alert(1)</script><img src=x onerror=alert(1)>{{7*7}}${7*7}"
LONG = "\U00020000" * 80  # of four bytes each: more than a file can be called by
STRANGE = {
    "script": SCRIPT,
    "path": "../../../etc/passwd",
    "signs": "a\u202eb\u2066\x00c\x1b[2J\r\nset-cookie: x=1",
    "long": LONG,
    "number": "9" * 5000,
}
NUMBERS = (1e308, -1e308, 5e-324, -0.0, 1e17, -1, 101, 2**53)
ROW = {"stage": "melt", "ingredient": "cocoa butter", "grams": "1", "lots": "",
       "weighed_grams": "1"}  # fmt: skip


class Run(HTMLParser):
    """Notes what in a page would run, or load from elsewhere."""

    def __init__(self):
        super().__init__()
        self.found = []

    def handle_starttag(self, tag, attrs):
        """Look at one tag."""
        told = dict(attrs)
        if tag in {"img", "iframe", "object", "embed", "base", "meta"} and not (
            tag == "meta" and told.keys() <= {"charset", "name", "content"}
        ):
            self.found.append((tag, told))
        if tag == "script" and not str(told.get("src", "")).startswith(f"/{TOKEN}/"):
            self.found.append((tag, told))
        self.found += [(tag, each) for each in told if each.startswith("on")]
        for name in ("href", "src", "action"):
            if re.match(r"\s*(javascript|data):", told.get(name) or "", re.I):
                self.found.append((tag, told))


def runs(html):
    """Return what of a page would run."""
    parser = Run()
    parser.feed(html)
    parser.close()
    return parser.found


@pytest.fixture
def client(workspace):
    """Return a client that answers as the server would where something fails."""
    assert workspace == Path.cwd()
    return TestClient(
        made(Path(), TOKEN, PORT), base_url=HOME, raise_server_exceptions=False
    )


def bodies(text):
    """Yield requests with a strange text in each of their fields."""
    yield "wish", {"wish": {"do": "limit", "rule": text, "to": 1.0}}
    yield "wish", {"wish": {"do": "ingredient", "ingredient": text, "out": True}}
    yield "wish", {"wish": {"do": "allergen", "allergen": text, "out": True}}
    yield "wish", {"wish": {"do": "pin", "ingredient": text, "at": 1.0}}
    yield "wish", {"wish": {"do": "aim", "order": [text]}}
    yield "wish", {"wish": {"do": "product", "product": text}}
    yield "wish", {"wish": {"do": "markets", "markets": [text]}}
    yield "wish", {"wish": {"do": "climate", "zone": text}}
    yield "save", {"name": text}
    yield "save", {"name": f"{text}.toml", "agreed": text}


def bench_bodies(text):
    """Yield the same for the bench: what is not understood is told of all fields."""
    for name in ("units", "net", "mould", "batch"):
        yield "bench/sheet", {name: text}
    for name in ("net", "lot"):
        yield "bench/label", {name: text}
    yield "bench/plan", {"file": text}
    for name in ("number", "units", "note", "room"):
        yield "bench/record", {"rows": [ROW], name: text}
    yield "bench/record", {"rows": [{**ROW, "ingredient": text, "lots": text}]}
    read = [{"stage": text, "degrees": text}]
    yield "bench/record", {"rows": [ROW], "temperatures": read}


@pytest.fixture
def own_workspace(workspace):
    """Return a workspace with a scenario small enough to answer at once."""
    scenario = workspace / "scenarios" / "small.toml"
    scenario.write_text(
        'title = "Small"\nworkshop = "demo"\nuse = "leave-on"\nmarket = ["EU"]\n'
        '[only]\ningredients = ["cocoa butter", "beeswax", "rapeseed oil"]\n'
        '[bands]\n"wax" = { min = 10, max = 20 }\n"hard butter" = { min = 30 }\n',
        encoding="utf-8",
    )
    catalogues = workspace / "catalogues"
    shipped = catalogues.resolve()
    catalogues.unlink()
    shutil.copytree(shipped, catalogues)
    return workspace


@pytest.mark.parametrize("text", STRANGE.values(), ids=STRANGE)
def test_no_text_of_a_request_is_run_or_ends_in_a_failure(own_workspace, opened, text):
    before = {each for each in own_workspace.rglob("*") if each.is_file()}
    page = opened("scenarios/small.toml")
    for what, body in bodies(text):
        reply = page.post(what, **body)
        assert reply.status_code in {200, 400, 409, 413, 422}, (what, body, reply.text)
        assert runs(page.html) == []
        if reply.status_code == 422:
            assert reply.json()["says"]
    for what, body in bench_bodies(text):
        reply = page.client.post(page.own + what, json=body, headers=ORIGIN)
        assert reply.status_code in {200, 400, 413, 422}, (what, body, reply.text)
        if reply.status_code == 200:
            assert runs(reply.json()["html"]) == []
    for query in ({"rule": text}, {"of": [text, "base"]}, {"number": text}):
        for part in ("curve", "compare", "answer"):
            reply = page.client.get(page.own + part, params=query)
            assert reply.status_code in {200, 400, 409, 422}, (part, query)
            assert runs(reply.json().get("html", "") if reply.text else "") == []
    after = {each for each in own_workspace.rglob("*") if each.is_file()}
    assert {each.parent for each in after - before} <= {
        own_workspace / "scenarios", own_workspace / "catalogues/workshops/demo"
    }  # fmt: skip
    assert {each.suffix for each in after - before} <= {".toml", ".sqlite"}
    assert not list(own_workspace.parent.glob("*.toml"))


@pytest.mark.usefixtures("own_workspace")
def test_no_number_of_a_request_ends_in_a_failure(opened):
    page = opened("scenarios/small.toml")
    rules = re.findall(r'data-rule="([^"]+)"', page.html)
    assert rules
    for to in NUMBERS:
        for rule in rules[:3]:
            assert page.limit(rule, to).status_code in {200, 422}, (rule, to)
        page.wish("pin", ingredient="beeswax", at=to)
        reply = page.wish("way", way=int(to) if abs(to) < 1e300 else 10**300)
        assert reply.status_code in {200, 400, 422}


@pytest.mark.parametrize("text", STRANGE.values(), ids=STRANGE)
def test_a_dropped_file_and_its_survey_take_whatever_they_are_called(
    own_workspace, client, text
):
    rows = [f"R{n},balm,beeswax,2{n},g\nR{n},,shea butter,7{n},g\n" for n in range(3)]
    name = text.replace('"', "'").replace("\r\n", " ").replace("\x00", "")[:200]
    table = f'recipe,class,ingredient,amount,unit\n"{name}",balm,"{name}",3,g\n'
    table += "".join(rows)
    content = base64.b64encode(table.encode()).decode()
    reply = client.post(
        f"/{TOKEN}/survey",
        json={"recipes": {"name": f"{text}.csv", "content": content}},
        headers=ORIGIN,
    )
    assert reply.status_code in {200, 422}, reply.text
    if reply.status_code == 200:
        place = reply.json()["go"]
        shown = client.get(place)
        assert shown.status_code == 200
        assert runs(shown.text) == []
        for field in ("product_class", "structure", "use", "zone"):
            told = client.post(place + "answers", json={field: text}, headers=ORIGIN)
            assert told.status_code in {200, 422}, field
        told = client.post(place + "write", json={"name": text}, headers=ORIGIN)
        assert told.status_code in {200, 422}, told.text
    begun = {"product": text, "markets": [text], "use": text, "start": text}
    told = client.post(f"/{TOKEN}/begin", json=begun, headers=ORIGIN)
    assert told.status_code in {200, 422}, told.text
    recipe = {"name": text, "content": content}
    told = client.post(f"/{TOKEN}/begin", json={"recipe": recipe}, headers=ORIGIN)
    assert told.status_code in {200, 422}, told.text
    assert runs(client.get(f"/{TOKEN}/").text) == []
    outside = [x for x in own_workspace.parent.rglob("*") if x.is_file()]
    assert [x for x in outside if own_workspace not in x.parents] == []


def test_names_of_files_and_of_ingredients_run_nothing(own_workspace, client, opened):
    evil = "<img src=x onerror=alert(1)>\u202e"
    scenarios = own_workspace / "scenarios"
    text = (scenarios / "small.toml").read_text(encoding="utf-8")
    (scenarios / f"{evil}.toml").write_text(
        text.replace('"Small"', f"'{evil}'").replace('"rapeseed oil"', f"'{evil}'"),
        encoding="utf-8",
    )
    shop = own_workspace / "catalogues/workshops/demo"
    rows = f"key,name,inci,category\nevil,{evil},{evil},liquid oil\n"
    (shop / "ingredients.csv").write_text(rows, encoding="utf-8")
    prices = shop / "prices.csv"
    prices.write_text(
        prices.read_text(encoding="utf-8") + "evil,1,kg,1,0,EUR,,\n", encoding="utf-8"
    )
    assert runs(client.get(f"/{TOKEN}/").text) == []
    page = opened(f"scenarios/{evil}.toml")
    page.settle()
    pages = [page.html, client.get(page.own).text, client.get(page.own + "bench/").text]
    pages += [
        client.get(page.own + part, params=asked).json()["html"]
        for part, asked in (("compare", {"of": ["base", "now"]}),)
    ]
    for what, body in (("sheet", {"batch": "1 kg"}), ("label", {"net": "60 g"})):
        reply = client.post(f"{page.own}bench/{what}", json=body, headers=ORIGIN)
        pages.append(reply.json()["html"])
    for each in pages:
        assert runs(each) == []
        assert "\u202e" not in re.sub(r"<[^>]*>", "", each)
    assert any("&lt;img src=x" in each for each in pages)


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "X"])
def test_other_methods_are_refused(opened, method):
    page = opened()
    for path in (page.own, page.own + "wish", f"/{TOKEN}/begin", f"/{TOKEN}/open"):
        for headers in ({}, ORIGIN):
            reply = page.client.request(method, path, headers=headers)
            assert reply.status_code in {403, 405}
    assert page.client.get(page.own + "save").status_code == 405
    reply = page.client.post(page.own, json={}, headers=ORIGIN)
    assert reply.status_code == 405


# As bytes on a wire, which no library puts right: of length, host and path.
RAW = (
    ("content-length", "\u00b2"),
    ("content-length", "9" * 5000),
    ("content-length", "-1"),
    ("content-length", "1e3"),
    ("host", "evil.example"),
    ("host", "127.0.0.1:{port}@evil.example"),
    ("host", "127.0.0.1:{port}, evil.example"),
    ("origin", "http://127.0.0.1:{port}.evil.example"),
    ("origin", "HTTP://127.0.0.1:{port}"),
    ("origin", "http://localhost:{port}"),
    ("origin", "file://"),
)


def test_headers_that_lie_are_refused_by_the_server_itself(own_workspace):
    with serving(own_workspace) as address:
        port = int(address.split(":")[2].split("/")[0])
        for name, value in RAW:
            headers = {
                "host": f"127.0.0.1:{port}",
                "origin": f"http://127.0.0.1:{port}",
                "content-type": "application/json",
                "content-length": "2",
                name: value.format(port=port),
            }
            wire = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
            wire.putrequest("POST", f"/{TOKEN}/begin", skip_host=True)
            for each, text in headers.items():
                wire.putheader(each, text.encode("latin-1"))
            wire.endheaders(b"{}")
            status = wire.getresponse().status
            wire.close()
            assert status in {400, 403, 411, 413, 421}, (name, value, status)
        for path in (
            "/%ff/",
            f"/{TOKEN}/%ff",
            f"/{TOKEN}/..%2f..%2fetc/passwd",
            "/\udcff",
        ):
            wire = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
            wire.putrequest("GET", "/", skip_host=True)
            wire._buffer[0] = f"GET {path} HTTP/1.1".encode(errors="surrogateescape")
            wire.putheader("host", f"127.0.0.1:{port}")
            wire.endheaders()
            assert wire.getresponse().status in {400, 404}, path
            wire.close()


def test_what_is_edited_by_many_at_once_is_one_question_after_another(
    own_workspace, opened
):
    page = opened("scenarios/small.toml")
    number, statuses = page.number, []

    def ask(to):
        body = {"number": number, "wish": {
            "do": "limit", "rule": "band/wax/min", "to": to}}  # fmt: skip
        reply = page.client.post(page.own + "wish", json=body, headers=ORIGIN)
        statuses.append((reply.status_code, to))

    asking = [threading.Thread(target=ask, args=(11 + x / 2,)) for x in range(6)]
    for each in asking:
        each.start()
    for each in asking:
        each.join()
    taken = [to for status, to in statuses if status == 200]
    assert len(taken) == 1
    assert sorted(status for status, _ in statuses) == [200, 409, 409, 409, 409, 409]
    told = page.client.post(page.own + "again", json={"number": 0}, headers=ORIGIN)
    page.number = told.json()["number"]
    assert page.post("save", name="other.toml").status_code == 200
    text = (own_workspace / "scenarios/other.toml").read_text(encoding="utf-8")
    assert f"min = {taken[0]:g}" in text


def test_two_pages_of_one_file_do_not_write_over_each_other_unseen(
    own_workspace, opened
):
    path = own_workspace / "scenarios/small.toml"
    first, second = opened("scenarios/small.toml"), opened("scenarios/small.toml")
    first.limit("band/wax/min", 12)
    second.limit("band/wax/min", 14)
    taken = first.post("save", name="small.toml").json()["taken"]
    assert first.post("save", name="small.toml", agreed=taken).status_code == 200
    # What the second agreed to is what it saw before the first one wrote.
    reply = second.post("save", name="small.toml", agreed=taken)
    assert reply.status_code == 409
    assert "min = 12" in path.read_text(encoding="utf-8")
    path.write_text("title = [", encoding="utf-8")
    reply = second.post("again")
    assert reply.status_code == 422
    assert second.limit("band/wax/min", 13).status_code == 200
    path.unlink()
    assert second.post("again").status_code == 422
    assert second.client.get(second.own + "saving").status_code == 200
    assert second.client.get(second.own + "bench/").status_code in {200, 422}
    sheet = second.client.post(second.own + "bench/sheet", json={}, headers=ORIGIN)
    assert sheet.status_code == 422
