"""How much is made, from the options that `batch`, `cost` and `buy` share."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

from optimiser.cli.studying import mass_or_none

if TYPE_CHECKING:
    from optimiser.domain.bench import Bench
    from optimiser.domain.net_content import NetContent
    from optimiser.domain.scenario import Scenario
    from optimiser.workshop.sizes import SizeAsked

__all__ = ["Wanted", "content_of", "covering"]

MARKETS = ("EU",)  # whose law of net content counts where no market is named


class Wanted(Struct, frozen=True):
    """The options as masses, kg, before any file is read."""

    units: int | None = None
    net_kg: float | None = None
    batch_kg: float | None = None
    mould: str | None = None
    loss: float | None = None
    overfill: float | None = None
    spread_kg: float | None = None

    @classmethod
    def of(  # noqa: PLR0917 - each is an option
        cls,
        units: int | None,
        net: str | None,
        batch: str | None,
        mould: str | None,
        loss: float | None,
        overfill: float | None,
        spread: str | None,
    ) -> Wanted:
        """Return options with their masses read.

        Raises
        ------
        InputError
            If one is no mass.
        """
        return cls(
            units,
            mass_or_none(net, "--net", "60 g"),
            mass_or_none(batch, "--batch", "5 kg"),
            mould,
            loss,
            overfill,
            mass_or_none(spread, "--spread", "1.2 g"),
        )

    def asked(self, file: Path, scenario: Scenario, bench: Bench) -> SizeAsked:
        """Return what is asked of a scenario's workshop.

        Raises
        ------
        InputError
            If no mould is called so, or the law of net content cannot be read.
        """
        from optimiser.reading.bench import mould_named  # noqa: PLC0415
        from optimiser.workshop.sizes import SizeAsked  # noqa: PLC0415

        known = self.spread_kg is not None or bench.spread is not None
        return SizeAsked(
            units=self.units,
            net_kg=self.net_kg,
            batch_kg=self.batch_kg,
            mould=None if self.mould is None else mould_named(bench, self.mould),
            loss=self.loss,
            overfill=self.overfill,
            spread_kg=self.spread_kg,
            content=content_of(file, scenario) if known else (),
        )


def content_of(file: Path, scenario: Scenario) -> tuple[NetContent, ...]:
    """Return the law of net content of a scenario's markets, as far as it is known."""
    from optimiser.reading.folders import catalogues_of  # noqa: PLC0415
    from optimiser.reading.net_content import read_net_content  # noqa: PLC0415

    known = read_net_content(catalogues_of(file), scenario.workshop or None)
    return covering(scenario.markets or MARKETS, known)


def covering(
    markets: Iterable[str], known: Mapping[str, NetContent]
) -> tuple[NetContent, ...]:
    """Return what is known of the net content of markets."""
    return tuple(known[each] for each in markets if each in known)
