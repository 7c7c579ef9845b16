"""``optimiser record``: what was made and judged, in a book that only grows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct

from optimiser.cli.bookkeeping import (
    Place,
    day_of,
    facts_of,
    gathered,
    in_words,
    place_of_scenario,
    place_of_workshop,
    weighed_of,
    writer,
)
from optimiser.cli.correcting import put_right, refuse_verdict, warmth
from optimiser.cli.running import ANSWERED, say
from optimiser.cli.studying import AsJson, Full, show, write
from optimiser.errors import InputError, Option, Problem, phrase

if TYPE_CHECKING:
    from optimiser.domain.record import Book, Entry, Fact, Recorded
    from optimiser.explaining.answer import Checked
    from optimiser.presenting.bench.record import BatchSeen
    from optimiser.reading.records import New

__all__ = ["ToRecord", "app", "batch_seen", "to_record"]

app = typer.Typer(
    rich_markup_mode=None,
    no_args_is_help=True,
    help="Keep what was made: weights, lots, yield, verdicts.",
    epilog="Example: optimiser record batch scenarios/massage_bar.toml sheet.csv",
)

Number = Annotated[str, typer.Argument(help="Number of the batch.")]
By = Annotated[str | None, typer.Option("--by", help="Who writes this.")]
Workshop = Annotated[
    str | None, typer.Option("--workshop", help="Whose book; else as remembered.")
]
Temperatures = Annotated[
    list[str] | None,
    typer.Option("--temperature", help='What was read, as in "melt=78 degC".'),
]
Out = Annotated[
    str | None, typer.Option("--yield", help='What came out, as in "1420 g".')
]
Count = Annotated[
    int | None, typer.Option("--units", help="How many units were filled.")
]
Net = Annotated[
    str | None, typer.Option("--net", help='Net weight on the label, as in "60 g".')
]
Notes = Annotated[
    list[str] | None, typer.Option("--note", help="Anything else, in words.")
]


@app.command("batch")
def record_batch(  # noqa: PLR0913, PLR0917 - each is an option of the command
    scenario: Annotated[Path, typer.Argument(help="Scenario file (TOML).")],
    sheet: Annotated[Path, typer.Argument(help="Filled-in batch sheet (CSV).")],
    number: Annotated[
        str, typer.Option("--number", help="Its number; else the day's next.")
    ] = "",
    made: Annotated[
        str | None, typer.Option("--made", help="Day it was made; else today.")
    ] = None,
    temperature: Temperatures = None,
    out: Out = None,
    units: Count = None,
    net: Net = None,
    note: Notes = None,
    checked: Annotated[
        str, typer.Option("--checked", help="Who checked the weights.")
    ] = "",
    by: By = None,
    full: Full = False,
    json: AsJson = False,
) -> None:
    """Record a batch from its sheet, and hold it against the rules as made.

    The sheet is what `optimiser batch SCENARIO --csv` writes, with weighed_grams and
    lots filled in; ingredient,lots,weighed_grams alone will do.

    Example: optimiser record batch scenarios/massage_bar.toml sheet.csv --units 24
    """
    done = to_record(
        scenario,
        sheet,
        lambda: facts_of(temperature or (), out, units, net, note or ()),
        number=number,
        made=made,
        checked=checked,
    )
    _add(done.place, by, done.build, full=full, json=json, done=done)


class ToRecord(Struct, frozen=True):
    """A batch before it is in the book: which book, what to add, how it kept rules.

    ``missing`` are names of what its formula has and nothing was weighed of.
    """

    place: Place
    build: Callable[[Book], list[New]]
    held: Checked
    missing: tuple[str, ...] = ()


def to_record(
    scenario: Path,
    sheet: Path,
    more: Callable[[], Sequence[Fact]],
    *,
    number: str = "",
    made: str | None = None,
    checked: str = "",
) -> ToRecord:
    """Return a batch to record from its sheet.

    Parameters
    ----------
    more : function
        What is known of it beside its weights; its problems are told with theirs.

    Raises
    ------
    InputError
        With everything that is wrong.
    """
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.domain.record import BatchMade, WeighedIn  # noqa: PLC0415
    from optimiser.presenting.bench.record import told_rules  # noqa: PLC0415
    from optimiser.presenting.notes import past_told  # noqa: PLC0415
    from optimiser.reading.batch_sheets import read_batch_sheet  # noqa: PLC0415
    from optimiser.reading.bench import read_scales  # noqa: PLC0415
    from optimiser.workshop import recording  # noqa: PLC0415

    asked, catalogue = kept_scenario(scenario)
    place = place_of_scenario(scenario, asked.workshop)
    facts: list[Fact] = []
    days, checkers = [], list[str]()
    gathered(
        lambda: facts.extend(read_batch_sheet(sheet, catalogue)),
        lambda: facts.extend(more()),
        lambda: days.append(day_of(made, "--made")),
        lambda: checkers.append(in_words(checked, "--checked")),
    )
    weighed = [each for each in facts if isinstance(each, WeighedIn)]
    scales = read_scales(scenario, asked.workshop)
    held = recording.as_made(weighed, asked, catalogue, scales)
    missing = recording.left_unweighed(weighed, held, asked, catalogue)
    fact = BatchMade(
        number=number.strip(),
        made_on=days[0],
        title=asked.title,
        scenario=_seen_from(place, scenario),
        use=asked.use,
        markets=asked.markets,
        checked_by=checkers[0],
        broken=told_rules(held),
        not_judged=held.missing,
        over=tuple(each.text for each in past_told(held.basis.over)),
    )

    def build(book: Book) -> list[New]:
        return recording.new_batch(book, fact, facts, catalogue.lots, str(sheet))

    return ToRecord(place, build, held, missing)


@app.command("weights")
def record_weights(  # noqa: PLR0917 - each is an option of the command
    number: Number,
    weights: Annotated[Path, typer.Argument(help="Weighed units (CSV).")],
    tare: Annotated[
        str | None, typer.Option("--tare", help="What an empty pack weighs.")
    ] = None,
    workshop: Workshop = None,
    by: By = None,
    full: Full = False,
    json: AsJson = False,
) -> None:
    """Record what units of a batch weigh: the table that `fill` reads.

    Example: optimiser record weights 2026-11-26-1 weights.csv
    """
    from optimiser.domain.record import UnitWeight  # noqa: PLC0415
    from optimiser.reading.weights import read_units  # noqa: PLC0415

    place = place_of_workshop(workshop)
    empty = None if tare is None else weighed_of(tare, "--tare", "3.2 g")
    facts = [UnitWeight(unit, grams) for unit, grams in read_units(weights, empty)]
    _more(place, number, facts, by, full=full, json=json)


@app.command("verdict")
def record_verdict(  # noqa: PLR0913, PLR0917 - each is an option of the command
    number: Number,
    verdict: Annotated[
        str | None, typer.Argument(help="too soft, right or too hard.")
    ] = None,
    room: Annotated[
        str | None, typer.Option("--room", help='How warm it was, as in "25 degC".')
    ] = None,
    drop_point: Annotated[
        str | None, typer.Option("--drop-point", help="Where it drips.")
    ] = None,
    penetration: Annotated[
        float | None, typer.Option("--penetration", help="Of a needle, 0.1 mm.")
    ] = None,
    unit: Annotated[str, typer.Option("--unit", help="Of which unit.")] = "",
    note: Annotated[str, typer.Option("--note", help="In words.")] = "",
    workshop: Workshop = None,
    by: By = None,
    full: Full = False,
    json: AsJson = False,
) -> None:
    """Record how firm a batch, or one unit of it, came out.

    Example: optimiser record verdict 2026-11-26-1 "too soft" --room "25 degC"
    """
    from optimiser.domain.record import VerdictGiven  # noqa: PLC0415

    place = place_of_workshop(workshop)
    read: dict[str, float] = {}
    gathered(
        lambda: refuse_verdict(verdict, room, drop_point, penetration),
        lambda: room and read.update(room=warmth(room, "--room")),
        lambda: drop_point and read.update(drop=warmth(drop_point, "--drop-point")),
    )
    fact = VerdictGiven(
        unit=in_words(unit, "--unit"),
        room=read.get("room"),
        verdict=verdict,
        drop_point=read.get("drop"),
        penetration=penetration,
        note=in_words(note, "--note"),
    )
    _more(place, number, [fact], by, full=full, json=json)


@app.command("add")
def record_more(  # noqa: PLR0913, PLR0917 - each is an option of the command
    number: Number,
    temperature: Temperatures = None,
    out: Out = None,
    units: Count = None,
    net: Net = None,
    note: Notes = None,
    workshop: Workshop = None,
    by: By = None,
    full: Full = False,
    json: AsJson = False,
) -> None:
    """Record more of a batch: temperatures, what came out, units, notes.

    Example: optimiser record add 2026-11-26-1 --yield "1420 g" --units 23
    """
    place = place_of_workshop(workshop)
    facts = facts_of(temperature or (), out, units, net, note or ())
    if not facts:
        more = (", ", Option("yield"), ", ", Option("units"), " or ", Option("note"))
        fix = phrase("add ", Option("temperature"), *more)
        raise InputError([Problem("there is nothing to record", fix=fix)])
    _more(place, number, facts, by, full=full, json=json)


@app.command("correct")
def record_correction(  # noqa: PLR0913, PLR0917 - each is an option of the command
    entry: Annotated[int, typer.Argument(help="Number of the entry that is wrong.")],
    to: Annotated[
        str | None, typer.Option("--to", help='What is right, as in "112.5 g".')
    ] = None,
    lot: Annotated[
        str | None, typer.Option("--lot", help="The lot that is right.")
    ] = None,
    made: Annotated[
        str | None, typer.Option("--made", help="The day that is right.")
    ] = None,
    room: Annotated[
        str | None, typer.Option("--room", help="How warm it was, of a verdict.")
    ] = None,
    withdraw: Annotated[
        bool, typer.Option("--withdraw", help="Take it back: it counts no more.")
    ] = False,
    why: Annotated[str, typer.Option("--why", help="Why, in words.")] = "",
    workshop: Workshop = None,
    by: By = None,
    full: Full = False,
    json: AsJson = False,
) -> None:
    """Put an entry right by a new one; what it said is kept beside it.

    Example: optimiser record correct 12 --to "112.5 g" --why "misread"
    """
    from optimiser.workshop.recording import corrected  # noqa: PLC0415

    place = place_of_workshop(workshop)
    given = {"--to": to, "--lot": lot, "--made": made, "--room": room}
    said = {name: text for name, text in given.items() if text is not None}
    if withdraw == bool(said):
        wrong = "is given with what would be right" if said else "nothing is corrected"
        field = "--withdraw" if said else None
        right = (Option("to"), ", ", Option("lot"), ", ", Option("made"), " or ")
        alone = (Option("room"), "), or ", Option("withdraw"), " alone")
        fix = phrase("give what is right (", *right, *alone)
        raise InputError([Problem(wrong, field=field, fix=fix)])
    lots = place.catalogue().lots

    def build(book: Book) -> list[New]:
        known = book.entry(entry)
        was = None if known is None else known.fact
        fact = None if withdraw or was is None else put_right(was, said)
        return corrected(book, entry, fact, in_words(why, "--why"), lots)

    _add(place, by, build, full=full, json=json)


@app.command("list")
def record_list(
    workshop: Workshop = None, full: Full = False, json: AsJson = False
) -> None:
    """List the batches that were recorded, the last first.

    Example: optimiser record list
    """
    from optimiser.presenting import as_json  # noqa: PLC0415
    from optimiser.presenting.bench import book as shown  # noqa: PLC0415

    place = place_of_workshop(workshop)
    book = place.book()
    if json:
        say(as_json(shown.list_data(book, place.shown)))
    else:
        show(shown.list_page(book, place.shown, full=full))
    raise typer.Exit(ANSWERED)


@app.command("show")
def record_show(
    number: Number, workshop: Workshop = None, full: Full = False, json: AsJson = False
) -> None:
    """Show a batch: what went in, how it kept the rules, every entry with --full.

    Example: optimiser record show 2026-11-26-1
    """
    from optimiser.workshop.recording import batch_named  # noqa: PLC0415

    place = place_of_workshop(workshop)
    book = place.book()
    _show(place, book, batch_named(book, number), (), full=full, json=json)


@app.command("export")
def record_export(
    file: Annotated[Path, typer.Argument(help="Table to write (CSV).")],
    trials: Annotated[
        bool, typer.Option("--trials", help="Verdicts, as `calibrate` reads them.")
    ] = False,
    workshop: Workshop = None,
) -> None:
    """Write every entry, or the verdicts with the formulas as made, as a table.

    Example: optimiser record export trials.csv --trials
    """
    from optimiser.presenting.bench import book as shown  # noqa: PLC0415

    book = place_of_workshop(workshop).book()
    if not trials:
        write(file, shown.entries_sheet(book), columns=shown.ENTRIES)
        raise typer.Exit(ANSWERED)
    verdicts, count = shown.trials_sheet(book)
    if not count:
        wrong = "holds no verdict yet, so there is nothing to calibrate with"
        fix = 'record one: optimiser record verdict BATCH "right" --room "22 degC"'
        raise InputError([Problem(wrong, fix=fix, field="the book")])
    write(file, verdicts, columns=shown.TRIALS)
    raise typer.Exit(ANSWERED)


def _seen_from(place: Place, scenario: Path) -> str:
    """Return a scenario's file as seen from the workspace, which may be moved."""
    from optimiser.reading.disk import real_path  # noqa: PLC0415

    whole, top = real_path(scenario), real_path(place.root.parent)
    return str(whole.relative_to(top) if top in whole.parents else whole)


