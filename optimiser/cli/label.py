"""``optimiser label``: the words of a label, market by market, and whether they fit."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct
from msgspec.structs import replace

from optimiser.cli.running import ANSWERED
from optimiser.cli.studying import (
    AsJson,
    Full,
    Out,
    ScenarioFile,
    grams_of,
    refuse_page_file,
    refuse_the_same_file,
    rules_of,
    show_clash,
    show_result,
    write,
)
from optimiser.errors import InputError, Option, Phrase, Problem, phrase

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.domain.label import LabelRules
    from optimiser.domain.material import Lot
    from optimiser.domain.record import Recorded, WeighedIn
    from optimiser.domain.scenario import Scenario
    from optimiser.explaining.answer import Clash
    from optimiser.presenting.label_sheet import LabelSize

__all__ = ["label"]

LEAST_SIDE, MOST_SIDE = 5.0, 1000.0  # mm
INCH = 25.4
MILLIMETRES = {"mm": 1.0, "cm": 10.0, "in": INCH, "inch": INCH, "inches": INCH}
MILLIMETRES['"'] = INCH
_TIMES = re.compile(r"[x*\N{MULTIPLICATION SIGN}]")
_SIDE = re.compile(r'\s*([^a-z"]+)([a-z]+|")?\.?\s*')


def label(  # noqa: PLR0913, PLR0917 - each is something that a label says
    scenario: ScenarioFile,
    formula: Annotated[
        Path | None,
        typer.Option(
            "--formula", help="Label this formula, not the scenario's answer."
        ),
    ] = None,
    market: Annotated[
        list[str] | None, typer.Option("--market", help="Where it is sold.")
    ] = None,
    on: Annotated[
        str | None, typer.Option("--on", help="By the law of this day, as 2027-02-01.")
    ] = None,
    net: Annotated[
        str | None, typer.Option("--net", help='Net content, as in "60 g".')
    ] = None,
    lot: Annotated[
        str | None, typer.Option("--lot", help="Code of the batch, as in B-2026-11.")
    ] = None,
    made: Annotated[
        str | None, typer.Option("--made", help="Day it is made, as in 2026-11-26.")
    ] = None,
    best_before: Annotated[
        str | None,
        typer.Option(
            "--best-before",
            help="Your own date, or month as in 2027-11; else that of the lots.",
        ),
    ] = None,
    after_opening: Annotated[
        str | None,
        typer.Option(
            "--after-opening", help="Months it keeps once open, as a number: 6."
        ),
    ] = None,
    size: Annotated[
        str | None, typer.Option("--size", help='Its size: "60 x 40 mm", "3 x 2 in".')
    ] = None,
    html: Annotated[
        Path | None, typer.Option("--html", help="Also write it to print, at --size.")
    ] = None,
    full: Full = False,
    out: Out = None,
    json: AsJson = False,
) -> None:
    """Write a label: ingredients in order, content, dates, warnings.

    A batch sheet with weighed_grams filled in, given as --formula, is labelled as
    weighed.

    Example: optimiser label scenarios/massage_bar.toml --net "60 g" --size "60 x 40 mm"
    """
    from optimiser import explaining  # noqa: PLC0415
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.explaining import facts  # noqa: PLC0415
    from optimiser.presenting import label as shown  # noqa: PLC0415
    from optimiser.presenting import label_sheet as sheet  # noqa: PLC0415
    from optimiser.reading.folders import catalogues_of  # noqa: PLC0415
    from optimiser.reading.labels import read_label_rules  # noqa: PLC0415
    from optimiser.reading.makers import read_maker  # noqa: PLC0415
    from optimiser.reading.net_content import read_net_content  # noqa: PLC0415
    from optimiser.workshop import label as workshop  # noqa: PLC0415
    from optimiser.workshop.tracing import without_lot  # noqa: PLC0415

    given = _size(size, html)
    refuse_the_same_file(html, scenario, *([] if formula is None else [formula]))
    refuse_page_file(out, scenario)
    months = None if after_opening is None else _months(after_opening)
    grams = None if net is None else grams_of(net, "--net", "60 g")
    day, day_made = _day(on, "--on"), _day(made, "--made")
    before = _day(best_before, "--best-before", of_a_month=True)
    asked, catalogue = kept_scenario(scenario)
    asked = asked if day is None else replace(asked, on=day)
    root, own = catalogues_of(scenario), asked.workshop or None
    rules = _rules(market, asked, read_label_rules(root, own))
    contents = read_net_content(root, own)
    taken = _to_label(scenario, formula, asked, catalogue, root, lot)
    if isinstance(taken, explaining.Clash):
        raise typer.Exit(show_clash(taken, json, out=out))
    amounts, recorded = taken.amounts, taken.recorded
    broken = _broken(scenario, taken.weighed, asked, catalogue)
    once = () if recorded is None else recorded.made.broken
    catalogue = replace(catalogue, stock=taken.stock)
    if recorded is not None:
        day_made = day_made or recorded.made.made_on
    batch = workshop.Particulars(
        made=day_made or asked.day,
        net=grams,
        lot=lot,
        best_before=before,
        after_opening=months,
        sides=None if given is None else (given.wide, given.high),
        maker=read_maker(scenario, own),
    )
    labels = [
        workshop.label(
            amounts, asked, catalogue, each, contents.get(each.market), batch
        )
        for each in rules
    ]
    lines = [sheet.label_lines(each, asked.title, asked.product) for each in labels]
    fits = [
        sheet.fit(words, each, given)
        for words, each in zip(lines, labels, strict=True)
        if given is not None
    ]
    found = shown.Labelled(
        title=asked.title,
        file=asked.file,
        use=asked.use,
        day=asked.day,
        reading=asked.exclude.reading,
        keeping=workshop.keeping(amounts, catalogue, batch.made),
        food=facts.allergens(amounts, catalogue),
        labels=tuple(labels),
        lines=tuple(lines),
        size=given,
        fits=tuple(fits),
        batch="" if recorded is None else recorded.made.number,
        unwritten=() if recorded is None else without_lot(recorded, catalogue),
        told=taken.told,
        workshop=asked.workshop,
        broken=broken,
        once=tuple(each for each in once if each not in broken),
    )
    show_result(
        found, shown.label_data, shown.label_page, full=full, json=json, out=out
    )
    if html is not None and given is not None:
        rows = list(zip(labels, lines, fits, strict=True))
        text = sheet.label_html(asked.title, rows, given, shown.CHECK)
        write(html, text, encoding="utf-8")
    raise typer.Exit(ANSWERED)


def _recorded(scenario: Path, asked: Scenario, lot: str | None) -> Recorded | None:
    """Return the batch of a scenario with that code in its book; None if none is."""
    from optimiser.cli.bookkeeping import place_of_scenario  # noqa: PLC0415
    from optimiser.reading.folders import workshop_folder  # noqa: PLC0415

    if not lot or not asked.workshop:
        return None
    if workshop_folder(scenario, asked.workshop) is None:
        return None
    found = place_of_scenario(scenario, asked.workshop).book().batch(lot)
    if found is None or Path(found.made.scenario).name != scenario.name:
        return None
    return found if found.formula else None


class _ToLabel(Struct, frozen=True):
    """What is labelled, percent by key, the lots that it may be of, what to tell of it.

    ``recorded`` is the batch of the book that it is, if it is one; ``weighed`` is what
    went in, where it was weighed.
    """

    amounts: Mapping[str, float]
    stock: tuple[Lot, ...]
    told: tuple[str, ...] = ()
    recorded: Recorded | None = None
    weighed: tuple[WeighedIn, ...] = ()


def _to_label(
    scenario: Path,
    formula: Path | None,
    asked: Scenario,
    catalogue: Catalogue,
    root: Path,
    lot: str | None,
) -> _ToLabel | Clash:
    """Return the formula of a file, else of a recorded batch, else the answer."""
    from optimiser import explaining  # noqa: PLC0415
    from optimiser.domain.record import WeighedIn  # noqa: PLC0415
    from optimiser.workshop.tracing import lots_in  # noqa: PLC0415

    if formula is not None:
        return _of_file(formula, asked, catalogue, root)
    recorded = _recorded(scenario, asked, lot)
    if recorded is not None:
        lots = lots_in(recorded, catalogue)
        went_in = recorded.of(WeighedIn)
        return _ToLabel(recorded.formula, lots, recorded=recorded, weighed=went_in)
    answer = explaining.formulate(asked, catalogue)
    if isinstance(answer, explaining.Clash):
        return answer
    amounts = {x.ingredient: x.percent for x in answer.formula if x.percent > 0.0}
    return _ToLabel(amounts, catalogue.stock)


def _of_file(
    formula: Path, asked: Scenario, catalogue: Catalogue, root: Path
) -> _ToLabel:
    """Return a formula file; a filled-in batch sheet counts as weighed, of its lots."""
    from optimiser.domain.record import percents  # noqa: PLC0415
    from optimiser.presenting.notes import as_weighed_told  # noqa: PLC0415
    from optimiser.reading.batch_sheets import (  # noqa: PLC0415
        holds_weighings,
        read_batch_sheet,
    )
    from optimiser.reading.formulas import formula_told  # noqa: PLC0415
    from optimiser.workshop.tracing import lots_of_sheet  # noqa: PLC0415

    if not holds_weighings(formula):
        read = formula_told(formula, catalogue, root, asked.workshop or None)
        return _ToLabel(read.percents, catalogue.stock, read.notes)
    weighed = read_batch_sheet(formula, catalogue)
    told = as_weighed_told(sum(each.grams for each in weighed))
    lots = lots_of_sheet(weighed, catalogue)
    return _ToLabel(percents(weighed), lots, (told,), weighed=weighed)


def _broken(
    scenario: Path, weighed: Sequence[WeighedIn], asked: Scenario, catalogue: Catalogue
) -> tuple[str, ...]:
    """Return the rules that what was weighed breaks, as sentences."""
    from optimiser.presenting.bench.record import told_rules  # noqa: PLC0415
    from optimiser.reading.bench import read_scales  # noqa: PLC0415
    from optimiser.workshop.recording import as_made  # noqa: PLC0415

    if not weighed:
        return ()
    scales = read_scales(scenario, asked.workshop)
    return told_rules(as_made(weighed, asked, catalogue, scales))


def _rules(
    market: Sequence[str] | None, asked: Scenario, known: Mapping[str, LabelRules]
) -> list[LabelRules]:
    """Return the rules of the markets that are asked for, else the scenario's."""
    names = market or asked.markets
    if not names:
        fix = phrase("name one, as in ", Option("market", "EU"))
        raise InputError([Problem("no market is named", field="--market", fix=fix)])
    wrong = "has no rules on labels in the catalogues: no label can be written"
    return rules_of(names, known, wrong, ": name some with ", Option("market"))


