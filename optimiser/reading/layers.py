"""Files laid over each other: what a scenario extends, and themes over it."""

from __future__ import annotations

import copy
import os
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, get_args, get_origin

from msgspec import Struct, field
from pydantic import BaseModel

from optimiser.domain.material import Origin
from optimiser.errors import InputError, Problem
from optimiser.reading.disk import files_in, is_file, is_folder, real_path
from optimiser.reading.folders import outside
from optimiser.reading.kinds import FILE
from optimiser.reading.shapes import fit
from optimiser.reading.text import absent
from optimiser.reading.toml_text import parse_toml, read_toml

__all__ = [
    "Layer",
    "Merged",
    "Overlay",
    "checked",
    "load_layers",
    "merge",
    "overlay_layers",
    "read_overlays",
]


def _keys_that(hold: Callable[[Any], bool]) -> tuple[str, ...]:
    """Return the keys of a scenario file by the shape of what they hold."""
    fields = FILE.model_fields.items()
    return tuple(name for name, key in fields if hold(key.annotation))


def _is_model(shape: Any) -> bool:  # noqa: ANN401 - typing has no better
    return isinstance(shape, type) and issubclass(shape, BaseModel)


def _is_list(shape: Any) -> bool:  # noqa: ANN401
    return get_origin(shape) is list and any(map(_is_model, get_args(shape)))


def _is_named(shape: Any) -> bool:  # noqa: ANN401
    return get_origin(shape) is dict


def _is_table(shape: Any) -> bool:  # noqa: ANN401
    return get_origin(shape) is not list and any(map(_is_model, get_args(shape)))


# Lists of tables, which are added to what is inherited.
LISTS = _keys_that(_is_list)
# What a table of a list keeps of the one that it replaces.
KEPT = ("without",)
# Tables whose entries are named by the maker; false takes an inherited one out.
NAMED = (*_keys_that(_is_named), "closeness")
TABLES = tuple(dict.fromkeys((*NAMED, *_keys_that(_is_table))))
# Tables of NAMED and the guard whose keys are fixed, and the keys of their entries.
KEYS = {
    "closeness": ("by_ingredient", "by_kind", "by_category"),
    "guard": ("lauric", "wax", "second_opinion", "margin"),
}
TABLE_FILES = {".csv", ".json", ".xlsx"}  # what formulas and recipes are written as
A_TABLE = (
    "begin from it with: optimiser begin FOLDER --from RECIPE.csv, and name the"
    " scenario that it writes; check, fats and pour read the table itself,"
    " and label beside a scenario, with --formula"
)
# Far above what anybody writes; each file and each rule takes its time.
MOST_FILES, MOST_ENTRIES = 32, 10_000
LIMITS = ("min", "max", "at_least", "at_most")
SIDES = (*LIMITS, "of", "why")
Spell = Callable[[str, str], str]


class Layer(Struct):
    """One file: its content without what did not fit, and which keys that hit."""

    path: Path
    shown: str
    content: dict[str, Any]
    broken: set[str] = field(default_factory=set)


class Merged(Struct):
    """The content of all layers, and where each entry was written.

    ``origins`` is by table and entry, ("bands", "hard butter") or ("windows", 0),
    and by key, ("use",); ``limits`` is by table and entry in which file each side of a
    limit was written. ``broken`` names keys that lost something to a problem;
    ``off`` holds the entries set to false, ``vain`` those that took nothing out.
    """

    content: dict[str, Any] = field(default_factory=dict)
    origins: dict[tuple[str | int, ...], Origin] = field(default_factory=dict)
    limits: dict[tuple[str, str], dict[str, str]] = field(default_factory=dict)
    broken: set[str] = field(default_factory=set)
    off: set[tuple[str, str]] = field(default_factory=set)
    vain: list[tuple[Origin, str]] = field(default_factory=list)


