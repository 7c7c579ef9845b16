"""What an answer rests on and leaves unsaid: law, prices, figures, rules on nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.properties import property_named
from optimiser.domain.rule import Rule
from optimiser.domain.scenario import Scenario
from optimiser.domain.wording import number
from optimiser.rules import part_amounts
from optimiser.science.mixing import blend_value

__all__ = ["notes", "rule_notes", "unchecked"]


def unchecked(scenario: Scenario, catalogue: Catalogue) -> tuple[str, ...]:
    """Return the markets of a scenario of which the catalogue knows no legal limit."""
    known = {each.market for each in catalogue.substance_limits}
    return tuple(market for market in scenario.markets if market not in known)


def rule_notes(rules: Sequence[Rule], scenario: Scenario) -> tuple[str, ...]:
    """Return notes on rules eased, dropped, or about nothing in the question."""
    told = []
    for rule_id, (limit, origin) in scenario.eased.items():
        if limit is None:
            told.append(f"'{rule_id}' does not count here (dropped in {origin.file})")
    told += [f"eased here: {r.sentence}" for r in rules if r.id in scenario.eased]
    return (
        *told,
        *_about_nothing(rules),
    )


def _about_nothing(rules: Sequence[Rule]) -> tuple[str, ...]:
    return tuple(
        f"'{rule.sentence}' says nothing here: no ingredient that it is about can be"
        " chosen"
        for rule in rules
        if rule.kind in {"window", "ratio", "constituent"}
        and rule.amounts.columns.size == 0
        and rule.per.columns.size == 0
    )


def notes(
    amounts: Mapping[str, float],
    scenario: Scenario,
    catalogue: Catalogue,
    formulas: Mapping[str, Mapping[str, float]] | None = None,
) -> tuple[str, ...]:
    """Return what was not checked.

    Parameters
    ----------
    amounts : mapping of ingredient key to percent
        Of a formula, or the most of each in several.
    formulas : mapping of title to amounts, optional
        The several formulas.
    """
    said = []
    for market in scenario.markets:
        rows = [r for r in catalogue.substance_limits if r.market == market]
        if rows:
            said.append(
                f"{market}: {len(rows)} limits on preservatives and restricted"
                " substances were looked at, from"
                f" {_editions(market, catalogue)}; later amendments may be missing"
            )
        else:
            said.append(f"{market}: no legal limits are in the catalogue; none checked")
    if not scenario.markets:
        said.append("no market is named, so no legal limit was checked")
    unknown = [
        catalogue.ingredients[key].name
        for key, percent in amounts.items()
        if percent > 0.0
        and catalogue.ingredients[key].category in {"scent", "preservative"}
        and not any(key in rows for rows in catalogue.contents.values())
    ]
    if unknown:
        said.append(
            f"the substances in {', '.join(sorted(unknown))} are not known, so limits"
            " on them were not checked: ask for the certificate"
        )
    own = _calibrated(amounts, catalogue)
    if own:
        said.append(
            f"firmness of {', '.join(own)} is as calibrated on the workshop's own"
            " trials (calibration.csv), not as published"
        )
    said += _short_at_an_end(formulas or {"": amounts}, scenario, catalogue)
    if catalogue.prices:
        said.append(
            f"prices are those of workshop '{scenario.workshop}', each at its cheapest"
            " pack per kg; buying for this batch alone may cost more"
        )
    said.append("pH, microbes, stability and packaging were not checked")
    return tuple(said)


def _editions(market: str, catalogue: Catalogue) -> str:
    """Return where a market's limits were read, oldest texts and amendments alike."""
    keys = dict.fromkeys(
        row.source for row in catalogue.substance_limits if row.market == market
    )
    texts = [
        catalogue.sources[key].reference for key in keys if key in catalogue.sources
    ]
    more = f" and {len(texts) - 2} more" if len(texts) > 2 else ""
    return "; ".join(texts[:2]) + more


def _short_at_an_end(
    formulas: Mapping[str, Mapping[str, float]],
    scenario: Scenario,
    catalogue: Catalogue,
) -> list[str]:
    """Say which windows hold at the typical figures but not over their spread.

    Of several formulas the one that is furthest out is told, by its title.
    """
    if scenario.cautious:
        return []
    said = []
    for window in scenario.windows:
        kind = property_named(window.property, catalogue)
        if kind is None:
            continue
        lows, highs = {}, {}
        for title, amounts in formulas.items():
            formula = {key: percent for key, percent in amounts.items() if percent > 0}
            part = part_amounts(scenario, catalogue, formula, window.over)
            if part:
                blend = blend_value(kind, part, window.at, catalogue)
                lows[title], highs[title] = blend.low, blend.high
        at = "" if window.at is None else f" at {number(window.at)} °C"
        name, unit = f"{window.property}{at} over the {window.over}", kind.unit
        least = min(((v, t) for t, v in lows.items() if v is not None), default=None)
        most = max(((v, t) for t, v in highs.items() if v is not None), default=None)
        if window.low is not None and least and least[0] < window.low:
            said.append(_end(name, "low", least, window.low, unit))
        if window.high is not None and most and most[0] > window.high:
            said.append(_end(name, "high", most, window.high, unit))
    return said


def _end(name: str, end: str, worst: tuple[float, str], limit: float, unit: str) -> str:
    value, title = worst
    told = f" {unit}" if unit else ""
    side = "under" if end == "low" else "over"
    whose = f" ({title})" if title else ""
    return (
        f"at the {end} end of its figures {name} would be {value:.3g}{told}{whose},"
        f" {side} the {number(limit)} asked for (cautious = true holds it there)"
    )


def _calibrated(amounts: Mapping[str, float], catalogue: Catalogue) -> list[str]:
    """Return the names of used ingredients with figures from calibration.csv."""
    return [
        catalogue.ingredients[key].name
        for key, percent in amounts.items()
        if percent > 0.0
        and any(
            figure.origin.file.endswith("/calibration.csv")
            for name in ("solid fat", "wax firmness")
            for figure in catalogue.figures.get(name, {}).get(key, {}).values()
        )
    ]