def _months(text: str) -> int:
    """Return a number of months; what is no such number is said as usage is."""
    if re.fullmatch("[0-9]{1,3}", text) and int(text) > 0:
        return int(text)
    from optimiser.presenting import clean  # noqa: PLC0415

    wrong = f"'{clean(text)}' is no number of months. Write it without a word, as in 6."
    raise typer.BadParameter(wrong, param_hint="'--after-opening'")


def _day(text: str | None, option: str, *, of_a_month: bool = False) -> date | None:
    """Return a day; with ``of_a_month`` a month alone is its last one."""
    from optimiser.reading.cells import date_advice, last_day, to_date  # noqa: PLC0415

    if text is None:
        return None
    found = last_day(text.strip()) if of_a_month else to_date(text.strip())
    if found is None:
        fix = date_advice(text)
        if of_a_month:
            fix += "; or the month alone, as in 2026-11"
        raise InputError([Problem("is not a date", None, None, option, text, fix)])
    return found


def _side(text: str, unit: str | None) -> float:
    """Return a side of a label, mm; 0 where it is none."""
    from optimiser.reading.cells import to_amount  # noqa: PLC0415

    return (to_amount(text.strip()) or 0.0) * MILLIMETRES.get(unit or "", 0.0)


def _size(text: str | None, html: Path | None) -> LabelSize | None:
    """Return the size of a label, without which none can be written to ``html``."""
    from optimiser.presenting.label_sheet import LabelSize  # noqa: PLC0415

    if text is None and html is not None:
        size = Option("size", '"60 x 40 mm"')
        fix: str | Phrase = phrase("add the size of the label, as in ", size)
        raise InputError(
            [Problem("needs the size to print at", field="--html", fix=fix)]
        )
    if text is None:
        return None
    wide = high = 0.0
    sides = [_SIDE.fullmatch(each) for each in _TIMES.split(text.casefold())]
    if len(sides) == 2 and sides[0] and sides[1]:
        last = sides[1][2]  # after the second side alone it is the unit of both
        wide = _side(sides[0][1], sides[0][2] or last)
        high = _side(sides[1][1], last)
    if not all(LEAST_SIDE <= side <= MOST_SIDE for side in (wide, high)):
        fix = (
            f"write width x height and a unit, {LEAST_SIDE:g} to {MOST_SIDE:g} mm each,"
            ' as in "60 x 40 mm" or "2.5 x 1.5 in"'
        )
        raise InputError([Problem("is no size", None, None, "--size", text, fix)])
    return LabelSize(wide, high)
