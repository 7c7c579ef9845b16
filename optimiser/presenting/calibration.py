"""What a maker's trials came to: a page, data, and rows for the workshop."""

from __future__ import annotations

import csv
import io
import json
import math
from typing import TYPE_CHECKING, Any

from msgspec.structs import asdict

from optimiser.presenting.page import (
    Block,
    Item,
    Numbered,
    Page,
    Paragraph,
    Section,
    Table,
    items,
    numbers,
    section,
    words,
)
from optimiser.presenting.words import clean, decimals, plural, short

if TYPE_CHECKING:
    from optimiser.science.mixing import Blend
    from optimiser.studies.calibration.calibrate import Calibration, TrialLine
    from optimiser.studies.calibration.observations import PassedOver
    from optimiser.studies.calibration.support import AtOdds

__all__ = [
    "calibration_csv",
    "calibration_data",
    "calibration_page",
    "window_scenario",
]

HEADER = "ingredient,property,at,value,low,high,unit,basis,variant,evidence,source,note"
LEVELS = {
    "too few": "too few to rely on",
    "not explained": "these figures cannot explain your bars",
    "thin": "a thin base: a first step, to be tested",
    "fair": "a fair base, for bars like the ones tried",
}
MOST_TRIALS, MOST_SHIFTS, MOST_REASONS, MOST_UNEXPLAINED = 40, 6, 2, 3
WINDOW_LINE = "# The scenario it extends, with a window on firmness from bars judged."


def calibration_page(
    found: Calibration, written: str | None = None, *, full: bool = False
) -> Page:
    """Return a calibration as a page.

    Parameters
    ----------
    found : Calibration
    written : str, optional
        Where the workshop's rows were written to; None if they were not.
    full : bool
        With every trial and every ingredient, instead of those that moved most.
    """
    verdict = (
        f"Calibration on {plural(found.trials, 'trial')}:"
        f" {LEVELS[found.support.level]}."
    )
    opened = found.proposal is not None and not found.proposal.replaces
    moves = not opened and found.support.level != "not explained"
    if opened:
        verdict = f"Calibration on {plural(found.trials, 'trial')}: no window yet."
    happens = _next(found, written)
    now = "would be" if written is None else "is now"
    base = _base(found, now) if moves else ()
    sections = [Section("", (Paragraph(verdict), *base))]
    sections += section("What the figures cannot explain", _unexplained(found, full))
    sections += section("A window that your verdicts speak for", _proposal(found))
    if full:
        sections += section("What happens now", [Numbered(tuple(happens))])
    else:
        sections += section("What happens now", items(happens[:1]))
    if full or not opened:
        sections += section("What the trials support", _support(found, full=full))
    if full or moves:
        sections += section("What moves", _shifts(found, now, full=full))
    if full:
        sections += section("The trials", _trials(found, now))
    unused = found.unused if full else found.unused[:2]
    sections += section("Not used", [Item(_passed_over(each)) for each in unused])
    if not full:
        rest = "With --full: every trial with what the model said before and says now."
        sections += section("", [Paragraph(rest)])
    return Page(found.title, (found.file,), tuple(sections))


def _unexplained(found: Calibration, full: bool) -> list[Item]:
    """Return each bar that the figures contradict, however they move."""
    rows = found.unexplained if full else found.unexplained[:MOST_UNEXPLAINED]
    told = [
        f"{each.trial} at {short(each.at)} °C: seen '{_observed(each)}'"
        f" ({_means(each)}), but the model says {_whole(each.before)}, and"
        f" {_whole(each.after)} with its figures moved as far as all trials allow"
        for each in rows
    ]
    more = len(found.unexplained) - len(rows)
    if more > 0:
        told.append(f"and {more} more")
    if told:
        told.append(
            "look first at the bar (weighed right? a day old? cooled slowly?), then at"
            " the window; what is left is the model's own fault"
        )
    return list(items(told))


