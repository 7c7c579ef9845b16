"""What a fat is made of, and whether that agrees with its table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from optimiser.presenting.page import Item
from optimiser.presenting.words import evidence_words, listed, plural, short
from optimiser.science.fatty_acids import Implied, iodine_value, saponification

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.domain.fats import AcidShare

__all__ = ["makeup_data", "makeup_items", "profiles"]

CHECKED = {"iodine value": iodine_value, "saponification value": saponification}
# A wax ester is no triglyceride, so its acids alone say neither value.
NOT_GLYCERIDES = frozenset({"jojoba_oil"})


def profiles(catalogue: Catalogue, key: str) -> dict[str, list[AcidShare]]:
    """Return the fatty-acid profiles of an ingredient, by variant."""
    found: dict[str, list[AcidShare]] = {}
    for each in catalogue.fats.acids.get(key, ()):
        found.setdefault(each.variant, []).append(each)
    return found


def _implied(
    catalogue: Catalogue, key: str, acids: Sequence[AcidShare]
) -> dict[str, Implied]:
    free = catalogue.ingredients[key].category == "fatty alcohol"
    if key in NOT_GLYCERIDES:
        return {}
    told = {name: work(acids, free=free) for name, work in CHECKED.items()}
    return {name: each for name, each in told.items() if each is not None}


def makeup_items(catalogue: Catalogue, key: str, used: dict[str, None]) -> list[Item]:
    """Return fatty acids, what they imply, and triglycerides; notes the sources."""
    found: list[Item] = []
    for variant, acids in profiles(catalogue, key).items():
        sources = dict.fromkeys(each.source for each in acids)
        used.update(sources)
        told = ", ".join(f"{each.acid} {_range(each.low, each.high)}" for each in acids)
        name = f"fatty acids ({variant})" if variant else "fatty acids"
        checks = _implied(catalogue, key, acids).items()
        under = tuple(_check(catalogue, key, value, each) for value, each in checks)
        found.append(Item(f"{name}, %: {told}; {listed(sources)}", under))
    made = catalogue.fats.triglycerides.get(key)
    if made:
        largest = sorted(made.items(), key=lambda pair: -pair[1])[:5]
        told = ", ".join(f"{name} {short(share)}" for name, share in largest)
        known = evidence_words(catalogue.fats.evidence.get(key, ""))
        rows = plural(len(made), "row")
        found.append(Item(f"triglycerides, % ({rows}; {known}): {told}"))
    return found


def _range(low: float, high: float) -> str:
    return short(low) if low == high else f"{short(low)}-{short(high)}"


def _check(catalogue: Catalogue, key: str, name: str, implied: Implied) -> str:
    told = (
        f"{name} worked out from these: {short(implied.value, 3)}"
        f" ({short(implied.low, 3)} to {short(implied.high, 3)})"
    )
    figure = catalogue.figures.get(name, {}).get(key, {}).get(None)
    if figure is None:
        return told
    table = f"the table has {short(figure.low, 3)} to {short(figure.high, 3)}"
    apart = implied.low > figure.high or implied.high < figure.low
    return f"{told}; {table}{', which they do not reach' if apart else ''}"


def makeup_data(catalogue: Catalogue, key: str) -> dict[str, Any]:
    """Return fatty acids by variant, what they imply, and triglycerides."""
    return {
        "fatty_acids": [
            {
                "variant": name or None,
                "acids": acids,
                "implied": _implied(catalogue, key, acids),
            }
            for name, acids in profiles(catalogue, key).items()
        ],
        "triglycerides": catalogue.fats.triglycerides.get(key, {}),
        "solutes": catalogue.fats.solutes.get(key, ()),
    }
