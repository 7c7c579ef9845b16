"""A scenario and its catalogue, read and checked together."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.material import CATEGORIES, Origin
from optimiser.domain.scenario import AIMS, Aim, Scenario
from optimiser.domain.spoken import market_named, markets_in, use_of
from optimiser.errors import InputError, Problem
from optimiser.reading import bounds
from optimiser.reading.asking import BY_INGREDIENT, Asking
from optimiser.reading.catalogue import gather_catalogue
from optimiser.reading.cells import QuantityError, read_quantity
from optimiser.reading.disk import today
from optimiser.reading.eased import eased_of
from optimiser.reading.envelope import envelope_of
from optimiser.reading.folders import catalogues_of
from optimiser.reading.layers import Layer, Overlay, load_layers, merge, overlay_layers
from optimiser.reading.markets import FILL, NOT_THERE, OWN_ROWS, known_markets
from optimiser.reading.names import Names
from optimiser.reading.windows import windows_of
from optimiser.reading.workshops import remembered_workshop

if TYPE_CHECKING:
    from optimiser.reading.scenario_files import ScenarioFile

__all__ = ["aims_of", "read_scenario", "wrong_batch"]

USES = ("leave-on", "rinse-off")
DEFAULT_SIZE = "1 kg"
LEAST_BATCH_KG, MOST_BATCH_KG = 0.001 * (1 - 1e-9), 1e6 * (1 + 1e-9)
NAMED_BY_FOLDING = ("amounts", "bands", "choices", "constituents", "parts")
BESIDE_INGREDIENTS = ("step", *CATEGORIES)  # what [amounts] may name too


def read_scenario(
    path: Path | str,
    overlays: Sequence[Overlay] = (),
    known: dict[str | None, Catalogue] | None = None,
    *,
    calibrated: bool = True,
    shelf: list[Problem] | None = None,
    text: str | None = None,
) -> tuple[Scenario, Catalogue]:
    """Return a scenario, names resolved, and the catalogue that it uses.

    Parameters
    ----------
    path : Path or str
        A TOML file. Its catalogue is the folder ``catalogues`` in the file's folder
        or the nearest one above it; else the one that came with the program.
    overlays : sequence of Overlay, optional
        Keys laid over the file's own, the last on top.
    known : dict of workshop to Catalogue, optional
        Catalogues read before from the same folder; gains the one read here.
    calibrated : bool
        Whether the workshop's calibration.csv counts.
    shelf : list of Problem, optional
        Gains what is wrong with prices, stock and the scale, which are then read
        without those rows; else it is raised with all else.
    text : str, optional
        What the file would hold, where it is not to be read as it is.

    Returns
    -------
    tuple of Scenario and Catalogue
        Percent of the finished product, kg and deg C.

    Raises
    ------
    InputError
        With every problem of the scenario, of the files it extends, of its
        envelope and of the catalogue.
    """
    from optimiser.reading.kinds import FILE  # noqa: PLC0415 - pydantic is slow to import

    path = Path(path)
    problems: list[Problem] = []
    layers, whole = load_layers(path, problems, text)
    if not layers:
        raise InputError(problems)
    shown = layers[-1].shown
    layers += overlay_layers(overlays, problems)
    own = len(problems)
    workshop, asked = _workshop(layers, catalogues_of(path), problems)
    catalogue = (known or {}).get(workshop) or gather_catalogue(
        catalogues_of(path),
        workshop,
        problems,
        asked,
        calibrated=calibrated,
        shelf=shelf,
    )
    shaky = {Path(problem.file or "").name for problem in problems[own:]}
    if known is not None and len(problems) == own:
        known[workshop] = catalogue
    if not catalogue.ingredients:
        shaky |= {"ingredients.csv", "constituents.csv", "allergens.csv", "climate.csv"}

    def spell(table: str, name: str) -> str:
        if table in BY_INGREDIENT and name != "default":
            return catalogue.find(name) or name
        if table == "amounts" and fold(name) not in BESIDE_INGREDIENTS:
            return catalogue.find(name) or name
        return fold(name) if table in NAMED_BY_FOLDING else name

    merged = merge(layers, spell, problems)
    if workshop is not None and "workshop" not in merged.content:
        merged.content["workshop"] = workshop  # as the workspace remembers it
    file = FILE.model_validate(merged.content)
    asking = Asking(
        shown,
        merged,
        file,
        catalogue,
        shaky=shaky,
        whole=whole,
        problems=problems,
    )
    scenario = _scenario(asking, layers)
    if problems:
        raise InputError(problems)
    return scenario, _on_the_day(catalogue, file)


def _on_the_day(catalogue: Catalogue, file: ScenarioFile) -> Catalogue:
    """Return the catalogue without lots that have expired; today, or a day named."""
    named = None if file.stock is None else file.stock.today
    day = today() if named is None else named
    lots = [lot for lot in catalogue.stock if lot.expiry is None or lot.expiry >= day]
    gone = [lot for lot in catalogue.stock if lot not in lots]
    return replace(catalogue, stock=tuple(lots), expired=tuple(gone))


def _workshop(
    layers: list[Layer], root: Path, problems: list[Problem]
) -> tuple[str | None, Origin | None]:
    """Return the workshop that the last of the layers names, and where.

    Where none does, it is the one that the folder of catalogues remembers.
    """
    for layer in reversed(layers):
        name = layer.content.get("workshop")
        if name is not None:
            return name, Origin(layer.shown, field="workshop")
    if any("workshop" in layer.broken for layer in layers):
        return None, None
    try:
        return remembered_workshop(root), None
    except InputError as error:
        problems += error.problems
        return None, None


def _scenario(asking: Asking, layers: list[Layer]) -> Scenario:
    """Return the scenario; its problems are in the list of ``asking``."""
    from optimiser.reading.kinds import others_of  # noqa: PLC0415 - pydantic is slow to import

    file = asking.file
    bounds.parts_of(asking)
    asking.say_vain()
    base = bounds.base_of(asking)
    aims = aims_of(asking)
    _check_workshop(asking, aims)
    second_opinion, margin = bounds.opinion_of(asking)
    top = next(layer for layer in layers if layer.shown == asking.shown)
    return Scenario(
        title=_required(asking, "title", file.title, 'title = "Massage bar"', top),
        file=top.shown,
        workshop=file.workshop or "",
        use=_use(asking, top),
        markets=(markets := _markets(asking)),
        batch_kg=_batch_kg(asking),
        aims=aims,
        cost_asked=any(aim.name == "cost" for aim in aims),
        product=file.product,
        on=file.on,
        unchecked=_unchecked(asking),
        cautious=file.cautious,
        base=base,
        only=bounds.only_of(asking, base),
        exclude=(exclude := bounds.exclusions_of(asking)),
        bands=bounds.bands_of(asking),
        limits=bounds.limits_of(asking),
        constituents=bounds.constituents_of(asking),
        windows=windows_of(asking, base, exclude, markets),
        choices=bounds.choices_of(asking),
        least_if_used=bounds.least_if_used_of(asking),
        pins=bounds.pins_of(asking),
        closeness=bounds.closeness_of(asking),
        stock_only=bounds.stock_only_of(asking),
        envelope=envelope_of(asking, _envelope_folder(asking, layers), top.path.parent),
        zone=_zone(asking),
        lauric_guard=bounds.guard_of(asking, "lauric", "butters"),
        wax_guard=bounds.guard_of(asking, "wax", "lipids"),
        second_opinion=second_opinion,
        margin=margin,
        emulsify=bounds.emulsify_of(asking),
        steps=bounds.steps_of(asking),
        parts=asking.own_parts(),
        eased=eased_of(asking),
        others=others_of(asking),
        origins={
            ".".join(str(step) for step in place): origin
            for place, origin in asking.merged.origins.items()
        },
    )


def _required(
    asking: Asking, key: str, value: str | None, example: str, top: Layer
) -> str:
    """Return a text that must be there, or "" after a problem."""
    if value is not None and value.strip():
        return value.strip()
    if asking.sound(key):
        wrong = "is missing" if value is None else "is blank"
        fix = f"write {example} above the first [table]"
        asking.problems.append(Problem(wrong, top.shown, field=key, fix=fix))
    return ""


def _use(asking: Asking, top: Layer) -> str:
    """Return leave-on or rinse-off, or "" after a problem.

    Where it is not written, it follows from the product's name.
    """
    product = asking.file.product
    if asking.file.use is None and product is not None and asking.sound("use"):
        told = use_of(product)
        if told is not None:
            return told
        fix = 'write use = "leave-on", or use = "rinse-off"'
        wrong = "does not tell whether it stays on the skin or is rinsed off"
        asking.say(asking.origin("product"), wrong, fix, product)
        return ""
    text = _required(asking, "use", asking.file.use, 'use = "leave-on"', top)
    if not text:
        return ""
    return asking.one_of("use", USES, text, asking.origin("use")) or ""


def _markets(asking: Asking) -> tuple[str, ...]:
    """Return where it is sold, each market once.

    One of which nothing is in the catalogues must stand in ``unchecked`` too.
    """
    held, unchecked = asking.catalogue.markets(), _unchecked(asking)
    known = dict.fromkeys((*known_markets(asking.catalogue), *unchecked))
    origin = asking.origin("market")
    found: dict[str, None] = {}
    names = Names.of("market", known)
    for text in (x for each in asking.file.market for x in markets_in(each, known)):
        code = names.find(text)
        if code is None:
            fix = f"the known ones are {', '.join(known)}; for one that is not, write"
            fix += f' unchecked = ["{text}"] too, or {OWN_ROWS}'
            asking.say(origin, names.wrong(text), fix, text)
            continue
        if code not in {*held, *unchecked, *found} and not _law_is_shaky(asking):
            fix = f'write unchecked = ["{code}"] too, or {FILL}'
            asking.say(origin, NOT_THERE, fix, text)
        found[code] = None
    for code in unchecked:
        if code not in found and asking.sound("market"):
            fix = f'write market = [..., "{code}"] too, or take it out'
            asking.say(
                asking.origin("unchecked"), "is not among the markets", fix, code
            )
    return tuple(found)


def _unchecked(asking: Asking) -> tuple[str, ...]:
    """Return the markets that the maker knows to be in no catalogue."""
    return tuple(dict.fromkeys(map(market_named, asking.file.unchecked)))


def _law_is_shaky(asking: Asking) -> bool:
    return bool(asking.shaky & {"preservatives.csv", "restricted.csv", "duties.csv"})


def _batch_kg(asking: Asking) -> float:
    """Return the size of the batch, [kg]."""
    batch = asking.file.batch
    text = DEFAULT_SIZE if batch is None or batch.size is None else batch.size
    origin = asking.origin("batch", "size")
    try:
        size = read_quantity(text, "kg", "2 kg")
    except QuantityError as error:
        asking.say(origin, str(error), error.fix, text)
        return 1.0
    wrong = wrong_batch(size)
    if wrong is not None:
        asking.say(origin, *wrong, text)
    return size


def wrong_batch(kg: float) -> tuple[str, str] | None:
    """Return what is wrong with the size of a batch in kg, and the fix; or None."""
    if kg <= 0:
        return "is no amount to make", 'write it like "2 kg"'
    if not LEAST_BATCH_KG <= kg <= MOST_BATCH_KG:
        wrong = "is less than 1 g" if kg < 1 else "is more than 1000000 kg"
        return wrong, "write from 1 g to 1000000 kg"
    return None


def _zone(asking: Asking) -> str | None:
    """Return the climate zone as climate.csv writes it, or None."""
    climate, catalogue = asking.file.climate, asking.catalogue
    if climate is None or "climate.csv" in asking.shaky:
        return None
    zone = catalogue.zone(climate.zone)
    if zone is not None:
        return zone.name
    wrong = Names.of("climate zone", catalogue.zones).wrong(climate.zone)
    fix = f"write one of {'; '.join(each.told for each in catalogue.climates)}"
    asking.say(asking.origin("climate", "zone"), wrong, fix, climate.zone)
    return None


def _check_workshop(asking: Asking, aims: tuple[Aim, ...]) -> None:
    """Say that a workshop is missing where its prices or its shelf are needed."""
    if asking.file.workshop is not None or not asking.sound("workshop"):
        return
    stock = asking.file.stock
    if any(aim.name in {"cost", "bought"} for aim in aims) or (stock and stock.only):
        wrong = "is missing, and prices and stock come from it"
        fix = 'write workshop = "demo" above the first [table], or an aim without cost'
        asking.problems.append(Problem(wrong, asking.shown, field="workshop", fix=fix))


def _envelope_folder(asking: Asking, layers: list[Layer]) -> Path:
    """Return the folder of the file that names the envelope."""
    shown = asking.origin("envelope", "file").file
    return next(
        (layer.path.parent for layer in layers if layer.shown == shown),
        layers[-1].path.parent,
    )


MOST_SLACK = 1e9


def aims_of(asking: Asking) -> tuple[Aim, ...]:
    """Return the aims in order, each with its slack in its own unit."""
    table = asking.file.aim
    order = ["cost"] if table is None or table.order is None else table.order
    origin = asking.origin("aim", "order")
    if not order:
        fix = "name at least one, or leave out the line"
        asking.say(origin, "names no aim", fix)
    slack: dict[str, float] = {}
    for text, value in ({} if table is None else table.slack).items():
        name = asking.one_of("aim", AIMS, text, asking.origin("aim", "slack"))
        place = asking.origin("aim", "slack")
        asking.within(value, 0, MOST_SLACK, place, f".{text}")
        slack[name or text] = value
    names = [asking.one_of("aim", AIMS, text, origin) for text in order]
    known = [name for name in names if name is not None]
    _check_aims(asking, known, slack)
    return tuple(Aim(name, slack.get(name, 0.0)) for name in dict.fromkeys(known))


def _check_aims(asking: Asking, order: list[str], slack: dict[str, float]) -> None:
    """Say which aims are there twice, need a base, or have a slack for nothing."""
    origin = asking.origin("aim", "order")
    for name in dict.fromkeys(order):
        if order.count(name) > 1:
            asking.say(origin, "is there twice", "name each aim once", name)
        if "change" in name and not asking.file.base and asking.sound("base"):
            fix = "write a [base] to change from"
            asking.say(origin, "needs a base", fix, name)
    for name in slack:
        if name in AIMS and name not in order and asking.sound("aim"):
            fix = "add it to the order, or take its slack out"
            place = asking.origin("aim", "slack")
            asking.say(place, "is not among the aims", fix, name)
