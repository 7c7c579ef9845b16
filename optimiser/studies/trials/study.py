"""The test bars whose verdicts would tell most of what decides a scenario."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Origin
from optimiser.domain.properties import PROPERTIES, melts
from optimiser.domain.rule import Programme, Row, Rule
from optimiser.domain.scenario import Scenario, Window
from optimiser.errors import InputError, Option, Phrase, Problem, phrase
from optimiser.explaining import Clash, clash_of
from optimiser.explaining.answering import NoFormula, answer
from optimiser.explaining.facts import cost_per_kg
from optimiser.explaining.opinions import Solved
from optimiser.rules import build, part_amounts
from optimiser.science.algebra import need_room
from optimiser.science.design import exchange, verdict_weight
from optimiser.science.mixing import blend_value
from optimiser.science.properties import look_up
from optimiser.solving import Infeasible, optimise
from optimiser.studies.calibration.observations import (
    DROP,
    DROP_SOLIDS,
    THUMB,
    as_the_base,
    holds_by_wax,
    steps_of,
    target,
)
from optimiser.studies.calibration.shifts import half_spread
from optimiser.studies.made import About
from optimiser.studies.trials.candidates import formulas, weighable
from optimiser.studies.trials.promise import Lots, Sight, settled

__all__ = ["DoubtOf", "TestBar", "Trials", "trials"]

Progress = Callable[[int, int], None]
MOST_BARS = 12
DRAWS, DRAWS_WITH_CHOICES = 100, 24  # of what the figures may be, each solved for
LOTS, TRUTHS = 5000, 200
FEWER, FEWER_TRUTHS = 2000, 150  # where many designs are compared
AT_RANDOM = 24  # designs drawn by lot, to compare with
FEWEST = 40  # formulas of what is at hand; with fewer, more is chosen from
PACKS = 4  # that many more ingredients at a time, those of the cheapest packs first
ROOMS = (20.0, 25.0, 30.0)  # deg C that a maker can have in a room or a warm cupboard
DROPS = np.arange(22.0, 46.0, 0.5)
BINDS = 1e-6
# What the windows at the answer count beside formulas that may yet become it, and the
# cost: the first of them all of it, the next ones less.
OWN = 10.0
TOLD = 3  # figures that a bar is said to tell of
TRACE = 1e-6


class DoubtOf(Struct, frozen=True):
    """How unsure something is: as a standard deviation, before and after the bars.

    ``what`` is a window's property or "cost", ``random`` what as many bars drawn by
    lot from inside the same rules would leave.
    """

    what: str
    at: float | None
    over: str
    value: float | None
    before: float
    after: float
    random: float


class FigureDoubt(Struct, frozen=True):
    """An ingredient whose curve is in doubt.

    ``moves`` is how far half of its published spread moves the first window's property
    of the answer, in points; ``left`` what is expected to be left of that.
    """

    ingredient: str
    name: str
    moves: float
    left: float


class Carrier(Struct, frozen=True):
    """The ingredient that carries most of a doubt: which share of its variance.

    ``least`` is how much of it each formula holds that could be poured, percent.
    """

    name: str
    share: float
    least: float


class Verdict(Struct, frozen=True):
    """A verdict, its chance, and the answer's figure if that is what is found."""

    said: str
    chance: float
    answer: float


class TestBar(Struct, frozen=True):
    """One bar to pour: its formula in percent, and what will be seen of it.

    ``room`` is where it is judged and ``firmness`` what the model says there (None
    where only a drop point counts); ``drop`` is where it should slip, deg C, None
    where wax would hold it up. ``alone`` is what of the first window's doubt it would
    leave by itself, ``told`` the ingredients that its figure hangs on most with the
    points that each may move it, and ``to_buy`` what of it is not on the shelf (not in
    the base where nothing is known of a shelf).
    ``verdicts`` say what firmness the answer would then have.
    """

    name: str
    formula: Mapping[str, float]
    room: float | None
    firmness: float | None
    drop: float | None
    alone: float
    told: tuple[tuple[str, float], ...]
    verdicts: tuple[Verdict, ...]
    to_buy: tuple[str, ...]


