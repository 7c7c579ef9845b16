"""What the workbench shows of a question: the page's parts, made of page values."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterator, Sequence
from itertools import groupby

from markupsafe import Markup
from msgspec import Struct

from optimiser.domain.catalogue import fold
from optimiser.domain.law import Zone
from optimiser.domain.material import CATEGORIES, UsageLimit
from optimiser.domain.products import NAMES
from optimiser.domain.rule import Rule
from optimiser.domain.scenario import AIMS, Bound
from optimiser.errors import Problem
from optimiser.explaining.answer import Answer, Clash, FormulaLine, RuleLine
from optimiser.explaining.ways import steps
from optimiser.presenting import amounts, facts, rules
from optimiser.presenting.answer import AIM_WORDS, about, answer_page, minding
from optimiser.presenting.clash import clash_page, ways_told
from optimiser.presenting.formula import formula_table, in_order
from optimiser.presenting.html import bar, blocks_html, points_below, section_html
from optimiser.presenting.page import Block, Number, Section, items, untyped
from optimiser.presenting.price_words import helping
from optimiser.presenting.words import unit_words
from optimiser.reading.duties import shipped_markets
from optimiser.web.curves import SIDES, firm
from optimiser.web.desk import Desk, OnDesk
from optimiser.web.templates import rendered

__all__ = ["answer_html", "climate_words", "page_html", "saving_html"]

OWN = {"band", "limit", "constituent", "window", "closeness"}  # and kinds of their own
HELD = {"practice", "supplier", "guard"}  # shown once they hold the formula
# Of the whole page of an answer, what is not shown above.
REST = {
    "Second opinion",
    "Nearly holding",
    "Not used",
    "Just as good",
    "Names a label must carry",
    "What the law asks for besides",
    "Left out",
    "Notes",
    "Cautions",
    "What was checked",
}
FINEST, COARSEST = 0.1, 0.5


class Control(Struct, frozen=True):
    """A limit that can be moved, beside the line that it belongs to."""

    name: str
    rule: str
    what: str
    side: str
    value: str
    unit: str
    low: str
    high: str
    step: str
    holds: bool
    helps: str


class Line(Struct, frozen=True):
    """One ingredient of the formula."""

    key: str
    name: str
    percent: str
    base: str
    grams: str
    drawn: Markup
    used: bool
    came: bool
    pinned: str | None
    controls: tuple[Control, ...]


class CategoryLines(Struct, frozen=True):
    """The ingredients of one category, and its total."""

    category: str
    percent: str
    base: str
    lines: tuple[Line, ...]
    controls: tuple[Control, ...]


def page_html(desk: Desk, place: str, own: str, *, large: bool) -> str:
    """Return the page of one scenario; ``place`` is where all pages are."""
    asked = desk.asked
    return rendered(
        "desk.html",
        place=place,
        large=large,
        own=own,
        title=asked.scenario.title,
        number=asked.number,
        settled=asked.settled,
        body=Markup(answer_html(desk, asked)),
    )


def saving_html(desk: Desk, name: str) -> str:
    """Return what saving would write, and where."""
    return rendered("saving.html", rows=desk.difference().splitlines(), name=name)


def answer_html(desk: Desk, asked: OnDesk, problems: Sequence[Problem] = ()) -> str:
    """Return a question and its answer, as far as it is known."""
    found, good = asked.found, asked.good
    clash = found if isinstance(found, Clash) else None
    lines = {x.rule.id: x for x in good.rules} if found is good and good else {}
    controls = list(_controls(asked, lines, desk.first))
    whole: tuple[Section, ...] = ()
    if good is not None:
        whole = answer_page(good, asked.catalogue.sources, full=True).sections
    return rendered(
        "answer.html",
        title=asked.scenario.title,
        about="; ".join(
            about(
                asked.scenario.file,
                asked.scenario.use,
                asked.scenario.markets,
                None if good is None else good.basis.invented,
            )
        ),
        problems=[str(each) for each in problems],
        outside=desk.path.name if desk.changed_outside() else "",
        undo=desk.can_undo,
        redo=desk.can_redo,
        changed=desk.changed,
        aims=_aims(asked),
        product=asked.scenario.product or "",
        products=NAMES,
        markets=_markets(asked),
        climates=_climates(asked),
        allergens=_allergens(asked),
        out=_left_out(asked),
        settled=asked.settled,
        fits=found is not None and clash is None,
        clash=None if clash is None else _blocks(_clash(clash)),
        ways=[] if clash is None else list(ways_told(clash)),
        lead=_sections(whole[:2], 2),
        has=good is not None,
        groups=[] if good is None else _groups(good, asked, controls),
        total=None if good is None else _total(good),
        holding=_blocks([] if good is None else _holding(good)),
        melts=_blocks([] if good is None else firm(good, asked)),
        dearest=_blocks([] if good is None else _dearest(good)),
        windows=[c for c, r in controls if r.kind == "window"],
        others=_others(controls),
        mind=_blocks(
            [] if good is None else minding(good.allergens, good.cautions, good.markets)
        ),
        rest=_sections([each for each in whole if each.title in REST], 3),
    )


def _blocks(blocks: Sequence[Block] | Iterator[Block]) -> Markup:
    return Markup(blocks_html(blocks))


def _sections(sections: Sequence[Section], level: int) -> Markup:
    return Markup("\n".join(section_html(each, level) for each in untyped(sections)))


def _holding(answer: Answer) -> Iterator[Block]:
    yield from facts.holding(answer.properties)
    yield from items(facts.not_asked(answer.properties))


def _dearest(answer: Answer) -> Iterator[Block]:
    aims = [name for name, _, _ in answer.aims]
    return rules.dearest(answer.rules, aims, answer.currency, len(answer.rules))


def _clash(clash: Clash) -> list[Block]:
    """Return which rules clash, and why; the ways out are buttons of their own."""
    page = clash_page(clash, can_write=False)
    titles = ("", "Why", "Rules that cannot all hold")
    plain = untyped(page.sections)
    return [block for each in plain if each.title in titles for block in each.blocks]


# -- limits ---------------------------------------------------------------------------


def _controls(
    asked: OnDesk, lines: dict[str, RuleLine], first: dict[str, float]
) -> Iterator[tuple[Control, Rule]]:
    """Yield the limits that can be moved: the maker's own, and others that hold."""
    currency = asked.catalogue.currency
    for rule in asked.programme.rules:
        line = lines.get(rule.id)
        holds = line is not None and line.binding
        asked_for = rule.kind in OWN or rule.about in asked.scenario.others
        own = asked_for and rule.owner == "wish"
        moved = rule.eased_from is not None and rule.kind != "opinion"
        if not rule.may_ease or not (own or moved or (holds and rule.kind in HELD)):
            continue
        if rule.empty or rule.wording.what == "":
            continue
        yield _control(rule, line, first.get(rule.id, rule.limit), currency), rule


