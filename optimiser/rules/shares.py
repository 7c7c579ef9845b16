"""Shares of the product, or of a part of it, with a lower or an upper side."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from optimiser.domain.rule import Rule
from optimiser.domain.scenario import Bound
from optimiser.rules.space import Space, number

__all__ = ["share_rules", "with_limit", "with_reason"]


def with_reason(sentence: str, why: str | None) -> str:
    """Return a sentence with the maker's own reason in brackets."""
    return sentence if not why else f"{sentence} ({why})"


def with_limit(rule: Rule, limit: float) -> Rule:
    """Return a rule with another limit, which its sentence says."""
    was, now = number(rule.limit), number(limit)
    sentence = rule.sentence
    for none, some in (("nothing ", "what is "), ("no ", "")):
        if rule.limit == 0.0 and sentence.startswith(none):
            told = sentence.removeprefix(none).removeprefix("that is ")
            return replace(
                rule,
                limit=limit,
                sentence=f"{some}{told} at most {now} % (eased from none)",
            )
    for word in ("at least", "at most", "exactly"):
        sentence = sentence.replace(f"{word} {was} ", f"{word} {now} ", 1)
    sentence = f"{sentence} (eased from {was})"
    return replace(rule, limit=limit, sentence=sentence)


def share_rules(
    space: Space,
    bound: Bound,
    columns: Sequence[int],
    *,
    kind: str,
    name: str,
    owner: str = "wish",
) -> Iterator[Rule]:
    """Yield the lower and the upper rule of a bound on some ingredients together.

    Parameters
    ----------
    columns : sequence of int
        Amount columns that the bound adds up.
    kind : str
        Kind of rule; also the first part of its id.
    name : str
        What the columns are together, in the maker's words.

    Notes
    -----
    "Percent of a part" is linear once multiplied out:
    ``100 * members - limit * part <= 0``.
    """
    whole = bound.of == "product"
    of = "" if whole else f" of the {bound.of}"
    for side, limit in (("min", bound.low), ("max", bound.high)):
        if limit is None:
            continue
        word = "at least" if side == "min" else "at most"
        yield Rule(
            id=f"{kind}/{name}/{side}",
            sentence=with_reason(f"{name} {word} {number(limit)} %{of}", bound.why),
            kind=kind,
            side=side,
            limit=limit,
            unit="%",
            amounts=space.sum_of(columns, 1.0 if whole else 100.0),
            per=space.sum_of(() if whole else space.members(bound.of)),
            per_constant=1.0 if whole else 0.0,
            owner=owner,
            origin=replace(bound.origin, field=f"{bound.origin.field}.{side}"),
        )
