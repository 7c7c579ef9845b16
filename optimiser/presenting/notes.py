"""What an answer rests on and leaves open, in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from optimiser.presenting.words import listed, plural, short

if TYPE_CHECKING:
    from optimiser.explaining.answer import PropertyLine
    from optimiser.explaining.basis import Basis, LawLine

__all__ = ["law_line", "notes"]

UNCHECKED = "pH, microbes, stability and packaging were not checked"


def law_line(line: LawLine) -> str:
    """Return what was checked of a market's law, with the edition, in one line.

    >>> from optimiser.explaining.basis import LawLine
    >>> law_line(LawLine("CA", 0, None, ()))
    'CA: NOT checked, for none of its limits are in the catalogues'
    """
    if not line.limits:
        told = "NOT checked, for none of its limits are in the catalogues"
        return f"{line.market}: {told}"
    kept = "kept" if line.kept else "looked at, NOT all kept"
    told = f"{line.market}: {plural(line.limits, 'limit')} {kept}"
    if not line.editions:
        return told
    more = len(line.editions) - 1
    return f"{told} ({line.editions[0]}{f' and {more} more' if more else ''})"


def notes(
    basis: Basis, formulas: Sequence[tuple[str, Sequence[PropertyLine]]]
) -> tuple[str, ...]:
    """Return what a reader must know beside the figures.

    Parameters
    ----------
    formulas : sequence of (title, properties)
        The formulas that are shown; one alone needs no title.
    """
    return tuple(_notes(basis, formulas))


def _notes(
    basis: Basis, formulas: Sequence[tuple[str, Sequence[PropertyLine]]]
) -> Iterator[str]:
    for rule_id, file in basis.dropped:
        yield f"'{rule_id}' does not count here (dropped in {file})"
    for rule in basis.eased:
        yield f"eased here: {rule.sentence}"
    for rule in basis.silent:
        yield (
            f"'{rule.sentence}' says nothing here: no ingredient that it is about can"
            " be chosen"
        )
    for line in basis.law:
        yield (
            f"{law_line(line)}; later amendments may be missing"
            if (line.limits)
            else law_line(line)
        )
    if not basis.law:
        yield "no market is named, so no legal limit was checked"
    if basis.unknown_contents:
        yield (
            f"the substances in {', '.join(basis.unknown_contents)} are not known, so"
            " limits on them were not checked: ask for the certificate"
        )
    if basis.calibrated:
        yield (
            f"firmness of {listed(basis.calibrated)} is as calibrated on the workshop's"
            " own trials (calibration.csv), not as published"
        )
    for name, percent, usage in basis.beyond:
        habit = (
            f"for {usage.written_for}" if usage.written_for else "by assumed practice"
        )
        yield (
            f"{short(percent)} % of {name} is more than the"
            f" {short(usage.high or 0.0)} %"
            f" {habit}: told, not enforced"
        )
    if not basis.cautious:
        yield from _at_an_end(formulas)
    if basis.workshop is not None:
        yield (
            f"prices are those of workshop '{basis.workshop}', each at its cheapest"
            " pack per kg; buying for this batch alone may cost more"
        )
    if basis.invented is not None:
        some = "some prices" if basis.invented == "some" else "all prices"
        yield f"{some} of workshop '{basis.workshop}' are invented: put in your own"
    if basis.by_spoon:
        yield (
            f"{listed(basis.by_spoon)}: sold by volume, and weighed as a spoon of it is"
            " (volumes.csv), for no density is known; some 10 % either way"
        )
    yield UNCHECKED


def _at_an_end(
    formulas: Sequence[tuple[str, Sequence[PropertyLine]]],
) -> Iterator[str]:
    """Say which windows hold at the typical figures but not over their spread.

    Of several formulas the one that is furthest out is told, by its title.
    """
    asked: dict[tuple[str, float | None, str], list[tuple[str, PropertyLine]]] = {}
    for title, lines in formulas:
        for line in lines:
            if line.least is not None or line.most is not None:
                place = (line.property, line.at, line.over)
                asked.setdefault(place, []).append((title, line))
    for each in asked.values():
        first = each[0][1]
        lows = [(x.low, title) for title, x in each if x.low is not None]
        highs = [(x.high, title) for title, x in each if x.high is not None]
        low, high = min(lows, default=None), max(highs, default=None)
        if first.least is not None and low is not None and low[0] < first.least:
            yield _end(first, "low", low, first.least)
        if first.most is not None and high is not None and high[0] > first.most:
            yield _end(first, "high", high, first.most)


def _end(line: PropertyLine, end: str, worst: tuple[float, str], limit: float) -> str:
    value, title = worst
    at = "" if line.at is None else f" at {short(line.at)} °C"
    unit = f" {line.unit}" if line.unit else ""
    whose = f" ({title})" if title else ""
    side = "under" if end == "low" else "over"
    return (
        f"at the {end} end of its figures {line.property}{at} over the {line.over}"
        f" would be {short(value, 3)}{unit}{whose}, {side} the {short(limit)} asked for"
        " (cautious = true holds it there)"
    )