def _more(
    place: Place,
    number: str,
    facts: Sequence[Fact],
    by: str | None,
    *,
    full: bool,
    json: bool,
) -> None:
    """Add facts to a batch that was recorded, and show it."""
    from optimiser.workshop.recording import batch_named, more_of  # noqa: PLC0415

    def build(book: Book) -> list[New]:
        return more_of(batch_named(book, number), facts)

    _add(place, by, build, full=full, json=json)


def _add(
    place: Place,
    by: str | None,
    build: Callable[[Book], list[New]],
    *,
    full: bool,
    json: bool,
    done: ToRecord | None = None,
) -> None:
    """Add to the book, and show the batch that it was added to."""
    from optimiser.presenting import as_json  # noqa: PLC0415
    from optimiser.presenting.bench import record as shown  # noqa: PLC0415
    from optimiser.reading.records import add  # noqa: PLC0415

    book, added = add(place.file, place.shown, writer(by), build)
    root = book.root(added[0])
    batch = next((each for each in book.batches if each.id == root), None)
    if batch is not None:
        _show(place, book, batch, added, full=full, json=json, done=done)
    elif json:  # the whole of it was taken back
        say(as_json(shown.taken_back_data(book, added[0])))
    else:
        show(shown.taken_back_page(added[0]))
    raise typer.Exit(ANSWERED)


