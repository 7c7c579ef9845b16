"""The bench: what to weigh, what the label says, what to buy, and what was made."""

from __future__ import annotations

import csv
import tempfile
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import TypeVar

from markupsafe import Markup
from msgspec import Struct
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from optimiser.cli.bookkeeping import Place, day_of, facts_of, gathered, writer
from optimiser.cli.correcting import refuse_verdict, warmth
from optimiser.cli.plan import overfill_by_law
from optimiser.cli.record import ToRecord, batch_seen, to_record
from optimiser.cli.sizing import Wanted
from optimiser.cli.studying import mass_or_none
from optimiser.domain.record import Book, Fact, VerdictGiven
from optimiser.domain.trial import VERDICTS
from optimiser.errors import InputError, Problem
from optimiser.explaining import Clash, facts, formulate
from optimiser.presenting.bench import batch as sheets
from optimiser.presenting.bench import record as records
from optimiser.presenting.clash import clash_page
from optimiser.presenting.html import section_html
from optimiser.presenting.label import Labelled, label_page
from optimiser.presenting.label_sheet import label_lines
from optimiser.presenting.page import Page, untyped
from optimiser.presenting.plan import plan_page
from optimiser.presenting.sheet import told
from optimiser.reading import read_scenario
from optimiser.reading.bench import read_bench
from optimiser.reading.folders import catalogues_of
from optimiser.reading.labels import read_label_rules
from optimiser.reading.makers import read_maker
from optimiser.reading.net_content import read_net_content
from optimiser.reading.plans import read_plan
from optimiser.reading.records import add
from optimiser.studies.plan import Unfit, plan
from optimiser.web.desk import Desk
from optimiser.web.replies import Endpoint, Reply, asked_with, html, to
from optimiser.web.rooms import Rooms, plans
from optimiser.web.templates import rendered, wrong_html
from optimiser.workshop import label as labels
from optimiser.workshop.batch import BatchSheet, batch_sheet

__all__ = ["routes"]

MOST_DIGITS = 9  # of a count
SEARCHES = 10.0  # seconds for a plan
WEIGH = "Weigh"  # the section that the fields to fill in stand for
WEIGHED = ("stage", "ingredient", "grams", "lots", "weighed_grams")


Told = TypeVar("Told", bound=Struct)
Does = Callable[[Rooms, Desk, Told, str], str]


class SheetTold(Struct, frozen=True, forbid_unknown_fields=True):
    """How much is made, as somebody writes it; blank where it is not said."""

    units: str = ""
    net: str = ""
    mould: str = ""
    batch: str = ""


class LabelTold(Struct, frozen=True, forbid_unknown_fields=True):
    """What a label says beside the formula."""

    net: str = ""
    lot: str = ""
    made: str = ""


class PlanTold(Struct, frozen=True, forbid_unknown_fields=True):
    """Which plan is asked."""

    file: str


class WeighedRow(Struct, frozen=True, forbid_unknown_fields=True):
    """A line of the sheet as it was filled in."""

    stage: str
    ingredient: str
    grams: str
    lots: str
    weighed_grams: str


class ReadAt(Struct, frozen=True, forbid_unknown_fields=True):
    """A temperature that was read at a stage; blank where none was."""

    stage: str
    degrees: str


class RecordTold(Struct, frozen=True, forbid_unknown_fields=True):
    """A batch that was made."""

    rows: tuple[WeighedRow, ...]
    made: str = ""
    number: str = ""
    units: str = ""
    net: str = ""
    out: str = ""
    note: str = ""
    checked: str = ""
    temperatures: tuple[ReadAt, ...] = ()
    verdict: str = ""
    room: str = ""


def routes(rooms: Rooms) -> list[Route]:
    """Return the addresses at the bench of a scenario that is open."""
    own = f"{rooms.place}desk/{{desk}}/bench/"
    return [
        Route(own, _page(rooms)),
        Route(f"{own}sheet", _part(rooms, SheetTold, _sheet), methods=["POST"]),
        Route(f"{own}label", _part(rooms, LabelTold, _label), methods=["POST"]),
        Route(f"{own}plan", _part(rooms, PlanTold, _plan), methods=["POST"]),
        Route(f"{own}record", _part(rooms, RecordTold, _record), methods=["POST"]),
    ]