def window_lines(found: Calibration) -> list[str]:
    """Return the proposed window as lines of a scenario file; none without."""
    each = found.proposal
    if each is None:
        return []
    if each.replaces:
        rule_id = found.window.rule_id
        sides = [("min", found.window.low, each.low)]
        sides.append(("max", found.window.high, each.high))
        return [
            "[eased]",
            *(
                f'"{clean(rule_id(side))}" = {short(limit)}'
                for side, old, limit in sides
                if old is not None
            ),
        ]
    return [
        "[[windows]]",
        'property = "firmness"',
        f'at       = "{short(each.at)} degC"',
        f'over     = "{clean(each.over)}"',
        f"min      = {short(each.low)}",
        f"max      = {short(each.high)}",
    ]


def _proposal(found: Calibration) -> list[Block]:
    """Return the window that verdicts speak for, ready to paste."""
    each = found.proposal
    if each is None:
        return []
    one_sided = [
        f"no bar was found {side}, so its {end} is only the last one that was right"
        for side, end, seen in (
            ("too soft", "min", each.soft),
            ("too hard", "max", each.hard),
        )
        if not seen
    ]
    figures_too = each.replaces and found.support.level in {"thin", "fair"}
    paste = "to paste into the scenario, or written with --write:"
    if figures_too:
        paste = "to paste into the scenario instead of moving figures, never both:"
    told = [
        f"firmness at {short(each.at)} °C over the {each.over}: {short(each.low)} to"
        f" {short(each.high)}; {each.met} of {each.verdicts} verdicts agree with it, by"
        " the published figures",
        *one_sided,
        paste,
    ]
    return [*items(told), *(Paragraph(line) for line in window_lines(found))]


def window_scenario(extends: str, found: Calibration) -> str:
    """Return a scenario file (TOML) with the window that verdicts speak for.

    Parameters
    ----------
    extends : str
        The scenario that the trials are of, as seen from the file to be written.
    """
    first = f"{WINDOW_LINE}\nextends = {json.dumps(extends, ensure_ascii=False)}\n\n"
    return first + "\n".join(window_lines(found)) + "\n"


def _support(found: Calibration, *, full: bool) -> list[Item]:
    support = found.support
    count = support.observations
    counts = (
        f"{plural(count, 'observation')} from {plural(support.bars, 'usable trial')}",
        plural(support.formulas, "formula"),
        plural(support.temperatures, "temperature"),
    )
    told = [", ".join(counts)]
    if count > 1:
        told.append(
            f"right by the published figures: {support.before} of {count}; each"
            f" foretold by the others alone: {support.left_out} of {count}"
        )
    most = None if full else MOST_REASONS
    told += support.reasons[:most]
    told += [f"at odds: {_at_odds(each)}" for each in support.contradictions[:most]]
    return list(items(told))


def _observed(line: TrialLine) -> str:
    """Return what was seen: a verdict, or a reading with what it is."""
    if isinstance(line.observed, str):
        return line.observed
    read = short(line.observed, 6)
    return f"drops at {read} °C" if line.kind == "drop point" else f"needle {read}"


def _at_odds(each: AtOdds) -> str:
    """Return two verdicts that cannot both hold, in words."""
    said = [
        f"{one.trial} at {short(one.at)} °C is '{one.verdict}'"
        for one in (each.cool, each.warm)
    ]
    return f"{' and '.join(said)}, yet both are the same formula"


def _passed_over(each: PassedOver) -> str:
    """Return which trial says nothing, and why."""
    why = each.why
    if not isinstance(why, str):
        lacking = ", ".join(why.lacking) or "anything in it"
        why = f"no {why.property} at {short(why.at)} degC is known of {lacking}"
    return f"{each.trial} ({each.origin}): {why}"


def _trials(found: Calibration, now: str) -> list[Block]:
    each = found.lines[:MOST_TRIALS]
    if not each:
        return []
    table = Table(
        (
            words("", [x.trial for x in each], 10),
            numbers("°C", [x.at for x in each], lambda at: short(at, 3)),
            words("seen", [_observed(x) for x in each], 9),
            words("means", [_means(x) for x in each], 8),
            numbers("model was", [x.before for x in each], _whole),
            numbers(now, [x.after for x in each], _whole),
        )
    )
    more = len(found.lines) - len(each)
    told = [f"and {more} more"] if more else []
    told.append("in firmness of the lipids; in points of solid fat for a drop point")
    return [table, *items(told)]


