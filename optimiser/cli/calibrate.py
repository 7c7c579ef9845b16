"""``optimiser calibrate``: the maker's own trials shift the model of firmness."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimiser.cli.running import ANSWERED, say, tell
from optimiser.cli.studying import (
    AsJson,
    Full,
    ScenarioFile,
    show,
)
from optimiser.errors import InputError, Option, Phrase, Problem, phrase

if TYPE_CHECKING:
    from optimiser.studies.calibration import Calibration

__all__ = ["calibrate"]

# Trials that move no figure; a window they may still speak for.
NOT_WRITTEN = {"too few", "not explained"}


def calibrate(
    trials: Annotated[Path, typer.Argument(help="Trials file (CSV).")],
    scenario: ScenarioFile,
    write: Annotated[
        bool,
        typer.Option("--write", help="Write the figures, or the window."),
    ] = False,
    full: Full = False,
    json: AsJson = False,
) -> None:
    """Fit the model to your own bars, and say what they bear.

    Example: optimiser calibrate my_trials.csv scenarios/massage_bar.toml
    """
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.presenting import as_json  # noqa: PLC0415
    from optimiser.presenting import calibration as shown  # noqa: PLC0415
    from optimiser.reading.folders import catalogues_of  # noqa: PLC0415
    from optimiser.reading.trials import read_trials  # noqa: PLC0415
    from optimiser.studies.calibration import calibrate as study  # noqa: PLC0415

    asked, catalogue = kept_scenario(scenario, calibrated=False)
    made = read_trials(
        trials, catalogue, catalogues_of(scenario), asked.workshop or None
    )
    found = study(made, asked, catalogue)
    written = _write(found, trials, scenario) if write else None
    if json:
        say(as_json(shown.calibration_data(found, written)))
    else:
        show(shown.calibration_page(found, written, full=full))
    raise typer.Exit(ANSWERED)


def _write(found: Calibration, trials: Path, scenario: Path) -> str:
    """Write the workshop's calibration, and return the file as it is shown."""
    from optimiser.presenting import clean, write_whole  # noqa: PLC0415
    from optimiser.presenting.calibration import calibration_csv  # noqa: PLC0415
    from optimiser.reading.figures import CALIBRATION  # noqa: PLC0415
    from optimiser.reading.folders import workshop_folder  # noqa: PLC0415

    opened = found.proposal is not None and not found.proposal.replaces
    if found.proposal is not None and (opened or found.support.level in NOT_WRITTEN):
        return _write_window(found, scenario)
    if found.support.level == "too few":
        wrong = "holds too few trials to change figures on, so nothing was written"
        more = (Option("write"), ", and add trials")
        fix: str | Phrase = phrase("see what they support without ", *more)
        raise InputError([Problem(wrong, file=str(trials), fix=fix)])
    if found.support.level == "not explained":
        wrong = "holds bars that the figures cannot explain, so none was changed"
        fix = phrase("see which without ", Option("write"), ", and judge those again")
        raise InputError([Problem(wrong, file=str(trials), fix=fix)])
    if not found.workshop:
        wrong = "names no workshop, so there is nowhere to write to"
        fix = 'write workshop = "NAME" above the first [table]'
        raise InputError(
            [Problem(wrong, file=str(scenario), field="workshop", fix=fix)]
        )
    folder = workshop_folder(scenario, found.workshop)
    if folder is None:
        wrong = "uses the catalogues that came with the program, which are not yours"
        fix = "begin a workspace with: optimiser begin FOLDER, and work there"
        raise InputError([Problem(wrong, file=str(scenario), fix=fix)])
    file = folder / CALIBRATION
    write_whole(file, calibration_csv(found, trials.name), encoding="utf-8")
    shown = f"catalogues/workshops/{found.workshop}/{CALIBRATION}"
    tell(f"{clean(shown)}: written.")
    return shown


def _write_window(found: Calibration, scenario: Path) -> str:
    """Write a scenario with the proposed window beside the one asked about."""
    from optimiser.presenting import clean, write_whole  # noqa: PLC0415
    from optimiser.presenting.calibration import window_scenario  # noqa: PLC0415

    file = scenario.with_name(f"{scenario.stem}_firmness.toml")
    text = window_scenario(scenario.name, found)
    write_whole(file, text, encoding="utf-8")
    tell(f"{clean(file)}: written.")
    return str(file)
