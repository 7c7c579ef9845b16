"""Whole runs of the command line over workspaces turned wrong."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.fuzz.conftest import tried
from tests.fuzz.mutating import NASTY, edits, mutated
from tests.fuzz.small import workspace
from tests.fuzz.watching import run

BAR = "scenarios/bar.toml"
PACKS = ("--units", "24", "--net", "60g")
# A command, and the files beside the catalogues that it reads.
COMMANDS = (
    (("formulate", BAR, "--csv", "out.csv"), (BAR,)),
    (("formulate", "scenarios/child.toml", "--full"), ("scenarios/child.toml", BAR)),
    (("formulate", "scenarios/assessed.toml", "--json"), ("scenarios/env.toml",)),
    (("check", "formula.csv", BAR), ("formula.csv", BAR)),
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
    (("plan", "scenarios/plan.toml", "--csv", "out.csv"), ("scenarios/plan.toml",)),
    (("buy", BAR, *PACKS), (BAR,)),
    (("cost", BAR, *PACKS), (BAR,)),
    (("batch", BAR, *PACKS, "--csv", "out.csv"), (BAR,)),
    (("label", BAR, "--net", "60g", "--html", "out.html"), (BAR,)),
    (("fill", "weights.csv", "--net", "60g", "--market", "EU"), ("weights.csv",)),
    (("calibrate", "trials.csv", BAR), ("trials.csv",)),
    (("survey", "recipes.csv", "--class", "lotion bar", "--to", "out", "--answers",
      "answers.csv", "--aliases", "names.csv"),
     ("recipes.csv", "recipes.csv", "answers.csv", "names.csv")),
    (("record", "batch", BAR, "sheet.csv"), ("sheet.csv",)),
    (("stock", BAR), (BAR,)),
    (("fats", "formula.csv"), ("formula.csv",)),
    (("pour", BAR), (BAR,)),
    (("report", BAR, "--out", "out.html"), (BAR,)),
    (("begin", ".", "--from", "kitchen.csv", "--product", "lip balm"),
     ("kitchen.csv",)),
    (("catalogue", "check"), ()),
    (("catalogue", "list"), ()),
    (("catalogue", "show", "cocoa butter"), ()),
)  # fmt: skip


class Kitchen:
    """A folder with the small workspace, and the texts of its files."""

    def __init__(self, folder):
        workspace(folder)
        self.folder = folder
        self.texts = {name: (folder / name).read_text("utf-8") for name in self.files()}

    def files(self):
        """Return the names of the files that are there now."""
        found = sorted(self.folder.rglob("*"))
        return [
            path.relative_to(self.folder).as_posix() for path in found if path.is_file()
        ]

    def as_it_was(self, *names):
        """Take out what a run made, put back what it was given, and find no drafts."""
        found = set(self.files())
        for name in found - set(self.texts):
            (self.folder / name).unlink()
        for name in names:
            (self.folder / name).write_text(self.texts[name], "utf-8")
        assert set(self.texts) <= found, "a run took something away"
        drafts = {name for name in found if ".part" in name or ".begin." in name}
        assert not drafts, "a run left something behind"


@pytest.fixture(scope="module")
def kitchen(tmp_path_factory):
    """Return the small workspace in a folder."""
    return Kitchen(tmp_path_factory.mktemp("kitchen"))


@tried(few=40)
@given(
    which=st.integers(0, len(COMMANDS) - 1),
    place=st.floats(0, 1, exclude_max=True),
    changes=edits(most=3),
    shared=st.booleans(),
)
def test_no_file_breaks_a_run(
    kitchen, capsys, monkeypatch, which, place, changes, shared
):
    folder, texts = kitchen.folder, kitchen.texts
    monkeypatch.chdir(folder)
    monkeypatch.setenv("COLUMNS", "80")
    arguments, read = COMMANDS[which]
    names = read
    if shared or not read:
        names = [name for name in texts if name.startswith("catalogues/")]
    name = names[int(place * len(names))]
    given_it = mutated(texts[name], changes, table=name.endswith(".csv"))
    (folder / name).write_bytes(given_it)
    try:
        run(arguments, capsys)
        assert (folder / name).read_bytes() == given_it, "a run changed its input"
    finally:
        kitchen.as_it_was(name)


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
    if arguments[at - 1] in {"--to", "--csv", "--html", "--out"} or arguments[0] in {
        "begin",
        "record",
    }:
        at = 0  # what is written goes where it is taken away again
    arguments[at] = what
    try:
        run(arguments, capsys)
    finally:
        kitchen.as_it_was()