def load_layers(
    path: Path, problems: list[Problem], text: str | None = None
) -> tuple[list[Layer], bool]:
    """Return a scenario's files, the furthest ancestor first.

    Parameters
    ----------
    path : Path
        The scenario as the user gave it.
    problems : list of Problem
        Gains every problem of syntax and shape of every file.
    text : str, optional
        What the scenario would hold; its file is then not read.

    Returns
    -------
    tuple of list of Layer and bool
        The layers, and whether none of the files is missing.
    """
    layers: list[Layer] = []
    if path.suffix.casefold() in TABLE_FILES and is_file(path):
        problems.append(Problem("is a table, not a scenario", str(path), fix=A_TABLE))
        return layers, False
    shown, seen = str(path), {real_path(path): str(path)}
    entries = 0
    while True:
        if text is None or layers:
            content = read_toml(path, shown, problems)
        else:
            content = parse_toml(text, shown, problems)
        if content is None:
            return layers[::-1], False
        if "formula" in content and not layers:
            wrong = "is a formula, not a scenario"
            problems.append(Problem(wrong, str(path), fix=A_TABLE))
            return layers, False
        entries += _entries(content)
        if len(layers) >= MOST_FILES or entries > MOST_ENTRIES:
            said = f"extends more than {MOST_FILES - 1} files in a row"
            if entries > MOST_ENTRIES:
                said = f"has more than {MOST_ENTRIES} entries, with what it extends"
            file = layers[0].shown if layers else shown
            problems.append(Problem(said, file, fix="keep only what is used"))
            return layers[::-1], False
        layer = checked(Layer(path, shown, content), problems)
        layers.append(layer)
        parent = layer.content.get("extends")
        if parent is None:
            return layers[::-1], "extends" not in layer.broken
        above = path.parent / parent
        if not _may_extend(layer, above, seen, problems):
            return layers[::-1], False
        path, shown = above, _relative(above, layers[0].path.parent)
        seen[real_path(path)] = shown


def _entries(content: Mapping[str, Any]) -> int:
    """Return how many entries the tables and lists of a file have."""
    held = [each for each in content.values() if isinstance(each, (dict, list))]
    inside = [
        each for table in held if isinstance(table, dict) for each in table.values()
    ]
    return sum(map(len, held)) + sum(len(x) for x in inside if isinstance(x, list))


def _may_extend(
    layer: Layer, above: Path, seen: Mapping[Path, str], problems: list[Problem]
) -> bool:
    """Return whether the file that a layer extends is there and is no ancestor."""
    parent = layer.content["extends"]
    said, real = absent(above) or outside(layer.path.parent, above), real_path(above)
    if said is None and real not in seen:
        return True
    if said is None:
        chain = [*list(seen.values())[list(seen).index(real) :], seen[real]]
        wrong = f"leads back to itself: {' -> '.join(chain)}"
        said = wrong, "extend another file"
    wrong, fix = said
    problems.append(Problem(wrong, layer.shown, None, "extends", parent, fix))
    return False


def _relative(path: Path, folder: Path) -> str:
    """Return a path as seen from a folder, with forward slashes."""
    try:
        return Path(os.path.relpath(path, folder)).as_posix()
    except ValueError:  # another drive
        return path.name


def checked(layer: Layer, problems: list[Problem]) -> Layer:
    """Say what does not fit, and return the layer without it."""
    content = layer.content
    closeness = content.get("closeness")
    if isinstance(closeness, dict):
        for name, value in closeness.items():
            if isinstance(value, (int, float)) and not isinstance(value, bool):
                closeness[name] = {"max": value}
    said = problems
    while places := fit(FILE, _without_false(content), layer.shown, said):
        said = []  # what a table lacks after the first round was wrong, not missing
        for place in places:
            layer.broken.add(str(place[0]))
            _prune(content, place)
    return layer


def _without_false(content: Mapping[str, Any]) -> dict[str, Any]:
    """Return a file's content without the entries that take others out."""
    found: dict[str, Any] = {}
    for name, value in content.items():
        if name in (*NAMED, "guard") and isinstance(value, dict):
            fixed = KEYS.get(name, tuple(value))
            found[name] = {
                key: _sides(each)
                for key, each in value.items()
                if each is not False or key not in fixed
            }
        elif name in LISTS and isinstance(value, list):
            found[name] = [each for each in value if each is not None]
        elif value is not False or name not in (*TABLES, *LISTS):
            found[name] = value
    return found


def _sides(entry: Any) -> Any:  # noqa: ANN401 - whatever the file holds
    """Return an entry without the sides that are set to false."""
    if not isinstance(entry, dict):
        return entry
    return {
        name: value
        for name, value in entry.items()
        if value is not False or name not in SIDES
    }


def _prune(content: dict[str, Any], place: tuple[str | int, ...]) -> None:
    """Take out the entry that a place lies in; list positions stay as they are."""
    name = str(place[0])
    top = content.get(name)
    if len(place) > 1 and isinstance(top, dict) and place[1] in top:
        del top[place[1]]
    elif len(place) > 1 and isinstance(place[1], int) and name in LISTS:
        content[name][place[1]] = None
    else:
        content.pop(name, None)


def merge(layers: list[Layer], spell: Spell, problems: list[Problem]) -> Merged:
    """Return the content of all layers, later ones over earlier ones.

    Parameters
    ----------
    layers : list of Layer
        The furthest ancestor first.
    spell : function of table and name
        Returns the one spelling under which a name is merged, so that an alias
        in one file meets the name in another.
    problems : list of Problem
        Gains the names that one file writes twice.
    """
    merged = Merged()
    for layer in layers:
        merged.broken |= layer.broken
        for name, value in layer.content.items():
            if name in LISTS:
                _take_list(merged, layer, name, value)
            elif name in TABLES:
                _take_table(merged, layer, name, value, spell, problems)
            else:
                merged.content[name] = value
                merged.origins[(name,)] = Origin(layer.shown, field=name)
    merged.content.pop("extends", None)
    return merged


