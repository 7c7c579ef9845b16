"""The steps that amounts are written in, as a scenario file asks for them."""

import pytest

HEAD = 'title = "Bar"\nuse = "leave-on"\nworkshop = "demo"\n[aim]\norder = ["cost"]\n'


def steps(desk, table):
    return desk.scenario(f"{HEAD}[amounts]\n{table}\n").steps


def test_a_step_of_all_and_those_of_categories_and_ingredients(desk):
    found = steps(desk, 'step = 0.5\n"Scent" = 0.1\n"Cocoa Butter" = 1')
    assert found.step == 0.5
    assert dict(found.own) == {"scent": 0.1, "cocoa_butter": 1.0}
    assert found.origin.field.startswith("amounts")


def test_without_the_table_nothing_is_rounded(desk):
    assert desk.scenario(HEAD).steps is None


def test_an_inherited_step_is_replaced_by_its_own_name_and_taken_out(desk):
    desk.write(
        "base.toml", f'{HEAD}[amounts]\nstep = 0.5\nscent = 0.1\n"beeswax" = 1\n'
    )
    text = 'extends = "base.toml"\n[amounts]\nstep = 0.25\nscent = false\n'
    found = desk.scenario(text).steps
    assert (found.step, dict(found.own)) == (0.25, {"beeswax": 1.0})


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("step = 0", "'0' is less than 0.001.\n  To fix: write a number from 0.001 to"),
        ("step = -0.5", "is less than 0.001"),
        (
            "step = 60",
            "'60' is more than 50.\n  To fix: write a number from 0.001 to 50",
        ),
        ("scent = 0.1", "has no step for the other ingredients.\n  To fix: write step"),
        (
            'step = 0.5\n"sceent" = 0.1',
            "'sceent' is not a known category or ingredient",
        ),
        ('step = "half"', "amounts.step"),
        ("step = nan", "amounts.step"),
    ],
)
def test_what_is_no_step_is_told_with_what_would_be_one(desk, table, said):
    assert said in desk.said(f"{HEAD}[amounts]\n{table}\n")
