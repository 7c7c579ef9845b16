"""What a maker's trials came to: as text, as data, and as rows for the workshop."""

from __future__ import annotations

import csv
import io
import math
from typing import TYPE_CHECKING, Any

from optimiser.presenting.layout import Column, item, numbered, paragraph, table, width
from optimiser.presenting.report import section
from optimiser.presenting.words import clean, decimals, plural, short

if TYPE_CHECKING:
    from optimiser.science.mixing import Blend
    from optimiser.studies.calibration.calibrate import Calibration, TrialLine

__all__ = ["calibration_csv", "calibration_data", "calibration_report"]

HEADER = "ingredient,property,at,value,low,high,unit,basis,variant,evidence,source,note"
LEVELS = {
    "too few": "too few to rely on",
    "thin": "a thin base: a first step, to be tested",
    "fair": "a fair base, for bars like the ones tried",
}
MOST_TRIALS = 40


def calibration_report(
    found: Calibration, written: str | None = None, columns: int | None = None
) -> str:
    """Return a calibration as text.

    Parameters
    ----------
    found : Calibration
    written : str, optional
        Where the workshop's rows were written to; None if they were not.
    columns : int, optional
        Width to fit; by default the terminal's.
    """
    wide = columns or width()
    support = found.support
    lines = paragraph(
        f"Calibration on {plural(found.trials, 'trial')}:"
        f" {LEVELS[support.level]} ({found.title}).",
        wide,
    )
    lines += section("What the trials support", _support(found, wide))
    lines += section("The trials", _trials(found, wide))
    lines += section("What moves", _shifts(found, wide))
    lines += section("What it does to the base", _base(found, wide))
    lines += section("Not used", [x for t in found.unused for x in item(t, wide)])
    lines += section("What happens now", numbered(_next(found, written), wide))
    return "\n".join(lines) + "\n"


def _support(found: Calibration, columns: int) -> list[str]:
    support = found.support
    count = support.observations
    counts = (
        f"{plural(count, 'observation')} from {plural(support.bars, 'usable trial')}",
        plural(support.formulas, "formula"),
        plural(support.temperatures, "temperature"),
    )
    lines = item(", ".join(counts), columns)
    if count > 1:
        lines += item(
            f"right by the published figures: {support.before} of {count}; left out in"
            f" turn and foretold by the others: {support.left_out} of {count}",
            columns,
        )
    for reason in support.reasons:
        lines += item(reason, columns)
    for each in support.contradictions:
        lines += item(f"at odds: {each}", columns)
    return lines


def _trials(found: Calibration, columns: int) -> list[str]:
    each = found.lines[:MOST_TRIALS]
    if not each:
        return []
    lines = table(
        [
            Column("", [x.trial for x in each], number=False, least=10),
            Column("°C", [short(x.at, 3) for x in each]),
            Column("seen", [x.observed for x in each], number=False, least=9),
            Column("means", [_means(x) for x in each], number=False, least=8),
            Column("model was", [decimals(x.before, 0) for x in each]),
            Column("is now", [decimals(x.after, 0) for x in each]),
        ],
        columns,
    )
    more = len(found.lines) - len(each)
    if more:
        lines += item(f"and {more} more", columns)
    return lines + item(
        "in firmness of the lipids; in points of solid fat for a drop point", columns
    )


def _means(line: TrialLine) -> str:
    if line.kind == "penetration":
        return f"about {decimals(line.low, 0)}"
    if math.isinf(line.low):
        return "anything" if math.isinf(line.high) else f"below {short(line.high)}"
    if math.isinf(line.high):
        return f"above {short(line.low)}"
    return f"{short(line.low)} to {short(line.high)}"


def _shifts(found: Calibration, columns: int) -> list[str]:
    each = found.shifts
    if not each:
        return []
    lines = table(
        [
            Column("", [x.name for x in each], number=False, least=14),
            Column("was", [decimals(x.before, 0) for x in each]),
            Column("is now", [decimals(x.after, 0) for x in each]),
            Column("moved", [decimals(x.by, 2) for x in each]),
            Column("+/-", [decimals(x.doubt, 2) for x in each]),
            Column("learnt %", [decimals(100 * x.support, 0) for x in each]),
        ],
        columns,
    )
    for far in each:
        if abs(far.by) > 1.0:
            lines += item(
                f"{far.name} lies outside of what is published: perhaps something else"
                " is off, such as oil or lauric fats softening more than they add up",
                columns,
            )
    return lines + item(
        f"points per 100 % of the ingredient at {short(each[0].at)} °C; moved, in"
        " halves of how far published figures lie apart, 0 being as published; learnt,"
        " the share of that doubt which the trials took away",
        columns,
    )


def _base(found: Calibration, columns: int) -> list[str]:
    before, after = found.base_before, found.base_after
    if before is None or after is None or before.value is None:
        return []
    at = "" if found.window.at is None else f" at {short(found.window.at)} °C"
    return item(
        f"firmness{at} over the {found.window.over}: was {_spread(before)}, is now"
        f" {_spread(after)} points",
        columns,
    )


def _spread(blend: Blend) -> str:
    low, value, high = (
        decimals(x or 0.0, 0) for x in (blend.low, blend.value, blend.high)
    )
    return f"{value} ({low} to {high})"


def _next(found: Calibration, written: str | None) -> list[str]:
    doubt = "Model says; make 100 g and test: firmness is added up, not measured."
    if found.support.level == "too few":
        return [
            "Nothing is changed: the rules go on using the published figures.",
            "Add trials: other formulas, a warm and a cool room, some too soft and some"
            " too hard.",
            doubt,
        ]
    if written is None and found.support.left_out < found.support.before:
        return [
            "Nothing is changed yet, and better so: the trials foretell each other"
            " worse than the published figures do. Add trials, or look again at those"
            " that are at odds.",
            doubt,
        ]
    if written is None:
        return [
            "Nothing is changed yet. With --write the figures go into the workshop's"
            " calibration.csv, and formulate and check use them and say so.",
            doubt,
        ]
    return [
        f"{clean(written)} holds the figures; formulate and check use them from now on"
        " and say so. Delete the file to go back.",
        "Trials are always fitted to the published figures, never to an earlier"
        " calibration: keep all trials in one file and add to it.",
        doubt,
    ]


def calibration_csv(found: Calibration, trials_file: str) -> str:
    """Return the workshop's rows, in the columns of properties.csv.

    Parameters
    ----------
    trials_file : str
        Name of the file of trials, for the note.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADER.split(","))
    support = found.support
    basis = f"calibrated on {support.observations} observations"
    note = f"by optimiser calibrate from {clean(trials_file)}: {support.level}"
    for row in found.rows:
        writer.writerow(
            [
                row.ingredient,
                row.property,
                "" if row.at is None else f"{row.at:g} degC",
                *(decimals(x, 3) for x in (row.value, row.low, row.high)),
                row.unit,
                basis,
                "calibrated",
                "estimated",
                "",
                note,
            ]
        )
    return out.getvalue()


def calibration_data(found: Calibration, written: str | None = None) -> dict[str, Any]:
    """Return a calibration as data; an open side of an observation is null."""
    return {
        "status": found.support.level,
        "title": found.title,
        "scenario": found.file,
        "workshop": found.workshop,
        "trials": found.trials,
        "support": found.support,
        "observations": found.lines,
        "shifts": found.shifts,
        "rows": found.rows,
        "base_firmness": {"before": found.base_before, "after": found.base_after},
        "not_used": found.unused,
        "written": written,
    }
