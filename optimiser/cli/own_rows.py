"""Rows that are added to a maker's own table, whatever columns it has."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path

from optimiser.presenting.sheet import cell

__all__ = ["with_rows"]


def with_rows(
    path: Path, header: Sequence[str], rows: Sequence[Mapping[str, str]]
) -> str:
    """Return the text of a CSV table with rows added at its end.

    Parameters
    ----------
    path : Path
        The table as it is; where it is not there, one with ``header`` is begun.
    rows : sequence of mapping of column to text
        A column that the table has not is added to its header.
    """
    text = path.read_text(encoding="utf-8-sig") if path.exists() else ""
    first, _, rest = text.partition("\n")
    columns = [each.strip() for each in next(csv.reader([first]), [])] or list(header)
    columns += [
        each
        for each in dict.fromkeys(x for row in rows for x in row)
        if each not in columns
    ]
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, lineterminator="\n", restval="")
    writer.writeheader()
    out.write(rest if not rest or rest.endswith("\n") else f"{rest}\n")
    writer.writerows({name: cell(each) for name, each in row.items()} for row in rows)
    return out.getvalue()
