"""Kinds of product, by the words that makers use for them."""

import pytest

from optimiser.domain.products import KINDS, NAMES, holds_for, kinds_of, kinds_told
from optimiser.domain.spoken import use_of


@pytest.mark.parametrize(
    ("product", "use", "kinds"),
    [
        ("Lip balm, tinted", "leave-on", ("lip",)),
        ("lip scrub", "rinse-off", ("lip",)),
        ("under-eye balm", "leave-on", ("eye area",)),
        ("deodorant stick", "leave-on", ("deodorant",)),
        ("nappy balm", "leave-on", ("baby under 3", "body leave-on")),
        ("baby wash bar", "rinse-off", ("baby under 3", "rinse-off body")),
        ("kids' lip balm", "leave-on", ("child 3 to 6", "lip")),
        ("beard oil", "leave-on", ("hair",)),
        ("shampoo bar", "rinse-off", ("hair",)),
        ("foot balm", "leave-on", ("hand and foot",)),
        ("foot scrub bar", "rinse-off", ("hand and foot", "rinse-off body")),
        ("bath melt", "rinse-off", ("bath",)),
        ("face oil", "leave-on", ("face",)),
        ("face scrub", "rinse-off", ("rinse-off face",)),
        ("massage bar", "leave-on", ("body leave-on",)),
        ("sugar scrub cubes", "rinse-off", ("rinse-off body",)),
        ("hand and foot: winter stick", "leave-on", ("hand and foot",)),
        (None, "leave-on", ("body leave-on",)),
    ],
)
def test_a_products_name_and_use_tell_its_kinds(product, use, kinds):
    assert kinds_of(product, use) == kinds


@pytest.mark.parametrize("name", NAMES)
def test_every_kind_is_understood_by_its_own_name(name):
    assert kinds_told(name)[-1] == name


@pytest.mark.parametrize("product", ["eclipse bar", "handmade bar", "slipper wax"])
def test_part_of_a_word_tells_no_kind(product):
    assert kinds_told(product) == ()


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind.use])
def test_the_use_follows_from_a_kind(kind):
    assert use_of(kind.name) == kind.use


def test_a_row_holds_for_its_kinds_and_not_for_those_left_out():
    assert holds_for(("hand and foot", "rinse-off body"), ("rinse-off body",))
    assert not holds_for(("body leave-on",), ("lip", "face"))
    assert not holds_for(("baby under 3", "body leave-on"), (), but=("baby under 3",))
