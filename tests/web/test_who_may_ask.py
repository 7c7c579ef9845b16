"""The workbench answers its own pages on this machine, and nobody else."""

import pytest

from optimiser.web.guard import MOST_BYTES
from tests.web.conftest import HOME, ORIGIN, TOKEN


def test_the_first_page_lists_the_scenarios_and_nothing_else(client):
    told = client.get(f"/{TOKEN}/")
    assert told.status_code == 200
    assert "Massage bar for a hot climate (demo)" in told.text
    assert "prices_by_month" not in told.text  # a grid


@pytest.mark.parametrize(
    "path",
    ["/", "/wrong/", "/wrong/page.css", f"/{TOKEN[:-1]}/", f"/{TOKEN}x/", "//", "/%00/",
     f"/x/{TOKEN}/", f"/{TOKEN.upper()}/", f"/ {TOKEN}/"],
)  # fmt: skip
def test_nothing_is_told_without_the_token(client, path):
    told = client.get(path, follow_redirects=False)
    assert told.status_code == 404
    assert told.text == ""


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8000", "127.0.0.1:8001", "127.0.0.1", ""]
)
def test_a_name_that_was_made_to_point_here_is_refused(client, host):
    told = client.get(f"/{TOKEN}/", headers={"host": host})
    assert (told.status_code, told.text) == (421, "")


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "https://127.0.0.1:8000"},
        {"origin": "http://127.0.0.1:8001"},
        {"origin": HOME, "sec-fetch-site": "cross-site"},
        {"origin": HOME, "sec-fetch-site": "same-site"},
        {},
    ],
)
def test_a_page_from_elsewhere_cannot_ask(opened, headers):
    page = opened()
    told = page.client.post(
        page.own + "undo", json={"number": page.number}, headers=headers
    )
    assert (told.status_code, told.text) == (403, "")


def test_a_page_from_elsewhere_cannot_even_look(client):
    for headers in (
        {"origin": "http://evil.example"},
        {"sec-fetch-site": "cross-site"},
    ):
        assert client.get(f"/{TOKEN}/", headers=headers).status_code == 403


def test_what_a_form_could_send_is_refused(opened):
    page = opened()
    for kind in ("text/plain", "application/x-www-form-urlencoded", ""):
        headers = {**ORIGIN, "content-type": kind}
        told = page.client.post(page.own + "undo", content=b"{}", headers=headers)
        assert told.status_code == 415


def test_what_is_too_large_is_refused_unread(opened):
    page = opened()
    headers = {**ORIGIN, "content-type": "application/json"}
    large = b'{"number": 1, "wish": "' + b"x" * MOST_BYTES + b'"}'
    told = page.client.post(page.own + "wish", content=large, headers=headers)
    assert told.status_code == 413
    told = page.client.post(page.own + "wish", content=iter([large]), headers=headers)
    assert told.status_code == 411  # sent in pieces, of no told length


NO_WISHES = [
        b"", b"{", b"[]", b"null", b'{"number": "1"}', b'{"number": 1}',
        b'{"number": 1, "wish": {"do": "limit", "rule": "x"}}',
        b'{"number": 1, "wish": {"do": "limit", "rule": "x", "to": NaN}}',
        b'{"number": 1, "wish": {"do": "limit", "rule": "x", "to": 1e999}}',
        b'{"number": 1, "wish": {"do": "format", "disk": "c"}}',
        b'{"number": 1, "wish": {"do": "way", "way": 1}, "more": 1}',
    ]  # fmt: skip


def test_what_is_no_wish_is_refused(opened):
    page = opened()
    headers = {**ORIGIN, "content-type": "application/json"}
    for body in NO_WISHES:
        told = page.client.post(page.own + "wish", content=body, headers=headers)
        assert (told.status_code, told.text) == (400, ""), body


@pytest.mark.parametrize(
    "file",
    [
        "../../etc/passwd", "/etc/passwd", "scenarios/../scenarios/massage_bar.toml",
        "scenarios/grids/prices_by_month.toml", "scenarios", "", "no.toml",
        "scenarios/massage_bar.toml\0",
    ],
)  # fmt: skip
def test_only_what_is_listed_can_be_opened(client, file):
    told = client.get(f"/{TOKEN}/open", params={"file": file}, follow_redirects=False)
    assert (told.status_code, told.text) == (404, "")


@pytest.mark.parametrize(
    "name", ["app.py", "answer.html", "..%2fapp.py", "desk.css%00", "pages/desk.css"]
)
def test_no_file_but_the_pages_own_is_served(client, name):
    assert client.get(f"/{TOKEN}/{name}").status_code == 404


def test_every_answer_forbids_what_the_page_does_not_need(opened, client):
    page = opened()
    for path in (f"/{TOKEN}/", page.own, f"/{TOKEN}/desk.js", "/wrong/"):
        headers = client.get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] == "no-store"


def test_a_page_names_no_other_place_and_no_code_within_it(opened):
    page = opened()
    assert "//" not in page.html.replace("<!doctype", "")
    assert "style=" not in page.html
    assert " onclick" not in page.html
    assert page.html.count("<script") == 1


def test_a_scenario_that_cannot_be_read_tells_why(client, workspace):
    evil = "<img src=x onerror=alert(1)>"
    broken = f'title = "{evil}"\nmarket = 5\nextends = "{evil}"\n'
    (workspace / "scenarios" / "broken.toml").write_text(broken)
    assert evil not in client.get(f"/{TOKEN}/").text
    told = client.get(f"/{TOKEN}/open", params={"file": "scenarios/broken.toml"})
    assert told.status_code == 422
    assert "market" in told.text
    assert evil not in told.text


def test_a_desk_that_is_not_open_is_told_as_closed(client):
    own = f"/{TOKEN}/desk/none/"
    told = client.post(own + "undo", json={"number": 1}, headers=ORIGIN)
    assert told.status_code == 410
    assert client.get(own, follow_redirects=False).headers["location"] == f"/{TOKEN}/"