def _page(rooms: Rooms) -> Endpoint:
    def shown(desk: Desk, own: str) -> str:
        workshop = desk.asked.scenario.workshop
        bench = read_bench(desk.path, workshop)
        return rendered(
            "bench.html",
            title=desk.asked.scenario.title,
            place=rooms.place,
            large=rooms.large,
            own=own,
            changed=desk.changed,
            moulds=[each.name for each in bench.moulds],
            plans=plans(rooms.workspace),
        )

    async def page(request: Request) -> Response:
        name = request.path_params["desk"]
        desk = rooms.desk(name)
        if desk is None:
            return to(rooms.place)
        own = f"{rooms.place}desk/{name}/"
        try:
            return html(await run_in_threadpool(shown, desk, own))
        except InputError as error:
            return html(wrong_html(error, rooms.place, large=rooms.large), 422)

    return page


def _part(rooms: Rooms, shape: type[Told], does: Does[Told]) -> Endpoint:
    def done(request: Request, told: Told) -> Reply:
        name = request.path_params["desk"]
        desk = rooms.desk(name)
        if desk is None:
            return 410, {}
        own = f"{rooms.place}desk/{name}/bench/"
        return 200, {"html": does(rooms, desk, told, own)}

    return asked_with(shape, done)


def _sections(page: Page, *without: str, level: int = 3) -> Markup:
    plain = untyped(page.sections)
    shown = [each for each in plain if each.title not in without]
    return Markup("\n".join(section_html(each, level) for each in shown))


def _clash(clash: Clash) -> str:
    return _sections(clash_page(clash, can_write=False))


# -- sheets ---------------------------------------------------------------------------


def _sheet(_: Rooms, desk: Desk, told: SheetTold, own: str) -> str:
    """Return the batch sheet, whose amounts are fields to fill in."""
    asked, catalogue = read_scenario(desk.path)
    bench = read_bench(desk.path, asked.workshop)
    wanted = Wanted(
        units=_units(told.units),
        net_kg=mass_or_none(told.net or None, "net weight", "60 g"),
        batch_kg=mass_or_none(told.batch or None, "batch", "5 kg"),
        mould=told.mould or None,
    )
    size = wanted.asked(desk.path, asked, bench)
    found = batch_sheet(asked, catalogue, bench, size)
    if isinstance(found, Clash):
        return _clash(found)
    page = sheets.batch_page(found)
    return rendered(
        "sheet.html",
        own=own,
        about="; ".join(page.about),
        first=_sections(Page("", (), page.sections[:1])),
        stages=list(_stages(found)),
        rest=_sections(Page("", (), page.sections[1:]), WEIGH, ""),
        today=date.today().isoformat(),
        units=found.size.units or "",
        net=told.net,
        verdicts=VERDICTS,
    )


def _units(text: str) -> int | None:
    if not text:
        return None
    if not text.isdecimal() or len(text) > MOST_DIGITS:
        wrong, fix = "is no count of units", "write a whole number, as in 24"
        raise InputError([Problem(wrong, field="units", found=text, fix=fix)])
    return int(text)


class ToWeigh(Struct, frozen=True):
    """One line to weigh; ``cells`` are those of the sheet that stay as they are."""

    name: str
    grams: str
    lots: str
    cells: dict[str, str]


def _stages(sheet: BatchSheet) -> Iterator[tuple[str, list[ToWeigh]]]:
    """Yield each stage with its lines, as the sheet's own table has them."""
    stages: dict[str, list[ToWeigh]] = {}
    table = sheets.weighing_sheet(sheet)
    for values in table.rows:
        row = dict(zip(table.header, map(told, values), strict=True))
        cells = {each: row[each] for each in ("stage", "ingredient", "grams")}
        line = ToWeigh(row["name"], row["grams"], row["lots"], cells)
        stages.setdefault(row["stage"], []).append(line)
    yield from stages.items()


# -- the book -------------------------------------------------------------------------


def _record(_: Rooms, desk: Desk, told: RecordTold, _own: str) -> str:
    """Return what the book holds of a batch, once it does."""
    units = _units(told.units)
    notes = [told.note] if told.note else []
    net = told.net if units is not None else ""
    read = [f"{x.stage}={x.degrees}" for x in told.temperatures if x.degrees]

    def more() -> list[Fact]:
        found: list[Fact] = []
        gathered(
            lambda: found.extend(
                facts_of(read, told.out or None, units, net or None, notes)
            ),
            lambda: found.extend(_verdict(told)),
        )
        return found

    with tempfile.TemporaryDirectory(prefix="optimiser-") as folder:
        sheet = Path(folder) / "sheet"
        _fill(sheet, told.rows)
        try:
            done = to_record(
                desk.path,
                sheet,
                more,
                number=told.number,
                made=told.made or None,
                checked=told.checked,
            )
        except InputError as error:
            raise InputError(_by_line(error.problems, sheet, told.rows)) from error
    book, added = add(done.place.file, done.place.shown, writer(None), done.build)
    return _recorded(done.place, book, added[0].id, done)


