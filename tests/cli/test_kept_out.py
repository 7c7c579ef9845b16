"""A page on a formula names every allergen that is kept out of it."""

import pytest

NUT_FREE = """\
title = "Free of both"
extends = "bar.toml"

[exclude]
allergens = ["tree nut", "peanut"]
"""
ALMOND = """
[base]
"sunflower oil" = 21
"sweet almond oil" = 10
"""


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("", ["Out for 'no tree nut' and 'no peanut': nothing had to go"]),
        (
            ALMOND,
            [
                "Out for 'no tree nut': sweet almond oil",
                "Out for 'no peanut': nothing had to go",
            ],
        ),
    ],
)
@pytest.mark.parametrize("full", [(), ("--full",)])
def test_every_allergen_that_is_kept_out_is_named(run, workspace, more, said, full):
    file = workspace / "scenarios" / "free.toml"
    file.write_text(NUT_FREE + more, encoding="utf-8")
    told = run("formulate", file, *full)
    assert told.code == 0
    lines = [line.strip() for line in told.out.splitlines()]
    assert [line for line in lines if line.startswith("Out for")] == said