def _whole(value: float) -> str:
    return decimals(value, 0)


def _means(line: TrialLine) -> str:
    if line.kind == "penetration":
        return f"about {decimals(line.low, 0)}"
    if math.isinf(line.low):
        return "anything" if math.isinf(line.high) else f"below {short(line.high)}"
    if math.isinf(line.high):
        return f"above {short(line.low)}"
    return f"{short(line.low)} to {short(line.high)}"


def _shifts(found: Calibration, now: str, *, full: bool) -> list[Block]:
    """Return how ingredients moved; on a short page those that moved most."""
    each = sorted(found.shifts, key=lambda x: -abs(x.after - x.before))
    rows = found.shifts if full else each[:MOST_SHIFTS]
    if not rows:
        return []
    columns = [
        words("", [x.name for x in rows], 14),
        numbers("was", [x.before for x in rows], _whole),
        numbers(now, [x.after for x in rows], _whole),
    ]
    if full:
        columns += [
            numbers("moved", [x.by for x in rows], lambda by: decimals(by, 2)),
            numbers("+/-", [x.doubt for x in rows], lambda by: decimals(by, 2)),
            numbers("learnt %", [100 * x.support for x in rows], _whole),
        ]
    told = [
        f"{far.name} lies outside of what is published: perhaps something else is off,"
        " such as oil or lauric fats softening more than they add up"
        for far in rows
        if abs(far.by) > 1.0
    ]
    unit = f"firmness of the ingredient by itself at {short(rows[0].at)} °C"
    if full:
        unit += (
            "; moved, in halves of how far published figures lie apart, 0 being as"
            " published; learnt, the share of that doubt which the trials took away"
        )
    elif len(each) > len(rows):
        told.append(f"and {len(each) - len(rows)} more that moved less")
    return [Table(tuple(columns)), *items([*told, unit])]


def _base(found: Calibration, now: str) -> list[Item]:
    before, after = found.base_before, found.base_after
    if before is None or after is None or before.value is None:
        return []
    at = "" if found.window.at is None else f" at {short(found.window.at)} °C"
    text = (
        f"The base's firmness{at} over the {found.window.over} was {_spread(before)},"
        f" {now} {_spread(after)}."
    )
    return [Item(text)]


def _spread(blend: Blend) -> str:
    low, value, high = (
        decimals(x or 0.0, 0) for x in (blend.low, blend.value, blend.high)
    )
    return f"{value} ({low} to {high})"


def _next(found: Calibration, written: str | None) -> list[str]:
    doubt = "Model says; make 100 g and test: firmness is added up, not measured."
    if found.proposal is not None and not found.proposal.replaces:
        return [
            "No figure is moved: the verdicts set the window, and cannot tell both."
            " With the window in the scenario, further bars will.",
            doubt,
        ]
    if found.support.level == "not explained":
        return [
            "Nothing is changed, and --write would not change the figures: moving them"
            " would hide what does not fit.",
            doubt,
        ]
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


def _trial_data(line: TrialLine) -> dict[str, Any]:
    return asdict(line) | {"observed": _observed(line)}


def calibration_data(found: Calibration, written: str | None = None) -> dict[str, Any]:
    """Return a calibration as data; an open side of an observation is null."""
    return {
        "status": found.support.level,
        "title": found.title,
        "scenario": found.file,
        "workshop": found.workshop,
        "trials": found.trials,
        "support": asdict(found.support)
        | {"contradictions": [_at_odds(x) for x in found.support.contradictions]},
        "observations": [_trial_data(each) for each in found.lines],
        "shifts": found.shifts,
        "rows": found.rows,
        "base_firmness": {"before": found.base_before, "after": found.base_after},
        "not_used": [_passed_over(each) for each in found.unused],
        "unexplained": [_trial_data(each) for each in found.unexplained],
        "proposed_window": found.proposal,
        "written": written,
    }