class Trials(Struct, frozen=True):
    """The bars to pour, and what is in doubt before and after.

    ``impossible`` is the share of what the figures may be with which no formula keeps
    the rules; ``candidates`` how many formulas the bars were chosen from. ``windows``
    are those that hold the answer; ``felt_at`` is where "right" was written for, and
    ``thumb`` what a verdict may be off by. ``carrier`` carries most of the first
    window's doubt. ``at_hand`` says that the bars are of the shelf, the base and
    today's answer, ``stocked`` that something is known of a shelf.
    """

    about: About
    bars: tuple[TestBar, ...]
    answer: Mapping[str, float]
    names: Mapping[str, str]
    windows: tuple[DoubtOf, ...]
    cost: DoubtOf | None
    figures: tuple[FigureDoubt, ...]
    impossible: float
    candidates: int
    seed: int
    shelf: bool
    felt_at: float | None
    carrier: Carrier
    at_hand: bool
    stocked: bool
    thumb: float = THUMB


def trials(
    scenario: Scenario,
    catalogue: Catalogue,
    count: int = 4,
    *,
    shelf: bool = False,
    seed: int = 1,
    progress: Progress | None = None,
) -> Trials | Clash:
    """Return the bars that together tell most of what decides a scenario.

    Parameters
    ----------
    catalogue : Catalogue
        Read without an earlier calibration: trials are fitted to the published figures.
    count : int
        How many bars.
    shelf : bool
        Whether they are made of nothing but what is on the shelf.

    Raises
    ------
    InputError
        If nothing that can be seen of a bar would tell of the scenario's windows.

    Notes
    -----
    Unknown is one number for each fat and wax, how far its curve lies from the
    published one within its spread (`studies.calibration`). With each of many lots of
    these numbers the scenario is solved again, by straight sums: the formulas found are
    those that may turn out to be the answer, and what they cost is how unsure the cost
    is. The bars are the Bayesian V-optimal design for the windows at the answer (half
    of the weight), at those formulas, and for the cost as a straight line in the
    numbers; see `science.design`. Verdicts count there by their mean information;
    what is promised is worked out from the verdicts (`promise`). Each formula is
    poured once, in one room.
    """
    _check(count, seed)
    solved = answer(scenario, catalogue)
    if isinstance(solved, NoFormula):
        return clash_of(solved, catalogue)
    study = _Around(solved, catalogue, seed)
    return study.told(count, shelf, progress)


def _check(count: int, seed: int) -> None:
    problems = []
    if not 1 <= count <= MOST_BARS:
        wrong, fix = "is no number of bars to pour", f"ask for 1 to {MOST_BARS}"
        problems.append(Problem(wrong, None, None, "--bars", str(count), fix))
    if seed < 0:
        wrong, fix = "is no start of the tries", "give 0 or more"
        problems.append(Problem(wrong, None, None, "--seed", str(seed), fix))
    if problems:
        raise InputError(problems)


class _Candidate(Struct, frozen=True, eq=False):
    """A formula in a room, and what would be seen of it; ``number`` is its formula."""

    number: int
    formula: Mapping[str, float]
    room: float | None
    drop: float | None
    sights: tuple[Sight, ...]


