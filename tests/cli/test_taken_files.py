"""A file that something else wrote is refused before any work is done."""

import pytest

HELD = "ingredient,pack,unit,price\ncocoa butter,1,kg,22.4\n"
# Command line, and what does the work.
ASKED = (
    (("formulate",), "optimiser.explaining.formulate"),
    (("variants",), "optimiser.studies.variants.variants"),
    (
        ("substitute", "--without", "beeswax", "--with", "candelilla wax"),
        "optimiser.studies.substitute.substitute",
    ),
)
SIZE = ("--units", "6", "--net", "60 g")
MORE = (
    (("stock",), "optimiser.studies.stock.stock"),
    (("robust",), "optimiser.studies.robust.robust"),
    (("tradeoff",), "optimiser.studies.tradeoff.tradeoff"),
    (("batch", *SIZE), "optimiser.workshop.batch.batch_sheet"),
    (("cost", *SIZE), "optimiser.workshop.cost.cost_sheet"),
)


@pytest.mark.parametrize(("names", "work"), [*ASKED, *MORE])
def test_a_price_list_is_not_taken_for_a_table_of_ours(
    run, workspace, monkeypatch, names, work
):
    monkeypatch.setattr(work, None)
    (workspace / "prices.csv").write_text(HELD, encoding="utf-8")
    command, *options = names
    done = run(command, "scenarios/bar.toml", *options, "--csv", "prices.csv")
    assert (done.code, done.out) == (1, "")
    assert "prices.csv: is there already and was written by something else" in done.err
    assert (workspace / "prices.csv").read_text("utf-8") == HELD


@pytest.mark.parametrize(("names", "work"), ASKED)
def test_a_table_of_ours_is_replaced(run, workspace, names, work):  # noqa: ARG001
    command, *options = names
    asked = (command, "scenarios/bar.toml", *options, "--csv", "mine.csv")
    assert [run(*asked).code for _ in range(2)] == [0, 0]
    assert (workspace / "mine.csv").read_text("utf-8-sig").count("\n") > 3
