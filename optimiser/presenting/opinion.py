"""The second opinion on solid fat and firmness: as blocks of a page, and as data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from optimiser.presenting.page import Block, Item, Number, Table, TableColumn
from optimiser.presenting.words import decimals, listed, money, short

if TYPE_CHECKING:
    from optimiser.explaining.answer import OpinionLine, SecondOpinion

__all__ = ["opinion", "opinion_data", "opinion_in_short"]

MODEL = (
    "A melting model, not a measurement: the figures of single fats, less what fats"
    " dissolve of each other. For a stable, tempered bar that has come to rest; an"
    " untempered one is softer."
)
BENDS = "a price that leads there can end sooner than told."
CLOSE = 5.0  # points
RELATIVE = "Firmness counts from your base at 25 °C, which reads the same by both."

Aims = Sequence[tuple[str, float, str]]


def opinion(said: SecondOpinion | None, aims: Aims) -> Iterator[Block]:
    """Yield the windows by both figures, and what came of the second."""
    if said is None:
        return
    known = [line for line in said.lines if line.second is not None]
    if known:
        yield _table(known)
    yield Item(_outcome(said, aims))
    if any(line.relative for line in known):
        yield Item(RELATIVE)
    yield Item(MODEL)


def opinion_in_short(said: SecondOpinion | None) -> str:
    """Return what a maker must know of the second opinion; nothing where it is kept."""
    if said is None or said.outcome in {"agrees", "held"}:
        return ""
    broken = _broken(said)
    return {
        "not reached": f"By the second opinion {broken} does not hold, and no formula"
        " within your rules was found for which it does: take it as softer than told.",
        "told": f"By the second opinion, which is told only, {broken} does not hold.",
        "unknown": f"No second opinion: too little is known of {listed(said.unknown)}.",
    }[said.outcome]


def _broken(said: SecondOpinion) -> str:
    """Return the windows that do not hold by it, each once."""
    lines = (line for line in said.lines if line.holds is False)
    return listed(dict.fromkeys(f"'{_what(line)}'" for line in lines))


def _table(lines: Sequence[OpinionLine]) -> Table:
    """Return the table of windows, the two sides of one on one row."""
    rows: dict[str, list[OpinionLine]] = {}
    for line in lines:
        rows.setdefault(_what(line), []).append(line)
    first = [each[0] for each in rows.values()]
    asked = tuple(_asked(each) for each in rows.values())
    return Table(
        (
            TableColumn("", tuple(rows), words=True, least=20),
            TableColumn("asked", asked, words=True),
            TableColumn("sum", tuple(_figure(line.linear) for line in first)),
            TableColumn("2nd opinion", tuple(_figure(line.second) for line in first)),
            TableColumn("+-", tuple(_figure(line.doubt) for line in first)),
        )
    )


def _what(line: OpinionLine) -> str:
    return line.rule.wording.what


def _asked(lines: Sequence[OpinionLine]) -> str:
    words = {"min": "at least", "max": "at most"}
    return ", ".join(
        f"{words[line.rule.side]} {short(line.rule.limit)}" for line in lines
    )


def _figure(value: float | None) -> Number:
    return Number(value, "" if value is None else decimals(max(0.0, value), 0))


def _outcome(said: SecondOpinion, aims: Aims) -> str:
    """Return what the second opinion led to, in a sentence or two."""
    if said.outcome == "unknown":
        return (
            f"No second opinion: too little is known of {listed(said.unknown)}. The"
            " straight sum stands alone, and is mostly too hard: leave it out of the"
            " formula, or keep room with margin = true below [guard]."
        )
    if said.outcome == "agrees":
        agrees = "It agrees: every window above holds by it too."
        near = listed(f"'{_what(line)}'" for line in said.lines if _close(line))
        if near:
            agrees += f" {near} is not far from its most: {BENDS}"
        return agrees
    broken = _broken(said)
    if said.outcome == "told":
        return (
            f"By it {broken} would not hold. It is told only, as the scenario or the"
            " command asks; the straight sum decides."
        )
    if said.outcome == "not reached":
        return (
            f"By it {broken} does not hold, and no formula within your rules was found"
            f" for which it does{_nearest(said)}. Take the formula above as softer than"
            " it says, or ease a rule."
        )
    before = listed(
        f"'{_what(line)}' only {_figure(figure).text}"
        for line, figure in zip(said.lines, said.before, strict=True)
        if figure is not None and _short_of(line, figure)
    )
    return (
        f"By straight sums alone the answer would have had {before} by this opinion."
        f" It was solved again until that held.{_cost(said, aims)} Prices, and what"
        " would come in, are told for near this formula."
    )


def _close(line: OpinionLine) -> bool:
    """Whether a window's upper side may come to hold by it before a price ends."""
    if line.rule.side != "max" or line.second is None or line.second <= 0.0:
        return False
    return line.rule.limit - line.second < CLOSE


def _short_of(line: OpinionLine, figure: float) -> bool:
    miss = line.rule.limit - figure
    return (miss if line.rule.side == "min" else -miss) > 0.01


def _nearest(said: SecondOpinion) -> str:
    told = [
        f"'{_what(line)}' {_figure(figure).text}"
        for line, figure in zip(said.lines, said.nearest, strict=False)
        if _short_of(line, figure)
    ]
    return f"; the nearest came to {listed(told)}" if told else ""


def _cost(said: SecondOpinion, aims: Aims) -> str:
    """Return what holding the second opinion cost, aim by aim."""
    told = []
    for (name, before, unit), (_, now, _) in zip(said.first, aims, strict=False):
        if abs(now - before) > 1e-6 * max(1.0, abs(before)):
            show = money if name == "cost" else short
            told.append(f"{name} from {show(before)} to {show(now)} {unit}")
    return f" That took {listed(told)}." if told else " It cost nothing."


def opinion_data(said: SecondOpinion | None) -> dict[str, Any] | None:
    """Return the second opinion as data."""
    if said is None:
        return None
    return {
        "outcome": said.outcome,
        "windows": [
            {
                "rule": line.rule.id,
                "straight_sum": line.linear,
                "second": line.second,
                "doubt": line.doubt,
                "holds": line.holds,
                "counts_from_base": line.relative,
            }
            for line in said.lines
        ],
        "rounds": said.rounds,
        "starts": said.starts,
        "by_straight_sums": {
            "aims": [{"aim": n, "value": v, "unit": u} for n, v, u in said.first],
            "second": said.before,
        },
        "nearest": said.nearest,
        "unknown": said.unknown,
    }
