"""Who reads each file of the small workspace."""

from pathlib import Path

from optimiser.errors import InputError, Problem
from optimiser.reading import read_catalogue, read_formula, read_scenario
from optimiser.reading.batch_sheets import read_batch_sheet
from optimiser.reading.bench import read_bench
from optimiser.reading.costs import read_costs
from optimiser.reading.grids import is_grid, read_grid
from optimiser.reading.labels import read_label_rules
from optimiser.reading.layers import read_overlays
from optimiser.reading.makers import read_maker
from optimiser.reading.net_content import read_net_content
from optimiser.reading.own_tables import read_workbook
from optimiser.reading.plans import read_plan
from optimiser.reading.recipes.answers import read_answers
from optimiser.reading.recipes.knowledge import read_knowledge
from optimiser.reading.recipes.tables import read_recipe_table
from optimiser.reading.records import read_book
from optimiser.reading.trials import read_trials
from optimiser.reading.weights import holds_weights, read_units, read_weights
from optimiser.reading.workshops import read_scale

BAR = Path("scenarios", "bar.toml")


class Readers:
    """The readers of a workspace, with a catalogue that was read before."""

    def __init__(self, folder):
        self.folder = folder
        self.catalogue = read_catalogue(folder / "catalogues", "demo")

    def of(self, name):
        """Return what reads the file of a name, which raises what is wrong with it."""
        path = self.folder / name
        kind = name.rsplit("/", 1)[-1]
        own = {
            "grid.toml": lambda: is_grid(path) and read_grid(path),
            "months.csv": lambda: read_grid(path.with_name("grid.toml")),
            "plan.toml": lambda: read_plan(path),
            "theme.toml": self._theme,
            "env.toml": lambda: read_scenario(path.with_name("assessed.toml")),
            "recipes.csv": lambda: self._recipes(path),
            "trials.csv": lambda: read_trials(path, self.catalogue),
            "weights.csv": lambda: (
                holds_weights(path) and read_weights(path),
                read_units(path),
            ),
            "answers.csv": lambda: self._gathered(read_answers, path),
            "names.csv": lambda: self._knowledge(path),
            "sheet.csv": lambda: read_batch_sheet(path, self.catalogue),
            "records.sqlite": lambda: read_book(path, "records.sqlite"),
            "own.xlsx": lambda: read_workbook(path, self.folder / "catalogues", "demo"),
        }
        own |= {
            "recipes.xlsx": lambda: self._recipes(path),
            "trials.xlsx": own["trials.csv"],
            "weights.xlsx": own["weights.csv"],
            "sheet.xlsx": own["sheet.csv"],
        }
        if kind in own:
            return own[kind]
        if name.startswith("catalogues/"):
            return self._of_catalogue(kind)
        if name.startswith("scenarios/"):
            return lambda: read_scenario(path)
        return lambda: read_formula(
            path, self.catalogue, self.folder / "catalogues", "demo"
        )

    def _of_catalogue(self, kind):
        """Return what reads a file of the catalogues; most are read with all others."""
        bar, folder = self.folder / BAR, self.folder / "catalogues"
        fats = self.catalogue.load_fats
        return {
            "labels.csv": lambda: read_label_rules(folder, "demo"),
            "net_content.csv": lambda: read_net_content(folder, "demo"),
            "costs.toml": lambda: read_costs(bar, "demo", "EUR"),
            "scale.toml": lambda: self._scale(bar),
            "recipe_words.csv": self._knowledge,
            "recipe_names.csv": self._knowledge,
            "volumes.csv": self._knowledge,
            "usual_shares.csv": self._knowledge,
            "fatty_acids.csv": fats,
            "solutes.csv": fats,
            "triglycerides.csv": fats,
            "triglyceride_correlation.csv": fats,
            "triglyceride_fusion.csv": fats,
        }.get(kind, lambda: read_catalogue(folder, "demo"))

    def _scale(self, bar):
        read_scale(bar, "demo")
        read_bench(bar, "demo")
        read_costs(bar, "demo", "EUR")
        read_maker(bar, "demo")
        read_catalogue(self.folder / "catalogues", "demo")

    def _theme(self):
        over = read_overlays([self.folder / "scenarios" / "theme.toml"])
        read_scenario(self.folder / BAR, over)

    def _gathered(self, read, *arguments):
        problems: list[Problem] = []
        read(*arguments, self.catalogue, problems)
        if problems:
            raise InputError(problems)

    def _knowledge(self, aliases=None):
        problems: list[Problem] = []
        folder = self.folder / "catalogues"
        read_knowledge(folder, "demo", self.catalogue, aliases, problems)
        if problems:
            raise InputError(problems)

    def _recipes(self, path):
        problems: list[Problem] = []
        for one in (True, False):
            read_recipe_table(path, problems, one=one)
        if problems:
            raise InputError(problems)