def _verdict(told: RecordTold) -> list[Fact]:
    """Return how firm the batch was judged to be; nothing where it was not."""
    if not told.verdict:
        if told.room:
            wrong = "is given, but not how firm the batch was in it"
            fix = f"choose of {', '.join(VERDICTS)}, or leave the room out"
            raise InputError([Problem(wrong, field="room", found=told.room, fix=fix)])
        return []
    refuse_verdict(told.verdict, told.room or None, None, None)
    return [VerdictGiven(room=warmth(told.room, "--room"), verdict=told.verdict)]


def _recorded(
    place: Place, book: Book, entry: int, done: ToRecord | None = None
) -> str:
    """Return the batch that an entry began, as the book has it."""
    root = book.root(book.entries[entry - 1])
    batch = next(each for each in book.batches if each.id == root)
    seen = batch_seen(place, book, batch, done=done)
    page = records.batch_page(seen)
    return rendered(
        "recorded.html",
        number=batch.made.number,
        title=page.title,
        rest=_sections(page),
    )


def _fill(path: Path, rows: Sequence[WeighedRow]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file)
        out.writerow(WEIGHED)
        out.writerows([getattr(each, name) for name in WEIGHED] for each in rows)


def _by_line(
    problems: Sequence[Problem], sheet: Path, rows: Sequence[WeighedRow]
) -> Iterator[Problem]:
    """Yield problems of the sheet by ingredient, for the page numbers no rows."""
    for each in problems:
        if each.file != str(sheet):
            yield each
            continue
        place = (each.row or 0) - 2
        who = rows[place].ingredient if 0 <= place < len(rows) else "the sheet"
        found = each.found if each.found else None
        yield Problem(each.wrong, field=who, found=found, fix=each.fix)


# -- label and plan -------------------------------------------------------------------


def _label(_: Rooms, desk: Desk, told: LabelTold, _own: str) -> str:
    """Return the label of the scenario's own answer, for each of its markets."""
    kg = mass_or_none(told.net or None, "net weight", "60 g")
    made = day_of(told.made or None, "made on")
    asked, catalogue = read_scenario(desk.path)
    root = catalogues_of(desk.path)
    own = asked.workshop or None
    rules, contents = read_label_rules(root, own), read_net_content(root, own)
    lacking = [each for each in asked.markets if each not in rules]
    if lacking or not asked.markets:
        wrong = "has no rules on labels in the catalogues, so no label can be written"
        fix = f"choose of {', '.join(rules)} where it is sold, and save that"
        which = ", ".join(lacking) or "no market"
        raise InputError([Problem(wrong, field="market", found=which, fix=fix)])
    answer = formulate(asked, catalogue)
    if isinstance(answer, Clash):
        return _clash(answer)
    amounts = {x.ingredient: x.percent for x in answer.formula if x.percent > 0.0}
    net = None if kg is None else 1000.0 * kg
    maker = read_maker(desk.path, own)
    beside = labels.Particulars(made, net, told.lot or None, maker=maker)
    drawn = [
        labels.label(amounts, asked, catalogue, rules[x], contents.get(x), beside)
        for x in asked.markets
    ]
    found = Labelled(
        title=asked.title,
        file=asked.file,
        use=asked.use,
        day=asked.day,
        reading=asked.exclude.reading,
        keeping=labels.keeping(amounts, catalogue, made),
        food=facts.allergens(amounts, catalogue),
        labels=tuple(drawn),
        lines=tuple(label_lines(x, asked.title, asked.product) for x in drawn),
        size=None,
        fits=(),
        workshop=asked.workshop,
    )
    return _sections(label_page(found))


def _plan(rooms: Rooms, _: Desk, told: PlanTold, _own: str) -> str:
    if told.file not in plans(rooms.workspace):
        wrong, fix = "is no plan here", "choose one of those that are listed"
        raise InputError([Problem(wrong, found=told.file, fix=fix)])
    found = plan(read_plan(rooms.workspace / told.file, overfill_by_law), SEARCHES)
    if isinstance(found, Unfit):
        return _clash(found.clash)
    return _sections(plan_page(found))