def _control(rule: Rule, line: RuleLine | None, first: float, currency: str) -> Control:
    holds = line is not None and line.binding
    helps = helping(line, currency) if line is not None and holds else None
    step = min(max(steps(first), FINEST), COARSEST) if first >= 1.0 else steps(first)
    if first == 0.0:
        step = FINEST
    high = max(2.0 * first, first + 10.0 if first >= 1.0 else 4.0 * first, 10 * step)
    if rule.unit == "%":
        high = min(high, 100.0)
    high = max(high, rule.limit)
    return Control(
        name=hashlib.sha256(rule.id.encode()).hexdigest()[:10],
        rule=rule.id,
        what=rule.wording.what,
        side=SIDES[rule.side],
        value=_plain(rule.limit),
        unit=unit_words(rule.unit).strip(),
        low=_plain(min(0.0, rule.limit)),
        high=_plain(math.ceil(high / step - 1e-9) * step),
        step=_plain(step),
        holds=holds,
        helps=helps or "",
    )


def _plain(number: float) -> str:
    return f"{number + 0.0:.9g}"


def _about(rule: Rule) -> str:
    """Return the category or the ingredient that a limit stands beside, or ""."""
    match rule.about:
        case Bound() if rule.kind in {"band", "limit"}:
            return rule.about.what
        case UsageLimit():
            return rule.about.ingredient
    return ""


def _others(controls: Sequence[tuple[Control, Rule]]) -> list[Control]:
    """Return the limits that stand beside no line of the formula, nor a window."""
    return [c for c, r in controls if r.kind != "window" and not _about(r)]


# -- the formula ----------------------------------------------------------------------


