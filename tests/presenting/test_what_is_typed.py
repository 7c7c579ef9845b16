"""What is for who types commands is left out where nobody does, and nothing else."""

from msgspec.structs import replace

from optimiser.presenting.clash import clash_page
from optimiser.presenting.page import Item, Page, Paragraph, section, untyped
from optimiser.presenting.terminal import as_text
from tests.presenting.shown import flat


def plain(page):
    return flat(as_text(replace(page, sections=untyped(page.sections)), 80))


def test_a_search_that_was_ended_is_told_of_where_nobody_types_a_command(clash):
    page = clash_page(replace(clash, cut=True))
    told = flat(as_text(page, 80))
    said = "there may be other ways out, or smaller ones."
    assert f"{said} --thorough looks for them." in told
    assert said in plain(page)
    assert "--" not in plain(page)


def test_what_is_typed_stands_after_the_text_and_alone_makes_no_block():
    page = Page(
        "Title",
        (),
        (
            *section("Mind", [Item("2 more", ("one",), typed="with --full")]),
            *section("", [Paragraph("", typed="Next: `optimiser why`.")]),
        ),
    )
    assert flat(as_text(page, 80)).endswith(
        "2 more with --full one Next: `optimiser why`."
    )
    assert untyped(page.sections) == section("Mind", [Item("2 more", ("one",))])