class _Around:
    """A scenario's answer, what is in doubt around it, and what would tell."""

    def __init__(self, solved: Solved, catalogue: Catalogue, seed: int) -> None:
        self.solved, self.catalogue, self.seed = solved, catalogue, seed
        self.scenario = solved.scenario
        self.random = np.random.default_rng(seed)
        self.programme = build(self.scenario, catalogue)
        self.keys = self.programme.ingredients
        self.asked = [
            (number, rule.about)
            for number, rule in enumerate(self.programme.rules)
            if isinstance(rule.about, Window) and melts(rule.about.property)
        ]
        if not self.asked:
            raise self.no_window()
        self.felt = target(self.scenario)
        self.bars_keep, self.at_hand = self.programme, False
        self._solids: dict[str, Floats] = {}

    def no_window(self) -> InputError:
        """Return that nothing says how firm the product should be, and what would."""
        wrong = "has no window on firmness or solid fat, so no bar decides it"
        fix = (
            'add [[windows]] with property = "firmness", at = "25 degC",'
            ' over = "lipids", min and max'
        )
        origin = Origin(self.scenario.file)
        now = self.figure(
            Window("firmness", 25.0, None, "lipids", None, None, None, origin)
        )
        if now is not None:
            fix += f": the answer as it is has {now:.0f} there"
        return InputError(
            [Problem(wrong, self.scenario.file, field="windows", fix=fix)]
        )

    # -- what is in doubt --------------------------------------------------------

    def row(self, formula: Mapping[str, float], window: Window) -> Floats:
        """Return how far one step of each curve moves a window's property, [points]."""
        part = self.part(formula, window.over)
        steps = steps_of(part, window.property, window.at or 25.0, self.catalogue)
        return np.array([steps.get(key, 0.0) for key in self.keys])

    def part(self, formula: Mapping[str, float], over: str) -> dict[str, float]:
        """Return the ingredients of a part of a formula, [%]."""
        return part_amounts(self.scenario, self.catalogue, dict(formula), over)

    def drawn(self) -> tuple[list[tuple[Floats, Programme, Floats]], float]:
        """Return what is solved for lots of the figures, and the share without any."""
        whole = self.programme.whole
        count = DRAWS_WITH_CHOICES if whole else DRAWS
        found = []
        for lot in self.random.standard_normal((count, len(self.keys))):
            programme = self.moved(lot)
            optimum = optimise(programme)
            if not isinstance(optimum, Infeasible):
                found.append((lot, programme, optimum.amounts))
        return found, 1.0 - len(found) / count

    def moved(self, lot: Floats) -> Programme:
        """Return the programme with every curve moved by so many steps."""
        rules = list(self.programme.rules)
        for number, window in self.asked:
            rules[number] = self._moved(rules[number], window, lot)
        return replace(self.programme, rules=tuple(rules))

    def _moved(self, rule: Rule, window: Window, lot: Floats) -> Rule:
        row = dict(
            zip(
                rule.amounts.columns.tolist(),
                rule.amounts.coefficients.tolist(),
                strict=True,
            )
        )
        for term in rule.terms:
            key, at = self.keys[term.column], window.at or 25.0
            half = half_spread(self.catalogue, key, window.property, at)
            if half:
                moved = row.get(term.column, 0.0) + float(lot[term.column]) * half
                row[term.column] = max(0.0, moved)
        return replace(rule, amounts=Row.of(row.items()))

    # -- what could be seen ------------------------------------------------------

    def candidates(self, shelf: bool) -> list[_Candidate]:
        """Return the formulas that could be poured, each in each room.

        What is at hand comes first; where too few formulas are to be had of it, what
        is cheapest to buy a pack of joins it, and last all that may be chosen from.
        """
        for pourable in self.pourable(shelf):
            self.bars_keep = pourable
            found = formulas(pourable, self.random)
            if len(found) >= FEWEST:
                break
        return self.in_rooms(found, self.bars_keep)

    def by_lot(self, candidates: list[_Candidate], shelf: bool) -> list[_Candidate]:
        """Return what bars are drawn from by lot: all in the rules, at hand or not."""
        if shelf or self.bars_keep is self.programme:
            return candidates
        return self.in_rooms(formulas(self.programme, self.random), self.programme)

    def in_rooms(self, found: Floats, programme: Programme) -> list[_Candidate]:
        """Return what could be seen of formulas, one a row, each in each room."""
        told: list[_Candidate] = []
        for number, amounts in enumerate(found):
            formula = {
                key: float(x)
                for key, x in zip(programme.ingredients, amounts, strict=True)
                if x > TRACE
            }
            told += self.seen(number, formula)
        return told

    def pourable(self, shelf: bool) -> Iterator[Programme]:
        """Yield the programmes that bars may keep, the first of what is at hand.

        That is the shelf, the base and today's answer: nobody buys a butter for a
        trial who need not.
        """
        if shelf:
            origin = Origin(self.scenario.file)
            yield build(replace(self.scenario, stock_only=origin), self.catalogue)
            return
        shelved = {lot.ingredient for lot in self.catalogue.stock}
        own = {*shelved, *self.scenario.base, *self.solved.amounts}
        if shelved or not self.scenario.only:
            self.at_hand = True
            yield self.without_others(own)
            self.at_hand = False
            packs = sorted(
                (min(pack.paid for pack in packs), key)
                for key, packs in self.catalogue.prices.items()
                if key in self.keys and key not in own and packs
            )
            for more in range(PACKS, len(packs), PACKS):
                yield self.without_others({*own, *(key for _, key in packs[:more])})
        yield self.programme

    def without_others(self, own: Collection[str]) -> Programme:
        """Return the programme that uses nothing but some ingredients."""
        amounts = [
            each if each.key in own else replace(each, upper=each.lower)
            for each in self.programme.columns[: len(self.keys)]
        ]
        rest = self.programme.columns[len(self.keys) :]
        return replace(self.programme, columns=(*amounts, *rest))

    def seen(self, number: int, formula: Mapping[str, float]) -> list[_Candidate]:
        """Return what could be seen of a formula, room by room."""
        over = self.felt.over if self.felt else self.asked[0][1].over
        part = self.part(formula, over)
        if not part:
            return []
        slips = self.slips(part)
        drop, sights = (None, ()) if slips is None else (slips[0], (slips[1],))
        times = as_the_base(formula, self.scenario, self.catalogue)
        verdicts = [] if self.felt is None else self.verdicts(part, self.felt, times)
        found = [
            _Candidate(number, formula, room, drop, (sight, *sights))
            for room, sight in verdicts
        ]
        if not found and sights:
            found.append(_Candidate(number, formula, None, drop, sights))
        return found

    def verdicts(
        self, part: Mapping[str, float], window: Window, times: float
    ) -> list[tuple[float, Sight]]:
        """Return what a verdict in each room would be of.

        ``times`` is how much firmer grains make the bar feel than the base's do.
        """
        low = -math.inf if window.low is None else window.low / times
        high = math.inf if window.high is None else window.high / times
        thumb = THUMB / times
        found = []
        for room in sorted({*ROOMS, window.at or ROOMS[1]}):
            blend = blend_value(PROPERTIES["firmness"], part, room, self.catalogue)
            if blend.value is not None:
                row = self.vector(steps_of(part, "firmness", room, self.catalogue))
                found.append((room, Sight(blend.value, row, low, high, thumb, False)))
        return found

    def slips(self, part: Mapping[str, float]) -> tuple[float, Sight] | None:
        """Return where some lipids should slip, and what that would be of."""
        if holds_by_wax(part, self.catalogue):
            return None
        least, most = DROP_SOLIDS
        middle = (least + most) / 2.0
        noise = math.sqrt(DROP**2 + (most - least) ** 2 / 12.0)
        shares = np.array(list(part.values()))
        curve = shares @ np.array([self.solids(key) for key in part]) / shares.sum()
        for at in DROPS[curve <= middle + TRACE]:  # what is not known is no number
            blend = blend_value(
                PROPERTIES["solid fat"], part, float(at), self.catalogue
            )
            if blend.value is not None and blend.value <= middle:
                steps = steps_of(part, "solid fat", float(at), self.catalogue)
                sight = Sight(
                    blend.value, self.vector(steps), least, most, noise, reads=True
                )
                return float(at), sight
        return None

    def solids(self, key: str) -> Floats:
        """Return how much of an ingredient is solid at each of `DROPS`; NaN: unknown.

        Hundreds of formulas are of the same few dozen ingredients.
        """
        if key not in self._solids:
            kind = PROPERTIES["solid fat"]
            told = [look_up(kind, self.catalogue, key, float(at)) for at in DROPS]
            figures = [math.nan if each is None else each.value for each in told]
            self._solids[key] = np.array(figures)
        return self._solids[key]

    def vector(self, steps: Mapping[str, float]) -> Floats:
        """Return steps by ingredient as an array."""
        return np.array([steps.get(key, 0.0) for key in self.keys])

    # -- the bars ----------------------------------------------------------------

    def told(self, count: int, shelf: bool, progress: Progress | None) -> Trials:
        """Return the bars, what they tell, and what they leave in doubt."""
        solved, impossible = self.drawn()
        windows = self.holding(solved)
        rows = np.array([self.row(self.solved.amounts, each) for each in windows])
        slope, rest = self.cost_slope(solved)
        candidates = self.candidates(shelf)
        if not candidates or not rows.any():
            self.refuse(shelf)
        towards = self.towards(rows, windows, solved, slope)
        blocks = _blocks(candidates)
        alike = np.array([each.number for each in candidates])
        count = min(count, len(np.unique(alike)))
        design = exchange(
            blocks,
            count,
            np.eye(len(self.keys)),
            towards=towards,
            alike=alike,
            seed=self.seed,
        )
        chosen = settled(
            Lots(rows[0], lots=FEWER, truths=FEWER_TRUTHS, seed=self.seed + 1),
            design.chosen,
            seen=[each.sights for each in candidates],
            alike=alike,
            towards=towards,
            progress=progress,
        )
        picked = self.weighed([candidates[n] for n in chosen])
        lots = Lots(rows[0], lots=LOTS, truths=TRUTHS, seed=self.seed)
        every = np.vstack([rows, slope, np.eye(len(self.keys))])
        after = lots.left([each.sights for each in picked], every)
        others = self.by_lot(candidates, shelf)
        by_lot = self.at_random(others, count, lots, every)
        size, answer = len(windows), self.solved.amounts
        return Trials(
            about=replace(
                About.of(self.scenario, self.catalogue),
                invented_of=self.catalogue.invented_among(
                    key for each in picked for key in (*answer, *each.formula)
                ),
            ),
            bars=tuple(
                self.bar(n, each, lots, rows[0]) for n, each in enumerate(picked, 1)
            ),
            answer=answer,
            names={key: self.catalogue.ingredients[key].name for key in self.keys},
            windows=tuple(
                self.doubt_of(window, row, after[n], by_lot[n])
                for n, (window, row) in enumerate(zip(windows, rows, strict=True))
            ),
            cost=self.cost_doubt(slope, rest, after[size], by_lot[size]),
            figures=self.figures(rows[0], after[size + 1 :]),
            impossible=impossible,
            candidates=len(np.unique(alike)),
            seed=self.seed,
            shelf=shelf,
            felt_at=None if self.felt is None else self.felt.at,
            carrier=self.carrier(rows[0], candidates),
            at_hand=self.at_hand,
            stocked=bool(self.catalogue.stock),
        )

    def carrier(self, row: Floats, candidates: Sequence[_Candidate]) -> Carrier:
        """Return what carries most of the first window's doubt."""
        most = int((row**2).argmax())
        key = self.keys[most]
        return Carrier(
            self.catalogue.ingredients[key].name,
            float(row[most] ** 2 / (row @ row)),
            min(each.formula.get(key, 0.0) for each in candidates),
        )

    def refuse(self, shelf: bool) -> None:
        """Say that no bar tells anything."""
        wrong = "has no formula to pour that would tell of its windows"
        fix: str | Phrase = "add a window on firmness: verdicts tell of that"
        if shelf:
            wrong = "has no formula of what is on the shelf that keeps its rules"
            what = " out, and see what would be bought"
            fix = phrase("leave ", Option("shelf"), what)
        raise InputError([Problem(wrong, self.scenario.file, fix=fix)])

    def holding(
        self, solved: Sequence[tuple[Floats, Programme, Floats]]
    ) -> list[Window]:
        """Return the windows that hold the answer with some figures, the most first."""
        counts: dict[tuple[str, float | None, str], int] = {}
        windows: dict[tuple[str, float | None, str], Window] = {}
        for number, window in self.asked:
            kind = (window.property, window.at, window.over)
            windows.setdefault(kind, window)
            for _, programme, amounts in solved:
                slack = programme.rules[number].slack(amounts)
                if slack is not None and slack < BINDS:
                    counts[kind] = counts.get(kind, 0) + 1
        order = sorted(windows, key=lambda k: (k[0] != "firmness", -counts.get(k, 0)))
        kept = [windows[kind] for kind in order if counts.get(kind)]
        kept = kept or [windows[kind] for kind in order]
        return [w for w in kept if self.row(self.solved.amounts, w).any()] or kept[:1]

    def cost_slope(
        self, solved: Sequence[tuple[Floats, Programme, Floats]]
    ) -> tuple[Floats, float]:
        """Return the cost as a straight line in the steps, and what it leaves open.

        Money per kg and step; the rest is a standard deviation that no bar takes away.
        """
        nothing = np.zeros(len(self.keys)), 0.0
        lots, costs = [], []
        for lot, _, amounts in solved:
            formula = {
                key: float(x)
                for key, x in zip(self.keys, amounts, strict=False)
                if x > TRACE
            }
            cost = cost_per_kg(formula, self.catalogue)
            if cost is None:
                return nothing
            lots.append(lot)
            costs.append(cost)
        if len(costs) < 2:
            return nothing
        # Some columns move nothing and there may be fewer lots than curves: held back
        # by as much as one lot tells.
        steps, told = np.array(lots), np.array(costs)
        centred, off = steps - steps.mean(axis=0), told - told.mean()
        need_room()
        slope = np.linalg.solve(
            centred.T @ centred + np.eye(len(self.keys)), centred.T @ off
        )
        rest = off - centred @ slope
        return slope, float(np.sqrt(rest @ rest / len(costs)))

    def towards(
        self,
        rows: Floats,
        windows: Sequence[Window],
        solved: Sequence[tuple[Floats, Programme, Floats]],
        slope: Floats,
    ) -> Floats:
        """Return the predictions that matter, each as a share of its own doubt."""
        before = np.maximum((rows**2).sum(axis=1), 1e-12)
        counts = OWN / np.arange(1, len(rows) + 1) ** 2
        total = np.einsum("wi,wj,w->ij", rows, rows, counts / before)
        others = np.zeros_like(total)
        for _, _, amounts in solved:
            formula = {
                key: float(x)
                for key, x in zip(self.keys, amounts, strict=False)
                if x > TRACE
            }
            for window, scale in zip(windows, before, strict=True):
                row = self.row(formula, window)
                others += np.outer(row, row) / scale
        total += others / max(1, len(solved))
        if slope.any():
            total += np.outer(slope, slope) / (slope @ slope)
        return np.asarray(total)

    def weighed(self, picked: Sequence[_Candidate]) -> list[_Candidate]:
        """Return bars in steps that a scale can weigh, as near as the rules allow."""
        programme = self.bars_keep
        found: list[_Candidate] = []
        done: list[Mapping[str, float]] = []
        for each in picked:
            near = np.array([each.formula.get(k, 0.0) for k in programme.ingredients])
            formula = weighable(programme, self.scenario, self.catalogue, near, done)
            if formula is None:
                formula = dict(each.formula)
            done.append(formula)
            same = [
                other
                for other in self.seen(each.number, formula)
                if other.room == each.room
            ]
            found += same[:1]
        return found

    def at_random(
        self, candidates: Sequence[_Candidate], count: int, lots: Lots, rows: Floats
    ) -> Floats:
        """Return what bars drawn by lot from the candidates leave, on the average."""
        numbers = sorted({each.number for each in candidates})
        left = []
        for _ in range(AT_RANDOM):
            drawn = self.random.choice(numbers, count, replace=False)
            sights: list[tuple[Sight, ...]] = []
            for number in drawn:
                same = [each for each in candidates if each.number == number]
                sights.append(same[int(self.random.integers(len(same)))].sights)
            left.append(lots.left(sights, rows) ** 2)
        return np.asarray(np.sqrt(np.mean(left, axis=0)))

    # -- what is said ------------------------------------------------------------

    def bar(self, number: int, each: _Candidate, lots: Lots, row: Floats) -> TestBar:
        """Return a bar with what it tells by itself."""
        sight, answered = each.sights[0], self.solved.amounts
        first = None
        if self.felt is not None:
            first, row = self.figure(self.felt), self.row(answered, self.felt)
        verdicts: tuple[Verdict, ...] = ()
        if not sight.reads and first is not None:
            chances, moved = lots.after(sight, row)
            words = ("too soft", "right", "too hard")
            told = zip(words, chances, moved, strict=True)
            verdicts = tuple(Verdict(w, float(c), first + float(m)) for w, c, m in told)
        order = np.argsort(-np.abs(sight.row))[:TOLD]
        shelf = {lot.ingredient for lot in self.catalogue.stock}
        ingredients = self.catalogue.ingredients
        return TestBar(
            name=f"bar {number}",
            formula=each.formula,
            room=each.room,
            firmness=None if sight.reads else sight.middle,
            drop=each.drop,
            alone=float(lots.left([each.sights], row[None, :])[0]),
            told=tuple(
                (ingredients[self.keys[n]].name, float(sight.row[n]))
                for n in order
                if sight.row[n] > 0.5
            ),
            verdicts=verdicts,
            to_buy=tuple(
                ingredients[key].name
                for key in each.formula
                if key not in (shelf or self.scenario.base)
            ),
        )

    def figure(self, window: Window) -> float | None:
        """Return what the model says of a window's property of the answer."""
        part = self.part(self.solved.amounts, window.over)
        kind = PROPERTIES[window.property]
        return blend_value(kind, part, window.at, self.catalogue).value

    def doubt_of(
        self, window: Window, row: Floats, after: float, by_lot: float
    ) -> DoubtOf:
        """Return how unsure a window's property of the answer is."""
        return DoubtOf(
            window.property,
            window.at,
            window.over,
            self.figure(window),
            float(np.sqrt(row @ row)),
            float(after),
            float(by_lot),
        )

    def cost_doubt(
        self, slope: Floats, rest: float, after: float, by_lot: float
    ) -> DoubtOf | None:
        """Return how unsure the cost is; None where the figures do not move it."""
        before = math.hypot(float(np.sqrt(slope @ slope)), rest)
        if before < 1e-3:
            return None
        cost = cost_per_kg(self.solved.amounts, self.catalogue)
        return DoubtOf(
            "cost",
            None,
            "",
            cost,
            before,
            math.hypot(float(after), rest),
            math.hypot(float(by_lot), rest),
        )

    def figures(self, row: Floats, left: Floats) -> tuple[FigureDoubt, ...]:
        """Return the figures in doubt that move the answer, the widest first."""
        found = [
            FigureDoubt(
                key,
                self.catalogue.ingredients[key].name,
                float(row[n]),
                float(row[n] * left[n]),
            )
            for n, key in enumerate(self.keys)
            if row[n] > 0.05
        ]
        return tuple(sorted(found, key=lambda each: -each.moves))


def _blocks(candidates: Sequence[_Candidate]) -> Floats:
    """Return each candidate's readings, divided by what they may be off by."""
    deep = max(len(each.sights) for each in candidates)
    size = candidates[0].sights[0].row.size
    blocks = np.zeros((len(candidates), deep, size))
    for number, each in enumerate(candidates):
        for place, sight in enumerate(each.sights):
            weight = 1.0 / sight.noise**2
            if not sight.reads:
                middle = np.array([sight.middle])
                spread = np.array([np.sqrt(sight.row @ sight.row)])
                told = verdict_weight(
                    middle, spread, sight.low, sight.high, sight.noise
                )
                weight = float(told[0])
            blocks[number, place] = math.sqrt(weight) * sight.row
    return blocks
