"""``optimiser fill``: how full to fill packs, and whether a filled batch will do."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimiser.cli.running import (
    ANSWERED,
    ATTENTION,
    catalogues_folder,
    say,
    workshop_used,
)
from optimiser.cli.sizing import MARKETS
from optimiser.cli.studying import (
    AsJson,
    Full,
    Out,
    Spread,
    grams_of,
    keep_pages,
    refuse_page_file,
    rules_of,
    show,
    show_clash,
)
from optimiser.errors import InputError, Option, Phrase, Problem, phrase

if TYPE_CHECKING:
    from optimiser.domain.net_content import NetContent
    from optimiser.domain.scenario import Scenario
    from optimiser.explaining import Answer, Clash
    from optimiser.presenting.filling import Filling
    from optimiser.presenting.page import Page
    from optimiser.reading.weights import WeighedPack
    from optimiser.workshop import filling as workshop

__all__ = ["fill"]

UNRULED = "has no rules on net content in the catalogues: NOT checked"
MOST_PACKS = 1_000_000
SPREADS = (0.005, 0.01, 0.02, 0.03)  # of the net content, where none is known


def fill(  # noqa: PLR0913, PLR0917 - one a choice
    file: Annotated[
        Path, typer.Argument(help="Scenario (TOML), or weighed packs (CSV).")
    ],
    net: Annotated[
        str, typer.Option("--net", help='Net content on the label, as in "60 g".')
    ],
    packs: Annotated[
        int | None, typer.Option("--packs", help="Packs in a batch.", min=1)
    ] = None,
    spread: Spread = None,
    tare: Annotated[
        str | None, typer.Option("--tare", help="What an empty pack weighs.")
    ] = None,
    loss: Annotated[
        float, typer.Option("--loss", help="Percent lost till sold.", min=0, max=50)
    ] = 0.0,
    confidence: Annotated[
        float, typer.Option("--sure", help="Percent, how sure to be.", min=50, max=99.9)
    ] = 95.0,
    a_year: Annotated[
        int | None, typer.Option("--a-year", help="Packs filled in a year.", min=1)
    ] = None,
    market: Annotated[
        list[str] | None, typer.Option("--market", help="Where it is sold.")
    ] = None,
    full: Full = False,
    out: Out = None,
    json: AsJson = False,
) -> None:
    """Say how full to fill packs, or judge a batch that was weighed.

    Example: optimiser fill scenarios/massage_bar.toml --net "60 g" --spread "1.2 g"
    """
    from optimiser import explaining  # noqa: PLC0415
    from optimiser.presenting import as_json  # noqa: PLC0415
    from optimiser.presenting import filling as shown  # noqa: PLC0415
    from optimiser.reading.folders import catalogues_of  # noqa: PLC0415
    from optimiser.reading.net_content import read_net_content  # noqa: PLC0415
    from optimiser.reading.weights import holds_weights, read_weights  # noqa: PLC0415
    from optimiser.workshop import filling  # noqa: PLC0415

    refuse_page_file(out, file)
    nominal = grams_of(net, "--net", "60 g")
    stated = None if spread is None else grams_of(spread, "--spread", "1.2 g")
    empty = None if tare is None else grams_of(tare, "--tare", "3.2 g", plain=True)
    title, cost, currency, markets = file.name, None, "", market
    weighed: Sequence[WeighedPack] = ()
    batch = 0.0  # g
    varies = None if stated is None else filling.Spread(stated, stated)
    if holds_weights(file):
        weighed = read_weights(file, empty)
        varies = varies or filling.spread_of([each.grams for each in weighed])
        known = read_net_content(catalogues_folder(None), workshop_used(None))
    else:
        asked_of, made = _made(file)
        if isinstance(made, explaining.Clash):
            raise typer.Exit(show_clash(made, json, out=out))
        known = read_net_content(catalogues_of(file), asked_of.workshop or None)
        usual = None if varies is not None else _usual(file, asked_of)
        varies = varies if usual is None else filling.Spread(usual, usual)
        title, cost, currency = made.title, made.cost_per_kg, made.currency
        markets, batch = market or list(made.markets), 1000.0 * made.batch_kg
    asked = shown.Filling(
        title=title,
        nominal=nominal,
        packs=packs or len(weighed) or max(1, round(batch / nominal)),
        confidence=confidence / 100.0,
        lost_percent=loss,
        spread=varies,
        cost_per_kg=cost,
        currency=currency,
        a_year=a_year,
        told=tuple(each.told for each in weighed),
    )
    weights = [each.grams for each in weighed]
    _refuse_count(asked.packs, len(weights))
    rules = rules_of(markets or MARKETS, known, UNRULED)
    targets = [
        (each, [_target(asked, one, each) for one in rules])
        for each in _spreads(asked, varies)
    ]
    checks = [filling.check(x, nominal, weights, asked.packs) for x in rules if weights]
    after = targets[0][1]

    def page(*, full: bool) -> Page:
        if not weights:
            return shown.target_page(asked, targets, full=full)
        return shown.check_page(asked, checks, after, full=full)

    if not json:
        show(page(full=full))
    elif weights:
        say(as_json(shown.check_data(asked, checks, after)))
    else:
        say(as_json(shown.target_data(asked, targets)))
    if out is not None:
        keep_pages(out, page(full=True))
    raise typer.Exit(ANSWERED if all(each.kept for each in checks) else ATTENTION)


def _refuse_count(packs: int, weighed: int) -> None:
    """Say so where a batch cannot have, or is not to have, so many packs."""
    wrong = ""
    fix: str | Phrase = "say how many packs the whole batch has"
    if packs < weighed:
        wrong = f"is less than the {weighed} packs that were weighed"
    elif packs > MOST_PACKS:
        wrong = f"is more than {MOST_PACKS} packs"
        fix = phrase("say with ", Option("packs"), " how many are filled in one go")
    if wrong:
        raise InputError([Problem(wrong, None, None, "--packs", str(packs), fix)])


def _made(file: Path) -> tuple[Scenario, Answer | Clash]:
    from optimiser import explaining  # noqa: PLC0415
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415

    asked, catalogue = kept_scenario(file)
    return asked, explaining.formulate(asked, catalogue)


def _usual(file: Path, asked: Scenario) -> float | None:
    """Return how much the workshop's fills vary, g, where scale.toml says it."""
    from optimiser.reading.bench import read_bench  # noqa: PLC0415

    kg = read_bench(file, asked.workshop).spread if asked.workshop else None
    return None if kg is None else 1e3 * kg


def _spreads(asked: Filling, varies: workshop.Spread | None) -> list[float]:
    if varies is not None:
        return [varies.most]
    return [asked.nominal * each for each in SPREADS]


def _target(asked: Filling, rules: NetContent, spread: float) -> workshop.Target:
    from optimiser.workshop.filling import target  # noqa: PLC0415

    return target(
        rules,
        asked.nominal,
        asked.packs,
        spread,
        confidence=asked.confidence,
        lost_percent=asked.lost_percent,
    )
