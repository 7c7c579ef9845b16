"""The cautions that a formula calls for."""

from __future__ import annotations

from collections.abc import Mapping

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.scenario import Scenario

__all__ = ["cautions"]

ALWAYS = (
    "Decision aid only: the figures are starting points from public sources. Local"
    " law and the supplier's documents for your lot come first. In the EU and GB a"
    " cosmetic needs a safety report by a qualified assessor before sale; elsewhere"
    " you must be able to substantiate it.",
    "The model says; make 100 g and test, also warm (a hot room, a pocket) and after"
    " freezing and thawing.",
)
BY_TAG = {
    "slips": "Oils and butters make tubs and trays slippery: say so on the label.",
    "dust": "Powders: wear a mask, weigh gently, keep dust out of the air.",
    "sun": "Cold-pressed citrus can burn skin in sunlight: keep under its limit or"
    " use a furocoumarin-free oil.",
    "children": "Strong essential oils are not for babies and small children, nor in"
    " pregnancy without expert advice.",
    "eyes": "Keep away from the eyes.",
    "heat": "Hot oil and wax burn skin: water bath, never direct heat, never"
    " unattended.",
    "food-look": "May look or smell like food: label it and keep it from children.",
    "sensitiser": "May cause an allergic reaction: patch test on the forearm for 48"
    " hours; passing it does not rule out a later allergy.",
    "broken-skin": "Not on broken or freshly shaved skin.",
}
WATER = (
    "Water, or wet hands, means preservation: it must be proven in the finished"
    " product by a challenge test and the right pH. An antioxidant does not count."
)
NUT = (
    "'Free from' wording is a promise about lots, shared equipment and cleaning, not"
    " only about a recipe: ask each supplier, and do not print it from a list."
)
SCENT = (
    "Natural does not mean gentle: essential oils hold the listed allergens. A"
    " supplier's certificate for the lot comes before the typical figures used here."
)


def cautions(
    amounts: Mapping[str, float], scenario: Scenario, catalogue: Catalogue
) -> tuple[str, ...]:
    """Return the cautions for the ingredients used, general ones first."""
    used = [catalogue.ingredients[key] for key, p in amounts.items() if p > 0.0]
    categories = {ingredient.category for ingredient in used}
    said = list(ALWAYS)
    if categories & {"hard butter", "soft butter", "wax"}:
        said.append(BY_TAG["heat"])
    if categories & {"hard butter", "soft butter", "liquid oil"}:
        said.append(BY_TAG["slips"])
    if categories & {"exfoliant", "powder", "surfactant"}:
        said.append(BY_TAG["dust"])
    if categories & {"water", "humectant", "exfoliant"} or scenario.use == "rinse-off":
        said.append(WATER)
    if "scent" in categories:
        said += [SCENT, BY_TAG["sensitiser"]]
    if scenario.exclude.allergens:
        said.append(NUT)
    for ingredient in used:
        said += [BY_TAG[tag] for tag in ingredient.cautions if tag in BY_TAG]
    return tuple(dict.fromkeys(said))
