"""Names that would steer a terminal, a browser or a spreadsheet, in every command."""

import csv
import io
import re
import zipfile

import pytest

from tests.fuzz.conftest import INPUTS
from tests.fuzz.small import MORE
from tests.fuzz.test_fuzz_command_line import COMMANDS, SPREADSHEETS, Kitchen
from tests.fuzz.watching import run, unseen
from tests.fuzz.workbooks import as_workbook

NAMES = {
    "unseen": "x\x1b[31m\x1b]0;t\x07\x9b1m\u202egpj\u2066y\u2069\u200b\ufeff\u00ad",
    "sum": '=HYPERLINK("http://127.0.0.1","x")',
    "tag": "<script>alert(1)</script><img src=x onerror=y>\"'",
    "long": "a long name " * 300,
}
NAMES["all of it"] = "".join([NAMES["sum"], NAMES["unseen"], NAMES["tag"]])
# With FUZZ_INPUTS each is tried by itself.
TRIED = NAMES if INPUTS else ["all of it"]
# What makers name: ingredients, scenarios, reasons, lots, notes, classes.
NAMED = (
    "cocoa butter", "Small bar", "snap", "A2", "book", "lotion bar", "A kitchen",
    "block", "my acid", "A shop", "Order", "wrap", "in the sun", "it slips",
    "wipe the floor",
)  # fmt: skip


def renamed(content, suffix, name):
    """Return the bytes of a file with everything that makers name called so."""
    text = content.decode("utf-8")
    if suffix == ".csv":
        rows = list(csv.reader(io.StringIO(text, newline="")))
        out = io.StringIO()
        changed = [[name if cell in NAMED else cell for cell in row] for row in rows]
        csv.writer(out, lineterminator="\n").writerows(changed)
        return out.getvalue().encode()
    signs = {sign: f"\\u{ord(sign):04x}" for sign in unseen(name) | {'"'}}
    written = "".join(signs.get(sign, sign) for sign in name)
    for each in NAMED:
        text = text.replace(f'"{each}"', f'"{written}"')
    return text.encode()


@pytest.fixture(scope="module", params=TRIED)
def hostile(request, tmp_path_factory):
    """Return a workspace in which all is called so, and how."""
    kitchen = Kitchen(tmp_path_factory.mktemp("hostile"))
    name = NAMES[request.param]
    for file in [*MORE, "scenarios/bar.toml", *kitchen.held]:
        path = kitchen.folder / file
        if path.suffix in {".csv", ".toml", ".json"}:
            path.write_bytes(renamed(kitchen.held[file], path.suffix, name))
    for file, tables in SPREADSHEETS.items():
        texts = {x: (kitchen.folder / y).read_text("utf-8") for x, y in tables.items()}
        (kitchen.folder / file).write_bytes(as_workbook(texts))
    kitchen.held = {
        file: (kitchen.folder / file).read_bytes() for file in kitchen.files()
    }
    return kitchen, name


def test_no_name_steers_what_it_is_shown_in(hostile, capsys, monkeypatch):
    kitchen, name = hostile
    monkeypatch.chdir(kitchen.folder)
    monkeypatch.setenv("COLUMNS", "80")
    answered = 0
    for arguments, _ in COMMANDS:
        asked = [name if each in NAMED else each for each in arguments]
        code, out, _ = run(asked, capsys)
        answered += code in {0, 3}
        if "--json" not in asked:
            assert max(map(len, out.splitlines()), default=0) <= 120, asked
        for file in set(kitchen.files()) - set(kitchen.held):
            looked_at(kitchen.folder / file)
        kitchen.as_it_was()
    assert answered > len(COMMANDS) // 2


def looked_at(path):
    """See that a file that was written holds no name that does anything."""
    if path.suffix == ".xlsx":
        with zipfile.ZipFile(path) as packed:
            parts = [packed.read(each).decode("utf-8") for each in packed.namelist()]
        assert not any("<f>" in each or "<hyperlink" in each for each in parts), path
        assert not any(unseen(each) - {"\r"} for each in parts), path
        return
    text = path.read_text("utf-8-sig")
    assert not unseen(text), path
    if path.suffix == ".html":
        assert "<script>alert" not in text, path
        assert "<img src=x" not in text, path
    elif path.suffix == ".csv":
        for row in csv.reader(io.StringIO(text, newline="")):
            for cell in row:
                number = re.fullmatch(r"-?[\d.]+(e-?\d+)?", cell)
                assert number or cell.lstrip()[:1] not in tuple("=+-@"), (path, cell)
