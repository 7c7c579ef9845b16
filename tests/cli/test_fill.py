"""``optimiser fill`` from the maker's side."""

import json

import pytest

SPREAD = ("--net", "60 g", "--spread", "1.2 g")
WEIGHTS = [60.1, 60.3, 59.8, 60.6, 60.2, 60.0, 59.9, 60.4]


def table(folder, head, rows):
    text = "\n".join([head, *rows]) + "\n"
    (folder / "weights.csv").write_text(text, encoding="utf-8")
    return "weights.csv"


def test_a_target_stands_beside_the_flat_overfill(run, workspace):  # noqa: ARG001
    told = run("fill", "scenarios/bar.toml", *SPREAD, "--a-year", 1000)
    assert told.code == 0
    lines = told.out.splitlines()
    assert lines[2].startswith("Fill to 60.5 g (0.8 % over)")
    assert "A flat 10 % over, as is common, is 66 g." in " ".join(lines[2:4])
    assert "given away in 1000 packs" in told.out


def test_the_cost_of_a_year_is_the_formula_s(run, workspace):  # noqa: ARG001
    found = json.loads(run("fill", "scenarios/bar.toml", *SPREAD, "--json").out)
    made = json.loads(run("formulate", "scenarios/bar.toml", "--json").out)
    assert found["cost_per_kg"] == pytest.approx(made["cost_per_kg"])
    assert [each["market"] for each in found["targets"]] == ["EU"]


def test_an_unknown_spread_is_not_taken_as_none(run, workspace):  # noqa: ARG001
    told = run("fill", "scenarios/bar.toml", "--net", "60 g")
    assert "How much your fills vary is not known" in told.out
    assert "A YEAR OF IT" not in told.out


def test_a_filled_batch_is_judged(run, workspace):
    file = table(workspace, "net", map(str, WEIGHTS))
    good = run("fill", file, "--net", "60 g", "--market", "UK", "--market", "US")
    assert good.code == 0
    assert "GB: these packs keep the rules that were checked." in good.out
    file = table(workspace, "net", map(str, [*WEIGHTS, 50.0]))
    bad = run("fill", file, "--net", "60 g")
    assert bad.code == 1
    assert "EU: NOT kept:" in bad.out
    assert "Do not sell the 9th pack (row 10) as 60 g" in bad.out


def test_a_pack_that_is_short_is_called_as_the_table_names_it(run, workspace):
    rows = [f"{each},{place}" for place, each in enumerate([*WEIGHTS, 50.0], start=2)]
    file = table(workspace, "net,unit", rows)
    told = run("fill", file, "--net", "60 g").out
    assert "Do not sell unit 10 as 60 g" in told
    assert "row" not in told


def test_gross_weights_need_what_an_empty_pack_weighs(run, workspace):
    file = table(workspace, "gross", [str(each + 3) for each in WEIGHTS])
    told = run("fill", file, "--net", "60 g")
    assert told.code == 1
    assert "what an empty pack weighs is not known" in told.err
    told = run("fill", file, "--net", "60 g", "--tare", "a jar")
    assert told.code == 1
    assert "option --tare: 'a jar'" in told.err
    assert 'like "3.2 g"' in told.err
    assert run("fill", file, "--net", "60 g", "--tare", "3 g").code == 0
    file = table(workspace, "gross,tare", [f"{each + 3},3 g" for each in WEIGHTS])
    assert run("fill", file, "--net", "60 g").code == 0


def test_every_row_that_is_no_weight_is_told(run, workspace):
    file = table(workspace, "net", ["60", "", "sixty", "-3", "61 furlongs", "1e9"])
    told = run("fill", file, "--net", "60 g")
    assert told.code == 1
    for row in (4, 5, 6, 7):
        assert f"weights.csv, row {row}, column net" in told.err


@pytest.mark.parametrize(
    ("arguments", "wrong"),
    [
        (("--net", "60"), "--net"),
        (("--net", "0 g"), "is no such mass"),
        (("--net", "60 g", "--market", "XX"), "has no rules on net content"),
        (("--net", "60 g", "--spread", "much"), "--spread"),
    ],
)
def test_what_is_no_amount_or_market_is_told(run, workspace, arguments, wrong):  # noqa: ARG001
    told = run("fill", "scenarios/bar.toml", *arguments)
    assert told.code == 1
    assert wrong in told.err


def test_fewer_packs_than_were_weighed_are_refused(run, workspace):
    file = table(workspace, "net", map(str, WEIGHTS))
    told = run("fill", file, "--net", "60 g", "--packs", 3)
    assert told.code == 1
    assert "is less than the 8 packs that were weighed" in told.err


def test_what_no_rule_covers_is_not_said_to_be_kept(run, workspace):
    sure = run("fill", "scenarios/bar.toml", "--net", "4.25 g", "--spread", "0.16 g")
    assert "No rule of the catalogues covers 4.25 g: NOT checked." in sure.out
    assert "under 5 g no net content need stand on a cosmetic" in sure.out
    assert "95 %" not in sure.out
    file = table(workspace, "net", ["4.3", "4.26", "4.31"])
    judged = run("fill", file, "--net", "4.25 g")
    assert judged.code == 1
    assert "covers 4.25 g: NOT checked" in judged.out
    open_still = run("fill", "scenarios/bar.toml", "--net", "4.25 g", "--market", "CA")
    assert "0.021" in open_still.out


def test_a_batch_has_as_many_packs_as_it_fills(run, workspace):  # noqa: ARG001
    told = run("fill", "scenarios/bar.toml", *SPREAD)
    assert "60 g net (2.12 oz); 17 packs a batch" in told.out
