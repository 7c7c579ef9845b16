"""One written recipe in percent of the finished product, with all that was assumed."""

from __future__ import annotations

import re
from collections.abc import Sequence

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.recipe import (
    Amount,
    Match,
    Replies,
    Reply,
    Span,
    Written,
    WrittenLine,
)
from optimiser.errors import Option, phrase
from optimiser.reading.recipes import Knowledge, Matcher, amount_and_name, read_amount
from optimiser.reading.recipes.phrases import in_doubt, is_total
from optimiser.reading.recipes.weighing import Weigher
from optimiser.studies.survey.drafts import Draft, quoted, shares, slip, to_line
from optimiser.studies.survey.remarks import Remark, Rescaled
from optimiser.studies.survey.roles import SUMS, Roles
from optimiser.studies.survey.values import (
    Recipe,
    RecipeLine,
    RecipeQuestion,
    RecipeSum,
)

__all__ = ["Normaliser"]

FINE = {"scent", "colour", "preservative", "antioxidant", None}
EXACT = 0.05  # points: percentages that sum to 100 within it are taken as they are
IN_A_FILE = ("answer it in the file of ", Option("answers"))
READABLE = "an amount such as 1/4 tsp, or: leave out"
MUCH = 14.0  # ml: a tablespoon of something may be a main ingredient
_LITTLE = re.compile(
    r"\b(drops?|gtt|pinch(es)?|dash(es)?|few|little|bit|touch|splash|capsules?|smell"
    r"|scent|taste|colou?r|mg)\b",
    re.IGNORECASE,
)
UNMATCHED = 10.0  # percent without a category: past it bands would mislead


class Normaliser:
    """Reads the lines of recipes and brings them to percent.

    Parameters
    ----------
    catalogue : Catalogue
    knowledge : Knowledge
    answers : mapping of (recipe, ingredient as written), folded, to Reply
    """

    def __init__(
        self, catalogue: Catalogue, knowledge: Knowledge, answers: Replies
    ) -> None:
        self.catalogue, self.knowledge, self.answers = catalogue, knowledge, answers
        self.matcher = Matcher(catalogue, knowledge.words, knowledge.taught)
        self.scale = Weigher(knowledge, catalogue)
        self.answered: set[tuple[str, str]] = set()

    def recipe(self, written: Written) -> Recipe:
        """Return a recipe in percent; whatever is open in it is a question."""
        return _Work(self, written).recipe()

    def answer(self, recipe: str, name: str = "") -> Reply | None:
        """Return the answer about a line or, without a name, a whole recipe."""
        if not self.answers:
            return None
        key = (fold(recipe), fold(name))
        found = self.answers.get(key)
        if found is not None:
            self.answered.add(key)
        return found


