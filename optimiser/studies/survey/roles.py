"""What each line of a recipe weighs beside the others, by the units used."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from functools import lru_cache

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.recipe import Amount, KitchenMeasure, Reply, Span, Written
from optimiser.reading.recipes import read_amount
from optimiser.reading.recipes.weighing import MIXTURE, Weigher
from optimiser.studies.survey.drafts import Draft, units_of
from optimiser.studies.survey.remarks import InMixture, LeftOver, Remark, Strength

__all__ = ["SUMS", "Roles"]

SUMS = (85.0, 115.0)  # of percentages; beyond it a line is missing or slipped
_ACTIVE = re.compile(r"\bactive\b", re.IGNORECASE)


@lru_cache(maxsize=1 << 14)
def _is_active(*cells: str) -> bool:
    """Whether the cells of a line say that active matter is meant."""
    return _ACTIVE.search(" ".join(cells)) is not None


class Roles(Struct):
    """Gives the lines of one recipe their roles and weights.

    ``about`` is the answer about the whole recipe, ``ask`` adds a question about a
    line, and ``remarks`` are those about the whole recipe.
    """

    written: Written
    drafts: Sequence[Draft]
    about: Reply | None
    catalogue: Catalogue
    scale: Weigher
    ask: Callable[..., None]
    remarks: list[Remark]
    of_product: bool = False  # most lines are percent of the product: so is it all

    def kind(self) -> str:
        """Return what the recipe is written in: percent, parts or weight."""
        known = [
            draft.amount
            for draft in self.drafts
            if draft.status == "read" and draft.amount and draft.amount.measures
        ]
        plain = [each for each in known if each.of == "recipe"]
        shares = sum(each.of == "product" for each in known)
        if shares > len(plain) and not any(each.of == "base" for each in known):
            self.of_product = True
            return "percent"
        if any(each.of == "base" for each in known):
            return "percent"
        counts = Counter(units_of(each) for each in plain)
        if counts and set(counts) == {""}:
            total = sum(each.measures[0].span.value for each in plain)
            kind = "percent" if SUMS[0] <= total <= SUMS[1] else "parts"
            self.remarks.append(f"no line has a unit; read as {kind}")
            return kind
        counts.pop("", None)
        return counts.most_common(1)[0][0] if counts else "percent"

    def weigh(self, draft: Draft, kind: str) -> None:
        """Set the role and weight of a line, or say why it has none."""
        amount = draft.amount
        if amount is not None and amount.of == "rest" and not amount.question:
            return
        if amount is None or not amount.measures:
            reason = amount.unknown if amount is not None else None
            draft.keep_out("no amount", reason or "no amount can be read", "unknown")
        elif amount.of == "on top":
            self._weigh_on_top(draft, amount)
        elif amount.of == "product" and amount.measure("%") and not self.of_product:
            measure = amount.measures[0]
            draft.weigh("product", measure.span.times(0.01), measure)
        elif kind == "percent":
            self._weigh_percent(draft, amount)
        elif kind == "parts":
            self._weigh_part(draft, amount)
        else:
            self._weigh_weight(draft, amount)
        self._as_supplied(draft)

    def weigh_rest(self, kind: str) -> None:
        """Give the line that fills up to a hundred what the others leave."""
        open_ones = [
            each
            for each in self.drafts
            if each.status == "read" and each.amount and each.amount.of == "rest"
        ]
        told = [each.span for each in self.drafts if each.role == "plain" and each.span]
        shares = [
            each.span for each in self.drafts if each.role == "product" and each.span
        ]
        left = 100.0 - sum(each.value for each in told)
        left -= 100.0 * sum(each.value for each in shares)
        for draft in open_ones:
            if len(open_ones) > 1:
                why = "more than one line is what is left to 100"
                draft.keep_out("no amount", why, "unknown")
            elif left <= 0.0:
                why = "nothing is left to 100"
                draft.keep_out("no amount", why, "unknown")
            else:
                unit = {"percent": "%", "weight": "g"}.get(kind, "parts")
                span = Span.exactly(left)
                draft.weigh("plain", span, KitchenMeasure(span, "", "what is left"))
                draft.say(LeftOver(left, unit), "converted")

    def _weigh_on_top(self, draft: Draft, amount: Amount) -> None:
        """Set the share of the base that goes on top of it."""
        measure = amount.measures[0]
        draft.say("goes on top of the base")
        if amount.per is None:
            draft.weigh("top", measure.span.times(0.01), measure)
            return
        mine = self.scale.grams(measure, draft.match)
        if amount.per.unit == "g":
            whole: Span | None = amount.per.span
        else:
            volume = self.scale.millilitres(amount.per)
            whole = None if volume is None else volume.times(MIXTURE)
        if mine is None or whole is None:
            draft.keep_out(
                "no amount", "its share of the mixture is not told", "unknown"
            )
            return
        draft.weigh("top", mine.span.times(1 / whole.value), measure)
        if mine.how is not None:
            draft.say(InMixture(mine.how, whole.value), mine.sure)

    def _weigh_percent(self, draft: Draft, amount: Amount) -> None:
        measure = amount.measure("%", "")
        if measure is None:
            why = "the recipe is in percent, and its weight is not told"
            draft.keep_out("no amount", why, "unknown")
            return
        draft.weigh("plain", measure.span, measure)
        if measure.unit == "" and set(self._plain_units()) != {""}:
            draft.say("no unit; read as %, like the other lines", "assumed")

    def _plain_units(self) -> list[str]:
        return [
            units_of(d.amount) for d in self.drafts if d.amount and d.amount.measures
        ]

    def _weigh_part(self, draft: Draft, amount: Amount) -> None:
        """Set a part's weight: one by weight, its density by volume."""
        measure = amount.measure("part", "")
        if measure is None:
            why = "the recipe is in parts, whose size is not told"
            draft.keep_out("no amount", why, "unknown")
            return
        by, own = self._parts_by(), measure.span
        density = self.scale.density(draft.match) or Span(0.5, 0.9, 1.2)
        filled = own.times(density)
        if by == "volume":
            draft.weigh("plain", filled, measure)
            draft.say("a part by volume, weighed by its density", "converted")
        elif by == "weight":
            draft.weigh("plain", own, measure)
        else:
            other = filled.times(1 / MIXTURE)
            both = Span(min(own.low, other.low), own.value, max(own.high, other.high))
            draft.weigh("plain", both, measure)
            how = "read as parts by weight; the doubt covers parts by volume"
            draft.say(how, "assumed")

    def _parts_by(self) -> str | None:
        """Return whether parts are by weight or volume; None if nobody said."""
        if self.about is not None and self.about.kind.startswith("by "):
            return self.about.kind.removeprefix("by ")
        note = fold(self.written.note)
        for by in ("volume", "weight"):
            if f"by {by}" in note:
                return by
        return None

    def _weigh_weight(self, draft: Draft, amount: Amount) -> None:
        """Set a weight in g, converted or with its unit assumed where it must be."""
        if amount.measure("") and len(amount.measures) == 1:
            unit = self._main_unit()
            amount = read_amount(draft.written.amount, unit)
            draft.say(f"no unit; read as {unit}, like most lines", "assumed")
        if amount.measure("%") and not amount.measure("g", "ml"):
            measure = amount.measures[0]
            draft.weigh("product", measure.span.times(0.01), measure)
            how = "percent in a recipe by weight: read as of the product"
            draft.say(how, "assumed")
            return
        found = self.scale.best(amount, draft.match)
        if found is None:
            why = "nothing tells what that volume of it weighs"
            draft.keep_out("no amount", why, "unknown")
            return
        draft.weigh("plain", found.span, found.measure)
        draft.say(found.how, found.sure)
        disagreement = self.scale.disagreement(amount, draft.match)
        if disagreement is not None and not draft.settled:
            self.ask(draft, disagreement)

    def _main_unit(self) -> str:
        """Return the unit that most lines by weight are written in."""
        units = Counter(
            draft.written.unit
            for draft in self.drafts
            if draft.amount and draft.amount.measure("g") and draft.written.unit
        )
        return units.most_common(1)[0][0] if units else "g"

    def _as_supplied(self, draft: Draft) -> None:
        """Turn active matter into the material as supplied, where a line says so."""
        contents = self.catalogue.contents.get("active matter", {})
        known = contents.get(draft.match.ingredient or "")
        line = draft.written
        if draft.span is None:
            return
        if _is_active(line.name, line.amount, line.unit):
            if known is None:
                why = "given as active matter, but its strength is not known"
                self.ask(draft, why, "the weight as supplied")
                return
            least, most = 100.0 / known.high, 100.0 / known.low
            draft.span = draft.span.times(Span(least, 100.0 / known.value, most))
            draft.say(Strength(known.value, divided=True), "converted")
        elif known is not None and known.value < 50:
            draft.say(Strength(known.value, divided=False))