def _groups(
    answer: Answer, asked: OnDesk, controls: Sequence[tuple[Control, Rule]]
) -> list[CategoryLines]:
    """Return the formula by category, each line with what can be moved beside it.

    A category, or an ingredient with a limit of its own, stands there although nothing
    of it is in.
    """
    table = formula_table(answer.formula)
    heads = {column.head: column.cells for column in table.columns}
    rows = in_order([r for r in answer.formula if r.percent > 0.0 or r.base_percent])
    percents = points_below([_text(cell) for cell in heads["%"]])
    grams = points_below([_text(cell) for cell in heads["g"]])
    bases = points_below([_text(c) for c in heads.get("base %", [""] * len(percents))])
    most = max((max(r.percent, r.base_percent or 0.0) for r in rows), default=1.0)
    pins = {each.what: each.low for each in asked.scenario.pins}
    beside: dict[str, list[Control]] = {}
    for control, rule in controls:
        beside.setdefault(_about(rule), []).append(control)
    at = {id(row): place for place, row in enumerate(rows)}
    absent = [
        row
        for row in _limited_only(asked, beside)
        if all(row.ingredient != other.ingredient for other in rows)
    ]

    def line(row: FormulaLine) -> Line:
        place = at.get(id(row))
        pin = pins.get(row.ingredient)
        return Line(
            key=row.ingredient,
            name=row.name,
            percent="" if place is None else percents[place],
            base="" if place is None else bases[place],
            grams="" if place is None else grams[place],
            drawn=Markup(bar(row.percent, row.base_percent, most)),
            used=row.percent > 0.0,
            came=row.percent > 0.0 and row.base_percent == 0.0,
            pinned=None if pin is None else _plain(pin),
            controls=tuple(beside.get(row.ingredient, ())),
        )

    every = in_order([*rows, *absent])
    by_category = {
        kind: list(each) for kind, each in groupby(every, lambda row: row.category)
    }
    shown = [each for each in CATEGORIES if each in by_category or each in beside]
    totals: dict[str, list[str]] = {}
    for head in ("%", "base %"):
        sums = [
            sum(_value(heads[head][at[id(row)]]) for row in own if id(row) in at)
            for own in (by_category.get(each, []) for each in shown)
            if head in heads
        ]
        told = [amounts.as_text(round(100 * each)) for each in sums]
        tails = [_text(cell) for cell in heads.get(head, ())]
        totals[head] = points_below([*told, *tails])[: len(shown)] or [""] * len(shown)
    return [
        CategoryLines(
            category,
            totals["%"][place],
            totals["base %"][place],
            tuple(map(line, by_category.get(category, ()))),
            tuple(beside.get(category, ())),
        )
        for place, category in enumerate(shown)
    ]


def _limited_only(asked: OnDesk, beside: dict[str, list[Control]]) -> list[FormulaLine]:
    """Return a line of nothing for each ingredient that has a limit and is not in."""
    known = asked.catalogue.ingredients
    return [
        FormulaLine(
            key, known[key].name, known[key].category, 0.0, 0.0, None, None, None
        )
        for key in beside
        if key in known and key in asked.programme.ingredients
    ]


def _total(answer: Answer) -> tuple[str, str, str]:
    table = formula_table(answer.formula)
    cells = {column.head: _text(column.cells[-1]) for column in table.columns}
    return cells["%"], cells.get("base %", ""), cells["g"]


def _text(cell: Number | str) -> str:
    return cell.text if isinstance(cell, Number) else cell


def _value(cell: Number | str) -> float:
    return (cell.value or 0.0) if isinstance(cell, Number) else 0.0


# -- what else can be asked -----------------------------------------------------------


def _aims(asked: OnDesk) -> list[tuple[list[str], str, bool]]:
    """Return orders of aims to choose from: the one taken, and each aim before cost."""
    now = [aim.name for aim in asked.scenario.aims]
    orders = [["cost"], *([each, "cost"] for each in AIMS if each != "cost")]
    if not asked.scenario.base:
        orders = [each for each in orders if "change" not in each[0]]
    if not any(lot for lot in asked.catalogue.stock):
        orders = [each for each in orders if each[0] != "bought"]
    if now not in orders:
        orders.insert(0, now)
    return [
        (
            order,
            ", then ".join(AIM_WORDS.get(each, each) for each in order),
            order == now,
        )
        for order in orders
    ]


def _markets(asked: OnDesk) -> list[tuple[str, bool]]:
    """Return the markets whose law is known, and others that it is sold in."""
    sold = asked.scenario.markets
    return [(each, each in sold) for each in dict.fromkeys([*shipped_markets(), *sold])]


def climate_words(zone: Zone) -> str:
    """Return a climate as a page names it.

    >>> climate_words(Zone("II", "climatic zone", "warm", 25.0, 25.0, ""))
    'II: warm, 25 °C'
    """
    return zone.told.replace("degC", "°C")


def _climates(asked: OnDesk) -> list[tuple[str | None, str, bool]]:
    """Return climates to choose from, and the one that is taken."""
    now = asked.scenario.zone
    known = {x.name: climate_words(x) for x in asked.catalogue.climates}
    if now is not None:
        known.setdefault(now, now)
    told = [(name, words, name == now) for name, words in known.items()]
    return [(None, "no climate named", now is None), *told]


def _allergens(asked: OnDesk) -> list[tuple[str, bool]]:
    out = {fold(each) for each in asked.scenario.exclude.allergens}
    return [(each, fold(each) in out) for each in sorted(asked.catalogue.allergens)]


def _left_out(asked: OnDesk) -> list[tuple[str, str]]:
    known = asked.catalogue.ingredients
    return [(key, known[key].name) for key in asked.scenario.exclude.ingredients]
