"""What an entry of the book should have said, from options."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from optimiser.cli.bookkeeping import day_of, degrees_of, in_words, weighed_of
from optimiser.errors import InputError, Option, Phrase, Problem, phrase

if TYPE_CHECKING:
    from optimiser.domain import record

__all__ = ["put_right", "refuse_verdict", "warmth"]

Said = Mapping[str, str]


def refuse_verdict(
    verdict: str | None,
    room: str | None,
    drop_point: str | None,
    penetration: float | None,
) -> None:
    """Raise what is wrong with a verdict, as the reader of trials would say it."""
    from optimiser.domain.trial import VERDICTS  # noqa: PLC0415
    from optimiser.errors import alike  # noqa: PLC0415

    problems = []
    if verdict is not None and verdict not in VERDICTS:
        close = alike(verdict, VERDICTS, most=1)
        words = f"{close[0]}, or another of" if close else "one of"
        fix: str | Phrase = f"write {words}: {', '.join(VERDICTS)}"
        problems.append(Problem("is no verdict", None, None, "verdict", verdict, fix))
    if verdict is None and drop_point is None and penetration is None:
        reading = (Option("drop-point"), " or ", Option("penetration"))
        fix = phrase("write too soft, right or too hard; or ", *reading)
        problems.append(Problem("nothing was observed", fix=fix))
    if (verdict is not None or penetration is not None) and room is None:
        fix = phrase("write how warm the bar was: ", Option("room", '"25 degC"'))
        problems.append(Problem("is missing", field="--room", fix=fix))
    if penetration is not None and not 0.0 < penetration <= 1000.0:
        fix = "write tenths of a millimetre, above 0 and up to 1000"
        wrong = "is no penetration"
        found = f"{penetration:g}"
        problems.append(Problem(wrong, None, None, "--penetration", found, fix))
    if problems:
        raise InputError(problems)


def warmth(text: str, option: str) -> float:
    """Return a temperature that a bar may have, deg C."""
    from optimiser.reading.trials import COLDEST, HOTTEST  # noqa: PLC0415

    return degrees_of(text, option, COLDEST, HOTTEST)


def put_right(fact: record.Fact, said: Said) -> record.Fact:
    """Return a fact with what was said of it.

    Parameters
    ----------
    said : mapping of option to text
        Of --to, --lot, --made and --room those that were given.

    Raises
    ------
    InputError
        If one of them is no part of such a fact, or is wrong.
    """
    import msgspec  # noqa: PLC0415 - only here

    kind = msgspec.to_builtins(fact)["type"]
    options, change = _CHANGES[kind]
    problems = [
        Problem(
            f"is not of this entry, which is a {kind}",
            field=name,
            fix=f"leave it out; what can be said here is {', '.join(options)}",
        )
        for name in said
        if name not in options
    ]
    if problems:
        raise InputError(problems)
    found: record.Fact = change(fact, said)
    return found


def _batch(fact: record.BatchMade, said: Said) -> record.BatchMade:
    day = said.get("--made")
    made_on = fact.made_on if day is None else day_of(day, "--made")
    return replace(fact, number=said.get("--to", fact.number).strip(), made_on=made_on)


def _weighed(fact: record.WeighedIn, said: Said) -> record.WeighedIn:
    to = said.get("--to")
    grams = fact.grams if to is None else weighed_of(to, "--to", "112.5 g")
    lot = in_words(said.get("--lot", fact.lot), "--lot")
    return replace(fact, grams=grams, lot=lot)


def _grams(
    fact: record.Yielded | record.UnitWeight, said: Said
) -> record.Yielded | record.UnitWeight:
    return replace(fact, grams=weighed_of(said["--to"], "--to", "60.2 g"))


def _temperature(fact: record.Temperature, said: Said) -> record.Temperature:
    return replace(fact, degrees=degrees_of(said["--to"], "--to"))


def _units(fact: record.Units, said: Said) -> record.Units:
    from optimiser.domain.record import MOST_UNITS  # noqa: PLC0415

    text = said["--to"].strip()
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= MOST_UNITS):
        fix = phrase("write a whole number, as in ", Option("to", "23"))
        raise InputError([Problem("is no count", None, None, "--to", text, fix)])
    return replace(fact, count=int(text))


def _verdict(fact: record.VerdictGiven, said: Said) -> record.VerdictGiven:
    given, room = said.get("--to", fact.verdict), said.get("--room")
    if given is not None:
        known = room if room is not None or fact.room is None else "known"
        refuse_verdict(given, known, None, fact.penetration)
    warm = fact.room if room is None else warmth(room, "--room")
    return replace(fact, verdict=given, room=warm)


def _note(fact: record.Note, said: Said) -> record.Note:
    text = in_words(said["--to"], "--to")
    if not text:
        fix = phrase("write it, or take the note back with ", Option("withdraw"))
        raise InputError([Problem("is blank", field="--to", fix=fix)])
    return replace(fact, text=text)


_CHANGES: Mapping[str, tuple[tuple[str, ...], Callable[[Any, Said], Any]]] = {
    "batch": (("--to", "--made"), _batch),
    "weighed": (("--to", "--lot"), _weighed),
    "temperature": (("--to",), _temperature),
    "yield": (("--to",), _grams),
    "units": (("--to",), _units),
    "unit weight": (("--to",), _grams),
    "verdict": (("--to", "--room"), _verdict),
    "note": (("--to",), _note),
}
