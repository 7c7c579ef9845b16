"""A workspace of one's own, the workbench over it, and a browser where there is one."""

import re
import shutil
import socket
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import pytest
import uvicorn
from starlette.testclient import TestClient

from optimiser.web.app import made

ROOT = Path(__file__).resolve().parents[2]
TOKEN, PORT = "the-token", 8000
HOME = f"http://127.0.0.1:{PORT}"
ORIGIN = {"origin": HOME}


@pytest.fixture
def workspace(tmp_path, monkeypatch):
    """Return a workspace with the demos, which is also the current folder."""
    folder = tmp_path / "kitchen"
    shutil.copytree(ROOT / "scenarios", folder / "scenarios")
    (folder / "catalogues").symlink_to(ROOT / "catalogues")
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def client(workspace):
    """Return a client of the workbench, as its own pages ask."""
    assert workspace == Path.cwd()
    return TestClient(made(Path(), TOKEN, PORT), base_url=HOME)


class Page:
    """One scenario opened through the addresses, and the number of its question."""

    def __init__(self, client, file):
        reply = client.get(
            f"/{TOKEN}/open", params={"file": file}, follow_redirects=False
        )
        assert reply.status_code == 303
        self.client, self.own = client, reply.headers["location"]
        self.html = client.get(self.own).text
        self.number = int(re.search(r'data-number="(\d+)"', self.html)[1])

    def post(self, what, number=None, **body):
        """Ask something, and take up what is shown then."""
        number = self.number if number is None else number
        reply = self.client.post(
            self.own + what, json={"number": number, **body}, headers=ORIGIN
        )
        if reply.status_code in {200, 422} or "html" in reply.text:
            told = reply.json()
            if "html" in told:
                self.number, self.html = told["number"], told["html"]
        return reply

    def wish(self, do, **wish):
        """Ask for a wish."""
        return self.post("wish", wish={"do": do, **wish})

    def limit(self, rule, to):
        """Move a limit."""
        return self.wish("limit", rule=rule, to=to)

    def settle(self):
        """Wait for the whole answer."""
        reply = self.client.get(self.own + "answer", params={"number": self.number})
        assert reply.status_code == 200
        self.html = reply.json()["html"]
        return reply.json()

    @property
    def cost(self):
        """What is told as cost, money per kg."""
        return float(re.search(r"(\d+\.\d\d) \w{3} per kg", self.html)[1])

    @property
    def text(self):
        """What is shown, without its markup."""
        return " ".join(re.sub(r"<[^>]*>", " ", self.html).split())


@pytest.fixture
def opened(client):
    """Return a function that opens a scenario of the workspace."""
    return lambda file="scenarios/massage_bar.toml": Page(client, file)


@contextmanager
def serving(folder):
    """Serve the workbench over a folder from this process; yield its address."""
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        port = listening.getsockname()[1]
        config = uvicorn.Config(
            made(folder, TOKEN, port), log_level="error", lifespan="off", ws="none"
        )
        server = uvicorn.Server(config)
        run = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        run.start()
        while not server.started:
            assert run.is_alive()
            time.sleep(0.02)
        yield f"http://127.0.0.1:{port}/{TOKEN}/"
        server.should_exit = True
        run.join(20)


BROWSERS = ("chromium", "chromium-browser", "google-chrome")


@pytest.fixture(scope="session")
def browser():
    """Return a browser without a window; where there is none, a test says so."""
    playing = pytest.importorskip("playwright.sync_api", reason="no playwright here")
    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    if found is None:
        pytest.skip("no browser here: apt-get install chromium")
    with playing.sync_playwright() as play:
        run = play.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield run
        run.close()