def _show(
    place: Place,
    book: Book,
    batch: Recorded,
    added: Sequence[Entry],
    *,
    full: bool,
    json: bool,
    done: ToRecord | None = None,
) -> None:
    """Show a batch, held against its rules as they are today."""
    from optimiser.presenting import as_json  # noqa: PLC0415
    from optimiser.presenting.bench import record as shown  # noqa: PLC0415

    seen = batch_seen(place, book, batch, added, done)
    if json:
        say(as_json(shown.batch_data(seen)))
    else:
        show(shown.batch_page(seen, full=full))


def batch_seen(
    place: Place,
    book: Book,
    batch: Recorded,
    added: Sequence[Entry] = (),
    done: ToRecord | None = None,
) -> BatchSeen:
    """Return a batch of a book with all that is told of it.

    ``done`` is what was recorded just now: how it kept its rules was looked at then.
    """
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.domain.record import WeighedIn  # noqa: PLC0415
    from optimiser.presenting.bench.record import BatchSeen  # noqa: PLC0415
    from optimiser.reading.bench import read_scales  # noqa: PLC0415
    from optimiser.workshop.recording import (  # noqa: PLC0415
        as_made,
        left_unweighed,
        shortages,
        untold_lots,
        unusable_verdicts,
    )
    from optimiser.workshop.tracing import of_batch  # noqa: PLC0415

    unchecked, catalogue = "", None
    held, missing = (None, ()) if done is None else (done.held, done.missing)
    try:
        catalogue = place.catalogue(lenient=True)
        if held is None and batch.formula:
            scenario = place.root.parent / batch.made.scenario
            asked, known = kept_scenario(scenario)
            scales = read_scales(scenario, asked.workshop)
            weighed = batch.of(WeighedIn)
            held = as_made(weighed, asked, known, scales)
            missing = left_unweighed(weighed, held, asked, known)
    except InputError as error:
        unchecked = str(error.problems[0].wrong)
    return BatchSeen(
        batch=batch,
        book=book,
        trace=of_batch(batch, catalogue),
        checked=held,
        unchecked=unchecked,
        over={} if catalogue is None else shortages(book, catalogue),
        added=tuple(added),
        missing=missing,
        unusable=() if catalogue is None else unusable_verdicts(batch, catalogue),
        untold=() if catalogue is None else untold_lots(book, batch, catalogue.lots),
    )
