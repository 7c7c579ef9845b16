"""Cautions and notes: all of them, or the few that a short page has room for."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from msgspec.structs import asdict

from optimiser.presenting.page import Item, Paragraph, Section, items, section
from optimiser.presenting.words import NEW, clean, listed, plural

if TYPE_CHECKING:
    from optimiser.domain.caution import CautionLine
    from optimiser.explaining.answer import AllergenLine, KeptOut

__all__ = [
    "allergens",
    "briefly",
    "care_data",
    "cautions",
    "first_sentence",
    "in_full",
    "kept_out",
    "more",
    "notes",
    "out_for",
]

MOST = 4
MOST_ASKED = 4  # ingredients to ask about for one allergen
# So many are told on a short page whatever they weigh, and another, and one more, where
# as many weigh that.
FEW, HEAVY, HEAVIEST = 2, 60.0, 80.0


def cautions(said: Sequence[CautionLine], *, full: bool) -> tuple[Section, ...]:
    """Return cautions: all with their reasons, or the three weightiest begun."""
    if full:
        return section("Cautions", in_full(said))
    return section("Take care", items(briefly(said)))


def in_full(said: Sequence[CautionLine]) -> Iterator[Item]:
    """Yield every caution with its reason and where that was read."""
    for each in said:
        where = each.reference
        if each.evidence.startswith("memory") and "from memory" not in where:
            where += ", from memory"
        why = f"{each.reason} ({where})" if each.reference else each.reason
        yield Item(each.text, (why,) if why else ())


def briefly(
    said: Sequence[CautionLine], most: int = MOST, *, rest: bool = False
) -> list[str]:
    """Return the beginnings of the weightiest cautions.

    With ``rest`` the last one says how many more there are, on a page that does not
    say so elsewhere.
    """
    told = [first_sentence(each.text) for each in said[: _told(said, most)]]
    left = len(said) - len(told)
    if rest and told and left:
        told[-1] += f" {plural(left, 'more caution')}: --full."
    return told


def _told(said: Sequence[CautionLine], most: int) -> int:
    """Return how many of the cautions a short page tells."""
    heavy = sum(each.weight >= HEAVY for each in said)
    heaviest = sum(each.weight >= HEAVIEST for each in said)
    return min(most, max(FEW, min(heavy, FEW + 1), heaviest))


def care_data(said: Sequence[CautionLine]) -> list[dict[str, Any]]:
    """Return cautions as data, with what calls for each and its reason."""
    return [asdict(each) for each in said]


def more(
    what: Sequence[str],
    cautions: Sequence[CautionLine] = (),
    most: int = MOST,
    *,
    then: str = "",
) -> tuple[Section, ...]:
    """Return the line that ends a short page: what the full one has besides.

    ``most`` is how many of the cautions could stand on the short page, ``then`` what
    comes next.
    """
    rest = len(cautions) - _told(cautions, most)
    told = [*what, plural(rest, "more caution")] if rest > 0 else [*what]
    full = f"With --full: {listed(told)}." if told else ""
    said = " ".join(filter(None, (full, then)))
    return section("", [Paragraph("", typed=said)] if said else [], close=bool(then))


def notes(said: Sequence[str], *, full: bool) -> tuple[Section, ...]:
    """Return notes as a list on a full page, and none of them on a short one."""
    return section("Notes", [Item(each) for each in said] if full else [])


def allergens(
    lines: Sequence[AllergenLine],
    markets: Collection[str] = (),
    *,
    brief: bool = False,
) -> Iterator[Item]:
    """Yield in one line what lists name and what to ask, then what is not classified.

    Which lists name it, and why else to ask, stands on the full page.

    Parameters
    ----------
    markets : collection of str
        Where it is sold: what only others list is told as theirs. None: all count.
    brief : bool
        Of what is to ask about one name, and not who else lists what. Of what it is to
        be free from all is told even so.
    """
    named: dict[str, list[str]] = {}
    new: dict[str, list[str]] = {}
    others: dict[str, list[str]] = {}
    asked: dict[str, list[str]] = {}
    asked_new: dict[str, list[str]] = {}
    never: list[str] = []
    out = {line.allergen for line in lines if line.out}
    for line in lines:
        if line.listed and markets and not {*markets} & {*line.listed}:
            where = "" if brief else f"; listed only in {', '.join(line.listed)}"
            others.setdefault(line.allergen, []).append(line.name + where)
        elif line.listed or line.flag:
            among = (asked, named) if not line.new else (asked_new, new)
            among[bool(line.listed)].setdefault(line.allergen, []).append(line.name)
        else:
            never.append(line.name)
    among_what = (
        (named, 3, ""),
        (new, 3, f"{NEW}: "),
        (others, 3, ""),
        (asked_new, 3, f"ask, {NEW}: "),
        (asked, 1 if brief else MOST_ASKED, "ask: "),
    )
    told = [
        f"{head}{_of(found, most, out)}" for found, most, head in among_what if found
    ]
    if told:
        yield Item(f"Allergens: {'; '.join(told)}")
    if never:
        yield Item(f"Not classified, ask the supplier: {listed(never, 3)}")


def _of(found: Mapping[str, Sequence[str]], most: int, out: Collection[str]) -> str:
    return "; ".join(
        f"{allergen} ({listed(dict.fromkeys(names), all_of)})"
        for allergen, names in found.items()
        for all_of in (None if allergen in out else most,)
    )


def kept_out(lines: Iterable[KeptOut]) -> Iterator[Item]:
    """Yield what of the base a wish keeps out, and how to keep what is not known.

    Last the wishes for which nothing had to go.
    """
    reasons: dict[tuple[str, str], list[str]] = {}
    kept: list[str] = []
    for each in lines:
        if each.name:
            reasons.setdefault((each.wish, each.lacking), []).append(clean(each.name))
        else:
            kept.append(f"'{each.wish}'")
    for (wish, lacking), names in reasons.items():
        yield Item(out_for(wish, names, lacking))
    if kept:
        yield Item(f"Out for {listed(kept)}: nothing had to go")


def out_for(wish: str, names: Sequence[str], lacking: str) -> str:
    """Return what a wish keeps out, and where to tell what is not known of it.

    >>> out_for("no soy", ["pink clay"], "allergens.csv").partition(": not known ")[0]
    "Out for 'no soy': pink clay"
    """
    why = f": not known of it here; to keep it, tell it in your {lacking}"
    return f"Out for '{wish}': {listed(names, 6)}{why if lacking else ''}"


def first_sentence(text: str) -> str:
    """Return a text up to its first full stop.

    >>> first_sentence("Wear a mask. Powders hang in the air.")
    'Wear a mask.'
    """
    head, stop, _ = text.partition(". ")
    return f"{head}." if stop else text
