"""What an answer rests on and leaves open, as values: law, prices, figures, easings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.law import SubstanceLimit
from optimiser.domain.material import UsageLimit
from optimiser.domain.rule import Rule
from optimiser.domain.scenario import Scenario
from optimiser.rules.limits import is_told

__all__ = ["Basis", "LawLine", "basis"]


class LawLine(Struct, frozen=True):
    """A market's limits on substances, for the use that is asked for.

    ``limits`` is how many were looked at; with none of them nothing was checked and
    ``kept`` is None. ``editions`` are the texts that they were read in.
    """

    market: str
    limits: int
    kept: bool | None
    editions: tuple[str, ...]


class Basis(Struct, frozen=True):
    """What some formulas rest on.

    ``unknown_contents`` names scents and preservatives of whose substances nothing is
    known, so that limits on them were not checked; ``calibrated`` what is as firm as
    the workshop's own trials say. ``workshop`` is whose prices are told, None where
    there are none. ``dropped`` are the ids of rules that do not count here, each with
    the file that says so; ``eased`` rules whose limit was moved there; ``silent``
    rules about nothing that can be chosen. ``cautious`` says that windows hold at the
    worse end of each figure. ``invented`` tells how many prices are: "all" or "some";
    ``by_spoon`` names what is priced by volume and has no density of its own.
    ``beyond`` are habits that a formula goes beyond, which are told and not enforced,
    each with the name and percent.
    """

    law: tuple[LawLine, ...]
    unknown_contents: tuple[str, ...]
    calibrated: tuple[str, ...]
    workshop: str | None
    dropped: tuple[tuple[str, str], ...]
    eased: tuple[Rule, ...]
    silent: tuple[Rule, ...]
    cautious: bool
    beyond: tuple[tuple[str, float, UsageLimit], ...] = ()
    invented: str | None = None
    by_spoon: tuple[str, ...] = ()


def basis(
    amounts: Mapping[str, float],
    scenario: Scenario,
    catalogue: Catalogue,
    rules: Iterable[Rule] = (),
    broken: Iterable[Rule] = (),
) -> Basis:
    """Return what a formula rests on.

    Parameters
    ----------
    amounts : mapping of ingredient key to percent
        Of a formula, or the most of each in several.
    rules, broken : iterable of Rule
        The rules that it was held against, and those of them that it breaks.
    """
    rules = tuple(rules)
    unlawful = [rule.about for rule in broken if rule.owner == "law"]
    used = [key for key, percent in amounts.items() if percent > 0.0]
    return Basis(
        law=tuple(
            _law(market, scenario, catalogue, unlawful) for market in scenario.markets
        ),
        unknown_contents=tuple(
            sorted(
                catalogue.ingredients[key].name
                for key in used
                if catalogue.ingredients[key].category in {"scent", "preservative"}
                and not any(key in rows for rows in catalogue.contents.values())
            )
        ),
        calibrated=tuple(
            catalogue.ingredients[key].name
            for key in used
            if _is_calibrated(key, catalogue)
        ),
        workshop=scenario.workshop if catalogue.prices else None,
        dropped=tuple(
            (rule_id, origin.file)
            for rule_id, (limit, origin) in scenario.eased.items()
            if limit is None
        ),
        eased=tuple(rule for rule in rules if rule.eased_from is not None),
        silent=tuple(rule for rule in rules if rule.empty and rule.told_empty),
        cautious=scenario.cautious,
        beyond=tuple(
            (catalogue.ingredients[usage.ingredient].name, percent, usage)
            for usage in catalogue.limits
            if (percent := amounts.get(usage.ingredient, 0.0)) > (usage.high or 100.0)
            and usage.use in {"any", scenario.use}
            and is_told(usage, catalogue)
        ),
        invented=catalogue.invented_prices,
        by_spoon=tuple(
            catalogue.ingredients[key].name
            for key in used
            if key not in catalogue.figures.get("density", {})
            and any(pack.by_volume for pack in catalogue.prices.get(key, ()))
        ),
    )


def _law(
    market: str, scenario: Scenario, catalogue: Catalogue, unlawful: Sequence[object]
) -> LawLine:
    rows = [
        row
        for row in catalogue.substance_limits
        if row.market == market and row.use in {"any", scenario.use}
    ]
    sources = dict.fromkeys(row.source for row in rows)
    kept = not any(
        isinstance(each, SubstanceLimit) and each.market == market for each in unlawful
    )
    return LawLine(
        market,
        len(rows),
        kept if rows else None,
        tuple(
            catalogue.sources[key].reference
            for key in sources
            if key in catalogue.sources
        ),
    )


def _is_calibrated(key: str, catalogue: Catalogue) -> bool:
    """Whether some figure of an ingredient comes from the workshop's calibration."""
    return any(
        figure.calibrated
        for name in ("solid fat", "wax firmness")
        for figure in catalogue.figures.get(name, {}).get(key, {}).values()
    )
