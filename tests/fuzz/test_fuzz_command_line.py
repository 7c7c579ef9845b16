"""Whole runs of the command line over workspaces turned wrong."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.reading.records import FILE
from tests.fuzz import books
from tests.fuzz.conftest import tried
from tests.fuzz.mutating import NASTY, edits, mutated
from tests.fuzz.small import workspace
from tests.fuzz.watching import run
from tests.fuzz.workbooks import as_workbook, changes_of_parts, turned

BAR = "scenarios/bar.toml"
OTHER = "scenarios/other.toml"
DEMO = "catalogues/workshops/demo"
BOOK = f"{DEMO}/{FILE}"
PACKS = ("--units", "24", "--net", "60g")
BOOKS = (("record", "list", "--full"), ("record", "show", "B0", "--full"),
         ("record", "show", "b1", "--json"), ("record", "export", "out.csv"),
         ("record", "export", "out.csv", "--trials"), ("trace", "B0"),
         ("trace", "B1/7", "--full"), ("trace", "A2", "--json"),
         ("record", "add", "B0", "--note", "pale"),
         ("record", "correct", "3", "--to", "112 g"))  # fmt: skip
# A command, and the files beside the catalogues that it reads.
COMMANDS = (
    (("formulate", BAR, "--csv", "out.csv"), (BAR,)),
    (("formulate", BAR, "--csv", "out.xlsx"), (BAR,)),
    (("formulate", "scenarios/child.toml", "--full"), ("scenarios/child.toml", BAR)),
    (("formulate", "scenarios/assessed.toml", "--json"), ("scenarios/env.toml",)),
    (("formulate", OTHER, "--full"), (OTHER, OTHER)),
    (("check", "formula.csv", OTHER, "--full"), (OTHER,)),
    (("label", OTHER, "--net", "60g", "--lot", "L1"), (OTHER, f"{DEMO}/scale.toml")),
    (("cost", OTHER, *PACKS), (OTHER, f"{DEMO}/costs.toml")),
    (("check", "formula.csv", BAR), ("formula.csv", BAR)),
    (("check", "formula.xlsx", BAR, "--out", "out.html"), ("formula.xlsx",)),
    (("check", "kitchen.csv", BAR, "--full"), ("kitchen.csv",)),
    (("check", "formula.toml", BAR), ("formula.toml",)),
    (("check", "formula.json", "--market", "EU", "--product", "lip balm"),
     ("formula.json",)),
    (("why", BAR), (BAR,)),
    (("variants", BAR, "--theme", "scenarios/theme.toml"), ("scenarios/theme.toml",)),
    (("variants", BAR, "--count", "2"), (BAR,)),
    (("substitute", BAR, "--without", "beeswax"), (BAR,)),
    (("sweep", "scenarios/grid.toml", "--to", "out.csv"),
     ("scenarios/grid.toml", "scenarios/months.csv")),
    (("tradeoff", BAR, "--csv", "out.xlsx"), (BAR,)),
    (("robust", BAR, "--draws", "200", "--budget", "1"), (BAR,)),
    (("plan", "scenarios/plan.toml", "--csv", "out.csv"), ("scenarios/plan.toml",)),
    (("buy", BAR, *PACKS, "--csv", "out.xlsx"), (BAR,)),
    (("cost", BAR, *PACKS, "--price", "8.50"), (BAR, f"{DEMO}/costs.toml")),
    (("batch", BAR, *PACKS, "--csv", "out.csv"), (BAR, f"{DEMO}/scale.toml")),
    (("batch", BAR, *PACKS, "--out", "out.xlsx"), (BAR, f"{DEMO}/stock.csv")),
    (("label", BAR, "--net", "60g", "--size", "60 x 40 mm", "--html", "out.html"),
     (BAR,)),
    (("fill", "weights.csv", "--net", "60g", "--market", "EU"), ("weights.csv",)),
    (("fill", "weights.xlsx", "--net", "60g", "--market", "EU"), ("weights.xlsx",)),
    (("fill", BAR, "--net", "60g", "--spread", "1.2 g"), (BAR, f"{DEMO}/scale.toml")),
    (("calibrate", "trials.csv", BAR), ("trials.csv",)),
    (("calibrate", "trials.xlsx", BAR), ("trials.xlsx",)),
    (("trials", BAR, "--bars", "2", "--write", "out.csv"), (BAR,)),
    (("survey", "recipes.csv", "--class", "lotion bar", "--to", "out", "--answers",
      "answers.csv", "--aliases", "names.csv"),
     ("recipes.csv", "recipes.csv", "answers.csv", "names.csv")),
    (("survey", "recipes.xlsx", "--class", "lotion bar"), ("recipes.xlsx",)),
    (("record", "batch", BAR, "sheet.csv"), ("sheet.csv", "sheet.csv", BOOK)),
    (("record", "batch", BAR, "sheet.xlsx"), ("sheet.xlsx",)),
    (("record", "weights", "B1", "weights.csv"), ("weights.csv", BOOK)),
    *((asked, (BOOK,)) for asked in BOOKS),
    (("stock", BAR), (BAR, BOOK)),
    (("fats", "formula.csv"), ("formula.csv",)),
    (("pour", BAR), (BAR,)),
    (("report", BAR, "--out", "out.html"), (BAR,)),
    (("report", BAR, "--out", "out.xlsx"), (BAR,)),
    (("begin", ".", "--from", "kitchen.csv", "--product", "lip balm"),
     ("kitchen.csv",)),
    (("begin", ".", "--from", "kitchen.xlsx", "--product", "lip balm"),
     ("kitchen.xlsx",)),
    (("catalogue", "check"), ()),
    (("catalogue", "list"), ()),
    (("catalogue", "show", "cocoa butter"), ()),
    (("catalogue", "workbook", "out.xlsx"), ()),
    (("catalogue", "workbook", "own.xlsx", "--take"), ("own.xlsx",)),
)  # fmt: skip
# Those that write where no option says so; what they wrote is put back.
WRITE = ("begin", "record", "catalogue")
SPREADSHEETS = {
    "formula.xlsx": {"table": "formula.csv"},
    "kitchen.xlsx": {"table": "kitchen.csv"},
    "recipes.xlsx": {"table": "recipes.csv"},
    "trials.xlsx": {"table": "trials.csv"},
    "weights.xlsx": {"table": "weights.csv"},
    "sheet.xlsx": {"table": "sheet.csv"},
    "own.xlsx": {"prices": f"{DEMO}/prices.csv", "stock": f"{DEMO}/stock.csv"},
}


class Kitchen:
    """A folder with the small workspace, and the bytes of its files."""

    def __init__(self, folder):
        workspace(folder)
        for name, tables in SPREADSHEETS.items():
            texts = {
                x: (folder / file).read_text("utf-8") for x, file in tables.items()
            }
            (folder / name).write_bytes(as_workbook(texts))
        books.book(folder / BOOK)
        (folder / "catalogues" / "workspace.toml").write_text('workshop = "demo"\n')
        self.folder = folder
        self.held = {name: (folder / name).read_bytes() for name in self.files()}

    def files(self):
        """Return the names of the files that are there now."""
        found = sorted(self.folder.rglob("*"))
        return [
            path.relative_to(self.folder).as_posix() for path in found if path.is_file()
        ]

    def turn(self, name, changes, parts, entries):
        """Turn a file wrong, each kind in its way, and return its bytes."""
        path = self.folder / name
        if name == BOOK:
            books.turn(path, entries)
        elif name in SPREADSHEETS:
            path.write_bytes(turned(self.held[name], parts))
        else:
            text, table = self.held[name].decode("utf-8"), name.endswith(".csv")
            path.write_bytes(mutated(text, changes, table=table))
        return path.read_bytes()

    def as_it_was(self):
        """Take out what a run made, put back what it was given, and find no drafts."""
        found = set(self.files())
        for name in found - set(self.held):
            (self.folder / name).unlink()
        for name, content in self.held.items():
            path = self.folder / name
            if not path.exists() or path.read_bytes() != content:
                path.write_bytes(content)
        assert set(self.held) <= found, "a run took something away"
        drafts = {name for name in found if ".part" in name or ".begin." in name}
        assert not drafts, "a run left something behind"


@pytest.fixture(scope="module")
def kitchen(tmp_path_factory):
    """Return the small workspace in a folder."""
    return Kitchen(tmp_path_factory.mktemp("kitchen"))


def test_every_command_answers_in_the_whole_workspace(kitchen, capsys, monkeypatch):
    monkeypatch.chdir(kitchen.folder)
    monkeypatch.setenv("COLUMNS", "80")
    for arguments, _ in COMMANDS:
        code, _, told = run(arguments, capsys)
        kitchen.as_it_was()
        assert code in {0, 3} or (code, arguments[0]) == (1, "check"), (arguments, told)


@tried(few=40)
@given(
    which=st.integers(0, len(COMMANDS) - 1),
    place=st.floats(0, 1, exclude_max=True),
    changes=edits(most=3),
    parts=changes_of_parts(most=2),
    entries=books.changes_of_book(most=2),
    shared=st.integers(0, 3),
)
def test_no_file_breaks_a_run(
    kitchen, capsys, monkeypatch, which, place, changes, parts, entries, shared
):
    folder = kitchen.folder
    monkeypatch.chdir(folder)
    monkeypatch.setenv("COLUMNS", "80")
    arguments, names = COMMANDS[which]
    if not shared or not names:
        names = [
            name
            for name in kitchen.held
            if name.startswith("catalogues/") and name != BOOK
        ]
    name = names[int(place * len(names))]
    given_it = kitchen.turn(name, changes, parts, entries)
    try:
        run(arguments, capsys)
        if arguments[0] not in WRITE:
            assert (folder / name).read_bytes() == given_it, "a run changed its input"
    finally:
        kitchen.as_it_was()


@tried(few=40)
@given(
    which=st.integers(0, len(COMMANDS) - 1),
    place=st.floats(0, 1, exclude_max=True),
    what=st.sampled_from(NASTY).filter(lambda text: "\0" not in text)
    | st.text(
        st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=9
    ),
)
def test_no_argument_breaks_a_run(kitchen, capsys, monkeypatch, which, place, what):
    monkeypatch.chdir(kitchen.folder)
    monkeypatch.setenv("COLUMNS", "80")
    arguments = list(COMMANDS[which][0])
    at = 1 + int(place * (len(arguments) - 1))
    written = {"--to", "--csv", "--html", "--out", "--write", "export", "workbook"}
    if arguments[at - 1] in written or arguments[0] == "begin":
        at = 0  # what is written goes where it is taken away again
    arguments[at] = what
    try:
        run(arguments, capsys)
    finally:
        kitchen.as_it_was()