def _take_list(merged: Merged, layer: Layer, name: str, value: Any) -> None:  # noqa: ANN401
    """Append the tables of a list; one with a known name replaces that one.

    What that one left aside stays aside, unless the new one says what is.
    """
    if value is False:
        merged.content.pop(name, None)
        return
    rows: list[dict[str, Any]] = merged.content.setdefault(name, [])
    named = {row["name"]: place for place, row in enumerate(rows) if "name" in row}
    for number, row in enumerate(value, start=1):
        if row is None:
            continue
        place = named.get(row.get("name"), len(rows))
        before = rows[place] if place < len(rows) else {}
        row = {key: before[key] for key in KEPT if key in before} | row  # noqa: PLW2901
        rows[place : place + 1] = [row]
        merged.origins[(name, place)] = Origin(layer.shown, field=f"{name}[{number}]")


def _take_table(
    merged: Merged,
    layer: Layer,
    name: str,
    value: Any,  # noqa: ANN401
    spell: Spell,
    problems: list[Problem],
) -> None:
    """Merge the entries of a table; false takes one out, or all of them."""
    if value is False:
        merged.content.pop(name, None)
        return
    table: dict[str, Any] = merged.content.setdefault(name, {})
    merged.origins[(name,)] = Origin(layer.shown, field=name)
    written: dict[str, str] = {}
    for entry, each in value.items():
        key = spell(name, entry)
        origin = Origin(layer.shown, field=f"{name}.{entry}")
        if key in written:
            wrong = f"is the same as '{written[key]}'"
            fix = "write it once, with what you want in all"
            problems.append(Problem(wrong, origin.file, None, name, entry, fix))
            merged.broken.add(name)
        written[key] = entry
        merged.origins[(name, key)] = origin
        if each is False and (name in NAMED or name == "guard"):
            merged.off.add((name, key))
            if table.pop(key, None) is None and name in NAMED:
                merged.vain.append((origin, entry))
            continue
        merged.off.discard((name, key))
        if isinstance(each, dict):
            sides = merged.limits.setdefault((name, key), {})
            sides |= dict.fromkeys((x for x in LIMITS if x in each), layer.shown)
        table[key] = _over(table.get(key), each)


def _over(old: Any, new: Any) -> Any:  # noqa: ANN401 - whatever the files hold
    """Return a new entry over an old one; tables merge, false takes a side out.

    A reason goes once every limit that it was written for is another.
    """
    if not isinstance(new, dict):
        return new
    both = {**old, **new} if isinstance(old, dict) else dict(new)
    given = {side for side in LIMITS if isinstance(old, dict) and side in old}
    if "why" not in new and given and given <= set(new):
        both.pop("why", None)
    return {name: value for name, value in both.items() if value is not False}


class Overlay(Struct, frozen=True):
    """Keys to lay over a scenario; ``shown`` is their file in messages."""

    name: str
    shown: str
    path: Path
    content: Mapping[str, Any]


def read_overlays(paths: Iterable[Path]) -> list[Overlay]:
    """Return the themes of files, and of all TOML files of folders, in order.

    Raises
    ------
    InputError
        With every file that cannot be read, is empty or extends another.
    """
    problems: list[Problem] = []
    found: list[Overlay] = []
    for path in _files(paths, problems):
        content = read_toml(path, str(path), problems)
        if content is None:
            continue
        if "extends" in content:
            fix = "leave extends out, or give the file as a scenario"
            wrong = "is a scenario of its own, for it extends another"
            problems.append(Problem(wrong, str(path), field="extends", fix=fix))
            continue
        title = content.pop("title", None)
        name = title if isinstance(title, str) and title.strip() else path.stem
        found.append(Overlay(name.strip(), str(path), path, content))
    if problems:
        raise InputError(problems)
    return found


def _files(paths: Iterable[Path], problems: list[Problem]) -> list[Path]:
    files: list[Path] = []
    for path in paths:
        if not is_folder(path):
            files.append(path)
            continue
        inside = [path / name for name in files_in(path) if name.endswith(".toml")]
        if not inside:
            fix = "put themes there as .toml files, or name another folder"
            problems.append(Problem("is a folder without a theme", str(path), fix=fix))
        files += inside
    return list(dict.fromkeys(files))


def overlay_layers(overlays: Iterable[Overlay], problems: list[Problem]) -> list[Layer]:
    """Return overlays as layers, each checked as a scenario file is."""
    return [
        checked(
            Layer(each.path, each.shown, copy.deepcopy(dict(each.content))), problems
        )
        for each in overlays
    ]