class _Work:
    """The reading of one recipe."""

    def __init__(self, by: Normaliser, written: Written) -> None:
        self.by, self.written = by, written
        self.remarks: list[Remark] = []
        self.questions: list[RecipeQuestion] = []
        self.about = by.answer(written.name)
        self.drafts = [self._draft(line) for line in written.lines]
        readings = {id(line): both for line, both in in_doubt(written)}
        for draft in self.drafts:
            both = readings.get(id(draft.written))
            if both is not None and not draft.settled:
                self._ask(draft, f"may be {both}: other lines have a decimal comma")

    def recipe(self) -> Recipe:
        by = self.by
        roles = Roles(
            self.written,
            self.drafts,
            self.about,
            by.catalogue,
            by.scale,
            self._ask,
            self.remarks,
        )
        kind = roles.kind()
        for draft in self.drafts:
            if draft.status == "read":
                roles.weigh(draft, kind)
        roles.weigh_rest(kind)
        self._ask_for_amounts()
        total = self._total(kind)
        found = shares(self.drafts)
        lines = tuple(map(to_line, self.drafts, found))
        for line, draft in zip(lines, self.drafts, strict=True):
            self._ask_if_far(line, draft)
        self._ask_if_unmatched(lines)
        left_out = None
        if self.about is not None and self.about.kind == "leave out":
            left_out = f"you left it out ({self.about.origin})"
        elif not any(line.percent is not None for line in lines):
            left_out = "no line of it has an amount that can be used"
        return Recipe(
            self.written.name,
            self.written.product_class,
            self.written.file,
            lines,
            total,
            tuple(self.remarks),
            tuple(self.questions),
            left_out,
        )

    def _draft(self, line: WrittenLine) -> Draft:
        """Return a line with its name matched and its amount read."""
        if is_total(line.name):
            how = "a total, no ingredient"
            draft = Draft(line, Match((), None, how, "as written", absent="total"))
            draft.keep_out("not in the product", how)
            return draft
        answer = self.by.answer(self.written.name, line.name)
        name, text, unit = line.name, line.amount, line.unit
        both = None if text or unit else amount_and_name(name)
        if both is not None:
            text, name = both
        draft = Draft(line, self.by.matcher.match(name))
        if both is not None:
            draft.say(f"read as {text} of {name}")
        draft.settled = answer is not None
        if answer is not None and answer.match is not None:
            draft.match = answer.match
        elif answer is not None and answer.kind == "amount":
            text, unit = answer.text, ""
            draft.say(f"{answer.text}, as you answered ({answer.origin})")
        elif answer is not None and answer.kind == "as written":
            draft.say(f"taken as written, as you answered ({answer.origin})")
        try:
            draft.amount = read_amount(text, unit)
        except ValueError as error:
            draft.keep_out("refused", f"the amount {error}", "unknown")
            self._ask(draft, f"the amount {error}", "write an amount such as 1/4 tsp")
            return draft
        draft.say(None, draft.match.sure)
        for remark in draft.amount.remarks:
            draft.say(remark, "assumed")
        if answer is not None and answer.kind == "leave out":
            draft.keep_out("left out", f"left out, as you answered ({answer.origin})")
        elif draft.match.absent:
            draft.keep_out("not in the product", "taken out again, so not in it")
        elif draft.amount.question and not _answered(draft.amount, answer):
            fix = None if draft.amount.measures else READABLE
            self._ask(draft, draft.amount.question, fix)
        return draft

    def _ask(self, draft: Draft, wrong: str, fix: str | None = None) -> None:
        """Add a question about a line, with how to answer it."""
        line = draft.written
        name = f": {self.written.name},{quoted(line.name)},ANSWER "
        fix = fix or "an amount such as 1/4 tsp, or: as written, or: leave out"
        self.questions.append(
            RecipeQuestion(
                wrong,
                line.origin.file,
                line.origin.row,
                "amount",
                f"{line.name}: {line.amount} {line.unit}".strip(),
                phrase(*IN_A_FILE, f"{name}({fix})"),
                within=f"recipe {self.written.name}",
                line=line.name,
                may_be=fix,
            )
        )

    def _ask_for_amounts(self) -> None:
        """Ask how much there is of what a formula cannot be told without."""
        for draft in self.drafts:
            asked = draft.amount is not None and draft.amount.question
            if draft.status != "no amount" or draft.settled or asked:
                continue
            if draft.match.category is None and _volume(draft) > 0.0:
                continue  # what it is tells what it weighs
            if draft.match.category not in FINE or _may_be_much(draft):
                why = "; ".join(x for x in draft.remarks if isinstance(x, str))
                self._ask(draft, f"no amount can be told ({why})")

    def _total(self, kind: str) -> RecipeSum:
        """Return the sum as written, and say if it had to be brought to 100."""
        plain = [d.span for d in self.drafts if d.role == "plain" and d.span]
        if not plain:
            return RecipeSum(None)
        total = sum(span.value for span in plain)
        product = sum(
            d.span.value for d in self.drafts if d.role == "product" and d.span
        )
        if kind != "percent":
            near = kind == "weight" and SUMS[0] <= total <= SUMS[1]
            if near and abs(total - 100) > 0.5 and self._all_in_grams():
                self.remarks.append(Rescaled(total, "g"))
            return RecipeSum(total, "g" if kind == "weight" else "parts")
        base = any(d.amount and d.amount.of == "base" for d in self.drafts)
        if product and not base and abs(total - 100) > abs(total + product * 100 - 100):
            total += product * 100
        elif product:
            self.remarks.append("the percentages are of a base that is part of it")
        self._say_sum(total, plain)
        return RecipeSum(total, "%")

    def _all_in_grams(self) -> bool:
        units = {fold(draft.written.unit) for draft in self.drafts if draft.span}
        return units <= {"g", "gram", "grams"}

    def _say_sum(self, total: float, plain: Sequence[Span]) -> None:
        """Say that percentages do not sum to 100, or ask if they are far from it."""
        if abs(total - 100) <= EXACT:
            return
        low, high = sum(s.low for s in plain), sum(s.high for s in plain)
        ranged = high - low > EXACT and low <= 100 <= high
        accepted = self.about is not None and self.about.kind == "as written"
        if SUMS[0] <= total <= SUMS[1] or ranged or accepted:
            self.remarks.append(Rescaled(total, "%", ranged))
            return
        name, file = self.written.name, self.written.file
        wrong = f"recipe {name} adds up to {total:.5g} %: a line is missing or slipped"
        how = f"{quoted(name)},,as written"
        to_do = phrase("correct it, or ", *IN_A_FILE, f": {how}")
        self.questions.append(RecipeQuestion(wrong, file, fix=to_do, about="total"))

    def _ask_if_far(self, line: RecipeLine, draft: Draft) -> None:
        """Ask about a line far outside its category's usual share."""
        usual = self.by.knowledge.usual.get(line.category or "")
        if usual is None or usual.far is None or line.percent is None or draft.settled:
            return
        if line.percent.value <= usual.far:
            return
        wrong = (
            f"would be {line.percent.value:.2g} % of the product, far past the usual "
            f"share of {line.category} (a question from {usual.far:g} % on)"
        )
        self._ask(draft, wrong, slip(draft.written))

    def _ask_if_unmatched(self, lines: Sequence[RecipeLine]) -> None:
        """Ask what a large part of a recipe is, or may be."""
        unknown = [x for x in lines if x.category is None and x.percent is not None]
        share = sum(x.percent.value for x in unknown if x.percent is not None)
        if share <= UNMATCHED:
            unknown = []
        unknown += [
            line
            for line, draft in zip(lines, self.drafts, strict=True)
            if line.category is None
            and draft.status == "no amount"
            and not draft.settled
            and _volume(draft) >= MUCH
        ]
        for line in unknown:
            near = (
                f"; the nearest name is {line.match.nearest}"
                if line.match.nearest
                else ""
            )
            origin = line.written.origin
            wrong = f"is not known{near}"
            row = f"{quoted(line.written.name)},INGREDIENT OR CATEGORY"
            fix = phrase(
                "teach it in the file of ",
                Option("aliases"),
                f" (written,stands_for): {row}",
            )
            self.questions.append(
                RecipeQuestion(
                    wrong,
                    origin.file,
                    origin.row,
                    "ingredient",
                    line.written.name,
                    fix,
                    about="name",
                    line=line.written.name,
                )
            )


def _volume(draft: Draft) -> float:
    """Return the volume that a line gives, [ml]; 0 where it gives none."""
    measure = None if draft.amount is None else draft.amount.measure("ml")
    return 0.0 if measure is None else measure.span.high


def _may_be_much(draft: Draft) -> bool:
    """Whether a line without a share may be a main one, by what its cells say."""
    if draft.match.category is not None:
        return _volume(draft) >= MUCH
    line = draft.written
    return _LITTLE.search(f"{line.amount} {line.unit}") is None


def _answered(amount: Amount, answer: Reply | None) -> bool:
    """Whether an answer settles an amount: what is not read is no amount as written."""
    if answer is None:
        return False
    kind = answer.kind
    return kind == "amount" or (kind == "as written" and bool(amount.measures))
