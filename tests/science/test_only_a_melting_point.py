"""A fat of which nothing is known but where it melts."""

import pytest
from msgspec.structs import replace

from optimiser.domain.material import Figure, Ingredient, Origin
from optimiser.reading import read_catalogue, shipped_folder
from optimiser.science.properties import figure

CATALOGUE = read_catalogue(shipped_folder("catalogues"), "demo")
HERE = Origin("own")
OWN = Ingredient("own_butter", "own butter", None, "soft butter", HERE)
MELTS = Figure(30.0, 28.0, 32.0, "degC", "supplier", ("s",), HERE)
KNOWN = replace(
    CATALOGUE,
    ingredients={**CATALOGUE.ingredients, OWN.key: OWN},
    figures={**CATALOGUE.figures, "melting point": {OWN.key: {None: MELTS}}},
)


# It melts at 30 °C, give or take 2: from 32 °C nothing of it is solid, and how much is
# below that does not follow.
@pytest.mark.parametrize(
    ("at", "solid"), [(20.0, None), (31.0, None), (32.0, 0.0), (35.0, 0.0)]
)
def test_nothing_of_a_fat_is_solid_above_where_it_melts(at, solid):
    for name in ("solid fat", "firmness"):
        found = figure(KNOWN, name, OWN.key, at)
        told = None if found is None else (found.value, found.low, found.high)
        assert told == (None if solid is None else (0.0, 0.0, 0.0))


def test_a_curve_goes_before_a_melting_point():
    solid = Figure(9.0, 8.0, 10.0, "%", "measured", ("s",), HERE)
    both = replace(
        KNOWN,
        figures={**KNOWN.figures, "solid fat": {OWN.key: {35.0: solid}}},
    )
    assert figure(both, "solid fat", OWN.key, 35.0) == solid
    assert figure(both, "solid fat", OWN.key, 40.0) is None
