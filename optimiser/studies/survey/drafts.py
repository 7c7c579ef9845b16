"""Lines of a recipe on their way to a share of the finished product.

The weight of a line is a plain one, a share of the base on top of it, or a share of
the finished product. With B the sum of the plain ones, t the shares on top and p the
shares of the product, the whole weighs ``B (1 + sum t) / (1 - sum p)``.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from msgspec import Struct, field

from optimiser.domain.recipe import Amount, KitchenMeasure, Match, Span, WrittenLine
from optimiser.reading.recipes.weighing import worst
from optimiser.studies.survey.remarks import Remark
from optimiser.studies.survey.values import RecipeLine

__all__ = ["Draft", "quoted", "shares", "slip", "to_line", "units_of"]


class Draft(Struct):
    """A line on its way to a share: its role in the sum, and its weight there."""

    written: WrittenLine
    match: Match
    amount: Amount | None = None
    status: str = "read"
    role: str = ""  # "plain", "top" or "product"
    span: Span | None = None  # with every doubt
    stated: Span = field(default_factory=lambda: Span.exactly(1.0))  # range as written
    sure: str = "as written"
    remarks: list[Remark] = field(default_factory=list)
    settled: bool = False  # the maker has answered for it

    def say(self, remark: Remark | None, sure: str = "as written") -> None:
        """Add a remark and how sure the line is at best."""
        if remark:
            self.remarks.append(remark)
        if sure != self.sure:
            self.sure = worst(self.sure, sure)

    def weigh(self, role: str, span: Span, measure: KitchenMeasure) -> None:
        """Set the role and the weight, and the range that stands in the recipe."""
        self.role, self.span = role, span
        own = measure.span
        if own.value > 0:
            self.stated = own.times(1.0 / own.value)

    def keep_out(self, status: str, remark: str, sure: str = "as written") -> None:
        """Keep the line out of the sum."""
        self.status, self.role, self.span = status, "", None
        self.say(remark, sure)


WEIGHT = frozenset({"g", "ml", "drop"})


def units_of(amount: Amount) -> str:
    """Return what the measures of a line are: percent, parts, weight, or ""."""
    units = [each.unit for each in amount.measures]
    if not WEIGHT.isdisjoint(units):
        return "weight"
    return "percent" if "%" in units else "parts" if "part" in units else ""


def shares(drafts: Sequence[Draft]) -> list[tuple[Span, Span] | None]:
    """Return each line's share of the finished product and its doubt, percent."""
    totals = {"plain": 0.0, "product": 0.0, "top": 0.0}
    for draft in drafts:
        if draft.role and draft.span:
            totals[draft.role] += draft.span.value
    base, product = totals["plain"], min(totals["product"], 0.999)
    if base == 0.0:
        return [None] * len(drafts)
    whole = base * (1.0 + totals["top"]) / (1.0 - product)
    scale = {"plain": 1.0, "top": base, "product": whole}
    weights = [
        draft.span.times(scale[draft.role]) if draft.span and draft.role else None
        for draft in drafts
    ]
    known = [weight for weight in weights if weight is not None]
    least, most = sum(w.low for w in known), sum(w.high for w in known)
    return [
        None
        if weight is None
        else _share(weight, draft.stated, Span(least, whole, most))
        for weight, draft in zip(weights, drafts, strict=True)
    ]


def _share(weight: Span, stated: Span, whole: Span) -> tuple[Span, Span]:
    """Return a share with its range as written, and with every doubt."""
    rest = whole.value - weight.value
    value = 100 * weight.value / whole.value
    written = stated.times(weight.value)
    own = _around(value, _percent(written.low, rest), _percent(written.high, rest))
    low = _percent(weight.low, whole.high - weight.high)
    return own, _around(value, low, _percent(weight.high, whole.low - weight.low))


def _around(value: float, low: float, high: float) -> Span:
    """Return a span whose ends rounding has not pushed past its value."""
    return Span(low if low < value else value, value, high if high > value else value)


def _percent(weight: float, rest: float) -> float:
    return 100 * weight / (weight + rest) if weight > 0 else 0.0


def to_line(draft: Draft, share: tuple[Span, Span] | None) -> RecipeLine:
    """Return the line with its share and with all that was assumed."""
    sure = worst(draft.sure, "unknown") if draft.status == "no amount" else draft.sure
    remarks = tuple(dict.fromkeys((draft.match.how, *draft.remarks)))
    if draft.written.carried:
        remarks += ("the recipe's name is that of the row above",)
    own, doubt = (None, None) if share is None else share
    line, match, amount = draft.written, draft.match, draft.amount
    return RecipeLine(line, match, amount, draft.status, own, doubt, sure, remarks)


def slip(line: WrittenLine) -> str:
    """Return an answer to offer: "14" may be a fraction that lost its stroke."""
    unit = line.unit or "g"
    found = re.fullmatch(r"([1-3])([2348])", line.amount.strip())
    if found is not None and int(found[1]) < int(found[2]):
        return f"perhaps {found[1]}/{found[2]} {unit} was meant; or: as written"
    return "an amount such as 1/4 tsp, or: as written, or: leave out"


def quoted(text: str) -> str:
    """Return a text as a cell of a CSV row."""
    return '"' + text.replace('"', '""') + '"' if set(text) & {",", '"'} else text
