"""An assessor's envelope: lists of ingredients with caps and a total each."""

from __future__ import annotations

from pathlib import Path

from optimiser.domain.material import Origin
from optimiser.domain.scenario import Envelope, EnvelopeList
from optimiser.errors import Problem
from optimiser.reading.asking import Asking
from optimiser.reading.folders import outside
from optimiser.reading.scenario_files import EnvelopeFile, EnvelopeRows
from optimiser.reading.shapes import fit, fitted
from optimiser.reading.text import absent, seen_from
from optimiser.reading.toml_text import read_toml

__all__ = ["envelope_of"]


def envelope_of(asking: Asking, folder: Path, beside: Path) -> Envelope | None:
    """Return the envelope that a scenario names, or None.

    Parameters
    ----------
    asking : Asking
        The scenario.
    folder : Path
        Folder of the file that names the envelope.
    beside : Path
        Folder of the scenario; the envelope's file is shown as seen from there.
    """
    table = asking.file.envelope
    if table is None:
        return None
    path = folder / table.file
    said = absent(path) or outside(folder, path)
    if said is not None:
        origin = asking.origin("envelope", "file")
        asking.say(origin, *said, table.file)
        return None
    shown = seen_from(beside, path)
    content = read_toml(path, shown, asking.problems)
    if content is None or fit(EnvelopeFile, content, shown, asking.problems):
        return None
    return _envelope(asking, fitted(EnvelopeFile, content), shown)


def _envelope(asking: Asking, file: EnvelopeFile, shown: str) -> Envelope:
    """Return an envelope with its names resolved."""
    lists = tuple(
        _list(asking, rows, Origin(shown, field=f"lists[{number}]"))
        for number, rows in enumerate(file.lists, start=1)
    )
    if not lists:
        fix = "write at least one [[lists]]"
        asking.problems.append(Problem("has no lists", shown, fix=fix))
    return Envelope(file.title, lists, Origin(shown))


def _list(asking: Asking, rows: EnvelopeRows, origin: Origin) -> EnvelopeList:
    """Return one list of an envelope, percent of the finished product."""
    low, high = rows.min, rows.max
    asking.percent(low, origin, ".min")
    asking.percent(high, origin, ".max")
    if low is not None and high is not None:
        asking.sides(low, high, origin)
    caps: dict[str, float] = {}
    for text, cap in rows.caps.items():
        entry = f".caps.{text}"
        asking.percent(cap, origin, entry)
        key = asking.ingredient(text, origin, entry)
        if key in caps:
            asking.say(origin, "is on this list twice", "keep one cap", text, entry)
        caps[key or text] = cap
    return EnvelopeList(rows.name, low, high, caps, origin)
