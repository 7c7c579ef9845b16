"""What the program answers to a specification, held against the independent model."""

import math
import random
import tempfile
from pathlib import Path

import numpy as np
from msgspec import Struct

from optimiser.explaining import formulate
from optimiser.presenting.scenario_text import eased_scenario
from optimiser.reading import read_scenario
from optimiser.studies.without import without
from tests.random_scenarios.exact import Exact, fraction
from tests.random_scenarios.files import write
from tests.random_scenarios.independent import HELD, Model, Statement, UnaskedError
from tests.random_scenarios.melting import Melting
from tests.random_scenarios.specification import replaced, window_id

NEAR = 1e-6  # of an aim, or of a limit; choices are searched to KEPT
KEPT = 1e-5
EXACT = 1e-7  # of an aim, against exact arithmetic
STEP = 1e-3  # how far a limit is moved to try a price, in parts of it
LITTLE = 1e-3  # of the cost: what a trace of an ingredient for nothing may save
MOST_TRIED = 9  # that may be used or not: every set of them is tried in fractions
HUNDRED = True  # whether a clash is to be smallest with the 100 % always kept
BENDING = {"price", "until"}  # where a bend that is all but here is no fault
BEND = 2e-6  # in parts of a limit: how near a bend may be and be taken to be here
SEES = 1e-5  # of a second figure
HELD_TO = 0.01  # points by which a window may be missed by it
SLOPES = 0.02  # of what is corrected, a percent of something more
TINY = 1e-12  # of an aim in exact arithmetic: what fractions are rounded by
IDLE = 1e-5  # the same for a price of nothing, of which no end is told
IN, SEEN = 1e-5, 0.1  # percent from which an ingredient is in, and is shown to be
HAIR = 1e-3  # percent: what the room for rounding of earlier aims buys near a price
NO_PRICE = 0.005  # money per kg; less is no price
DRIFT = 0.025  # a window's price holds to 2 % (decision 4), and a little for rounding


class Found(Struct, frozen=True):
    """A disagreement: what kind, and in words."""

    kind: str
    said: str


def read(asked, path):
    """A file of a specification as it is read, with what a command lets in or out."""
    scenario, catalogue = read_scenario(path)
    if asked.let_in or asked.gone:
        names = {each.key: each.name for each in asked.materials}
        out, in_ = ([names[k] for k in keys] for keys in (asked.gone, asked.let_in))
        scenario, _, _ = without(scenario, catalogue, out, in_)
    return scenario, catalogue


def answered(asked):
    """What the program says to the files of a specification."""
    with tempfile.TemporaryDirectory() as folder:
        return formulate(*read(asked, write(asked, Path(folder))))


def disagreements(asked, tried=4):
    """Everything in which the program and the independent model disagree.

    ``tried`` is how many binding rules have their prices tried.
    """
    try:
        model = Model(asked)
    except UnaskedError:
        return []
    answer = answered(asked)
    if answer.status == "clash":
        mine = _best(model)
        if mine is not None and not _on_the_edge(model):
            return [Found("status", f"told a clash, but {mine} can be had")]
        return _clash(model, answer)
    return mismelted(model, answer) or _misanswered(model, answer, tried)


def _misanswered(model, answer, tried):
    """The same of an answer, its windows by the second opinion looked at before."""
    asked, mine = model.asked, _best(model)
    if mine is None:
        said = _kept(model, answer)
        return [Found("status", "answered where nothing fits"), *said] if said else []
    few = len(model.counted) <= MOST_TRIED
    found = _aims(model, answer, mine, EXACT if few else None)
    if found and few:
        found = _aims(model, answer, _exactly(model), EXACT)
    elif found:
        found = _aims(model, answer, model.best_of_all_sets())
    found += _kept(model, answer)
    if answer.steps is not None:
        found += _stepped(model, answer)
        if asked.chooses:  # what is chosen without steps is not shown
            return found
    return found or _prices(model, answer, tried)


def inexact(asked):
    """Where status or aims of an answer are not those of exact arithmetic."""
    try:
        model = Model(asked)
    except UnaskedError:
        return []
    answer, exact = answered(asked), Exact(model)
    best = exact.best()
    if answer.status == "clash" or best is None:
        if (answer.status == "clash") == (best is None) or _on_the_edge(model):
            return []
        return [Found("status", f"{answer.status} where the least is {best}")]
    found = _least(told_aims(answer), best, EXACT)
    return found if answer.steps is None else found + _inexact_steps(exact, answer)


def _inexact_steps(exact, answer):
    """The same of a formula in whole steps, against every one that there is."""
    model = exact.model
    fixed = {key: fraction(share) for key, share in model.fixed().items()}
    step = {key: fraction(model.asked.step(key)) for key in model.keys}
    fine = model.finest(model.asked.steps)
    for rest in (False, True):
        best = exact.best_in_steps(step, fixed, rest=rest, fine=fine)
        if best is not None:
            if not answer.steps.kept or rest != (answer.steps.rest is not None):
                return [Found("steps", f"{answer.steps} where {best} can be had")]
            return _least(answer.aims, best, EXACT)
    if answer.steps.kept:
        return [Found("steps", "told in steps, in which nothing fits")]
    return []


def _best(model, moved=None):
    """Each aim's least, in fractions where rounding is in the way; None if none fit."""
    try:
        found = model.best(moved=moved)
    except ArithmeticError:
        return _exactly(model, moved)
    return None if found is None else found[0]


def _exactly(model, moved=None):
    """Each aim's least in fractions; None if none fit."""
    found = Exact(model, moved).best()
    return None if found is None else [float(each) for each in found]


def _on_the_edge(model):
    """Whether the rules fit by no more than rounding: no status would be wrong."""
    tight = {
        name: each.limit + sign * 1e-7 * max(1.0, abs(each.limit))
        for name, each in model.rules.items()
        for side, sign in (("min", 1.0), ("max", -1.0))
        if each.side == side and each.limit > 0.0
    }
    return not model.fits(moved=tight)


def _formula(answer):
    return {line.ingredient: line.percent for line in answer.formula if line.percent}


def told_aims(answer):
    """The aims of an answer without steps, at which its prices are told."""
    return answer.aims if answer.steps is None else answer.steps.aims


def _aims(model, answer, best, to=None):
    """Aims that are not the least there is, and a formula that does not have them.

    ``to`` is how near they are told, as a part of themselves.
    """
    found = []
    near = KEPT if model.asked.chooses or answer.steps else NEAR
    x = model.columns(_formula(answer))
    rows = zip(answer.aims, model.goals, model.asked.aims, strict=True)
    for (name, value, _), goal, (_, slack) in rows:
        if goal @ x > value + slack + near * max(1.0, abs(value)):
            said = f"{name} of the formula is {goal @ x!r}, not {value!r}"
            found.append(Found("formula", said))
    return found + _least(told_aims(answer), best, near if to is None else to)


def _least(aims, best, near):
    """The first aim that is not the least there is."""
    for (name, value, _), least in zip(aims, best, strict=True):
        if abs(value - least) > near * max(1.0, abs(least)):
            said = f"{name} {value!r} where {float(least)!r} is the least"
            return [Found("aim", said)]
    return []


def _stepped(model, answer):
    """What is wrong in a formula in whole steps, or in saying that there is none."""
    asked, told = model.asked, answer.steps
    if told.cut:  # said to be ended before it was known
        return _off(model, answer) if told.kept else []
    mine = model.best_in_steps(asked)
    if not told.kept:
        if mine is not None:
            return [Found("steps", f"told that none fits, but {mine[0]} can be had")]
        return _least(answer.aims, [v for _, v, _ in told.aims], 1e-12) + _finer(
            model, told.finer
        )
    if mine is None:
        return _off(model, answer)
    best, rest = mine
    found = [Found("steps", each.said) for each in _least(answer.aims, best, KEPT)]
    if rest != (told.rest is not None):
        found.append(Found("steps", f"{told.rest} takes the rest; {rest} is so"))
    return found + _off(model, answer)


def _off(model, answer):
    """Ingredients that are off their steps, but for the one that takes the rest."""
    fixed, found = model.fixed(), []
    for key, percent in _formula(answer).items():
        step = model.asked.step(key)
        name = model.known[key].name
        if key in fixed or name == answer.steps.rest:
            continue
        if abs(percent - round(percent / step) * step) > NEAR:
            found.append(Found("steps", f"{key} is {percent!r} in steps of {step}"))
    return found


def _finer(model, told):
    """A finer step that does not do, or one passed over that would."""
    asked = model.asked
    step = dict(asked.steps)["step"]
    for each in (0.25, 0.1, 0.05, 0.01):
        if each >= step:
            continue
        own = {what: min(other, each) for what, other in asked.steps}
        finer = replaced(asked, steps=tuple((own | {"step": each}).items()))
        fits = model.best_in_steps(finer) is not None
        if each == told:
            return [] if fits else [Found("steps", f"steps of {told} do not fit")]
        if fits:
            return [Found("steps", f"steps of {each} would do; told {told}")]
    return [] if told is None else [Found("steps", f"steps of {told} are not finer")]


def _kept(model, answer):
    """Rules that the formula breaks, and rules that are missing or are too many."""
    found = []
    told = {line.rule.id: line for line in answer.rules}
    for name in sorted(told.keys() ^ model.rules.keys()):
        whose = "program" if name in told else "independent model"
        found.append(Found("rules", f"only the {whose} has {name}"))
    x = model.columns(_formula(answer))
    for name, each in model.rules.items():
        row, low, high = each.row(each.limit)
        scale = max(1.0, abs(each.limit)) * max(1.0, abs(each.constant))
        by = max(low - row @ x, row @ x - high)
        if by > NEAR * scale * max(1.0, abs(row).max() / 100.0):
            found.append(Found("broken", f"{name} is broken by {by:g}"))
        line, value = told.get(name), each.value(x)
        if line is None or value is None or line.value is None:
            continue
        if abs(line.rule.limit - each.limit) > 1e-9 * max(1.0, abs(each.limit)):
            found.append(Found("limit", f"{name}: {line.rule.limit}, {each.limit}"))
        if abs(line.value - value) > 1e-5 * max(1.0, abs(value)):
            found.append(Found("value", f"{name} is {value!r}, told {line.value!r}"))
    return found


def _clash(model, clash):
    """Told rules that do not clash by themselves, or of which one is not needed."""
    found = []
    for rules in (clash.rules, *clash.others):
        names = [rule.id for rule in rules]
        unknown = [name for name in names if name not in model.rules]
        if unknown:
            return [Found("rules", f"a clash of {unknown}")]
        rest = set(model.rules) - set(names)
        if model.fits(without=rest):
            found.append(Found("clash", f"{names} do not clash"))
        for name in names:
            if not model.fits(without=rest | {name}):
                found.append(Found("needed", f"{name} is not needed in {names}"))
            elif HUNDRED and name != "total":
                kept = (rest | {name}) - {"total"}
                if not model.fits(without=kept):
                    said = f"{name} is not needed in {names} with the 100 % kept"
                    found.append(Found("hundred", said))
    return found or _ways_out(model, clash) or _untaken(model.asked, clash)


def _untaken(asked, clash):
    """Ways out that, written to a file and read, are not the answer that was told."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        path = write(asked, Path(folder))
        gone = {f"exclude/{key.replace('_', ' ')}" for key in asked.gone}
        for way in clash.ways_out:
            if gone & {each.rule.id for each in way.easings}:
                continue  # what a command takes out again is out again
            told = {each.rule.id: each.to for each in way.easings}
            taken = path.with_name("way.toml")
            dropped = [name for name, to in asked.eased if to is None]
            text = eased_scenario(path.name, way, dropped)
            taken.write_text(text, encoding="utf-8")
            answer = formulate(*read(asked, taken))
            if answer.status == "clash":
                found.append(Found("taken", f"{told} clashes once it is written"))
            elif None not in (way.cost_per_kg, answer.cost_per_kg):
                by = abs(answer.cost_per_kg - way.cost_per_kg)
                first = asked.aims[0] == ("cost", 0.0)
                if first and by > KEPT * max(1.0, answer.cost_per_kg):
                    said = f"{told} costs {answer.cost_per_kg}, told {way.cost_per_kg}"
                    found.append(Found("taken", said))
    return found


def _ways_out(model, clash):
    """Ways out that are none, or that do not cost what is told.

    Each is asked anew: what stays as it is in the base may have more room then.
    """
    found = []
    for way in clash.ways_out:
        moved = {each.rule.id: each.to for each in way.easings}
        eased = tuple((dict(model.asked.eased) | moved).items())
        whole = Model(replaced(model.asked, eased=eased))
        best = _best(whole)
        if best is None:
            found.append(Found("way", f"{moved} leaves nothing"))
        elif model.asked.aims[0][0] == "cost" and model.asked.aims[0][1] == 0.0:
            cost = best[0]
            if model.asked.steps:
                stepped = whole.best_in_steps(whole.asked)
                cost = cost if stepped is None else stepped[0][0]
            if model.asked.opinion:
                # A window held by it may cost more: see what it comes to as a file.
                cost = max(cost, way.cost_per_kg)
            if abs(cost - way.cost_per_kg) > KEPT * max(1.0, cost):
                said = f"{moved} costs {cost!r}, told {way.cost_per_kg!r}"
                found.append(Found("way", said))
    return found


# -- windows by the second opinion ---------------------------------------------------


def mismelted(model, answer):
    """What is wrong in what the second opinion is told to say of an answer.

    What it added to the rules joins the model, each rule of it looked at first.
    """
    asked, said = model.asked, answer.second_opinion
    if not asked.opinion or said is None:
        return []
    straight = _best(model)
    windows = _windows(model)
    lines = {line.rule.id: line for line in said.lines}
    if lines.keys() != windows.keys():
        return [Found("opinion", f"of {sorted(lines)}, not of {sorted(windows)}")]
    formula, melting = _formula(answer), Melting(asked)
    x, found = model.columns(formula), []
    holds = []
    for name, window in windows.items():
        each, line = model.rules[name], lines[name]
        mine = melting.second(window, each, x, formula)
        if (mine is None) != (line.second is None):
            found.append(Found("opinion", f"{name} is {mine}, told {line.second}"))
        elif mine is not None:
            if abs(max(0.0, mine) - line.second) > SEES * max(1.0, abs(mine)):
                found.append(Found("opinion", f"{name} is {mine}, told {line.second}"))
            miss = each.limit - mine if each.side == "min" else mine - each.limit
            holds.append(miss <= HELD_TO)
            if holds[-1] != line.holds and abs(miss - HELD_TO) > SEES:
                found.append(Found("opinion", f"{name}: told {line.holds}, at {mine}"))
    outcomes = {"agrees", "held"} if all(holds) else {"not reached"}
    if any(melting.unknown(formula, each) for each in windows.values()):
        outcomes = {"unknown"}
    if said.outcome not in outcomes:
        found.append(Found("opinion", f"{said.outcome}, where it is {outcomes}"))
    # Where an aim leaves room its own formula may break a window that the answer keeps.
    roomy = said.outcome == "agrees" and any(room for _, room in asked.aims)
    if straight is not None and not roomy:
        first = said.first or told_aims(answer)
        few = len(model.counted) <= MOST_TRIED
        near = EXACT if few else KEPT
        if few and _least(first, straight, near):
            straight = _exactly(model)
        found += _least(first, straight, near)
    return found or _tangents(model, answer, melting, formula)


def _windows(model):
    """The rules of windows on melting, each with its window."""
    return {
        name: window
        for window in model.asked.windows
        if window.what in {"solid fat", "firmness"}
        for side in ("min", "max")
        if (name := window_id(model.asked, window, side)) in model.rules
    }


def _tangents(model, answer, melting, formula):
    """Straight rules of the second opinion that are not its slopes at the answer.

    Those of an answer that was held are of the one before it, which is near.
    """
    found, windows = [], _windows(model)
    for line in answer.rules:
        rule = line.rule
        if rule.kind != "opinion":
            continue
        above = np.zeros(model.size)
        above[rule.amounts.columns] = rule.amounts.coefficients
        below = np.zeros(model.size)
        below[rule.per.columns] = rule.per.coefficients
        model.rules[rule.id] = Statement(
            above,
            below,
            rule.per_constant,
            rule.side,
            rule.limit,
            moves_with=rule.moves_with,
        )
        if rule.moves_with is None or answer.second_opinion.outcome != "agrees":
            continue
        if answer.steps is not None or _elsewhere(model, answer, rule, formula):
            continue
        count = len(model.keys)
        mine = melting.slopes(windows[rule.moves_with], formula, model.keys)
        theirs = (above - model.rules[rule.moves_with].above)[:count]
        off = np.abs(mine - theirs) > SLOPES * np.maximum(1.0, np.abs(mine))
        if off.any():
            said = f"{rule.id} has slopes {theirs}, not {mine}"
            found.append(Found("slopes", said))
    return found


def _elsewhere(model, answer, rule, formula):
    """Whether a straight rule was drawn at another formula that does as well.

    It is then lower at this one: solid fat is convex in the amounts.
    """
    x = model.columns(formula)
    told = next(
        line.second
        for line in answer.second_opinion.lines
        if line.rule.id == rule.moves_with
    )
    value = model.rules[rule.id].value(x)
    return value is not None and told - value > SEES * max(1.0, abs(told))


# -- prices --------------------------------------------------------------------------


def _prices(model, answer, tried):
    """Prices that are not what moving the limit does."""
    tops = [
        value + slack + 1e-10 * max(1.0, abs(value))
        for (_, value, _), (_, slack) in zip(
            told_aims(answer), model.asked.aims, strict=True
        )
    ]
    kept, here = _kept_choices(model, answer, tops)
    lines = [
        line
        for line in answer.rules
        if line.binding and line.rule.kind not in {"total", "choice"}
    ]
    dice = random.Random(model.asked.seed)
    found = []
    for line in dice.sample(lines, min(tried, len(lines))):
        moves = _Moves(model, kept, here, tops, line)
        found += _sides(moves) and _sides(moves.exactly())
    return found + _entering(model, answer, here[0])


def _kept_choices(model, answer, tops):
    """What counts as used for each aim, None where nothing is chosen; and its least.

    That is the formula's, but an aim that leaves room may be at its least with other
    choices only: then its own are kept for it (decision 6).
    """
    used = None
    if model.asked.chooses:
        used = {line.ingredient for line in answer.formula if line.percent}
    for held in HELD:
        kept, here = _keeping(model, told_aims(answer), tops, used, held)
        if len(here) == len(tops):
            return kept, here
    raise ArithmeticError("an earlier aim could not be held")


def _keeping(model, aims, tops, used, held):
    """The same with some room for rounding; shorter where an aim cannot be held."""
    kept, here, holds = [], [], []
    for goal, top, (_, value, _) in zip(model.goals, tops, aims, strict=True):
        own, x = used, model.programme(used=used).least(goal, holds)
        if x is None or goal @ x > value + NEAR * max(1.0, abs(value)):
            own = model.chosen(goal, holds)
            x = None if own is None else model.programme(used=own).least(goal, holds)
        if x is None:
            break
        kept.append(own)
        here.append(float(goal @ x))
        holds.append((goal, top + held * max(1.0, abs(top))))
    return kept, here


def _entering(model, answer, least):
    """Prices at which an unused ingredient would come in; cost is the first aim."""
    if model.asked.chooses or model.asked.aims[0][0] != "cost":
        return []
    if model.asked.aims[0][1] > 0.0 and len(model.asked.aims) > 1:
        return _coming_in(model, answer)
    found = []
    programme = model.programme()
    little = LITTLE * max(1.0, abs(least))
    for each in answer.unused:
        column = model.at["amount"][model.keys.index(each.ingredient)]

        def cost(price, column=column):
            goal = model.goals[0].copy()
            goal[column] = price / 100.0
            return float(goal @ programme.least(goal, []))

        enters = each.enters_below
        where = f"{each.ingredient} enters below {enters}"
        if enters is None:
            if cost(0.0) < least - little:
                found.append(Found("enters", f"{where}, but for nothing it does"))
            continue
        if cost(enters + 1e-4 * max(1.0, enters)) < least - little:
            found.append(Found("enters", f"{where}, but dearer it does too"))
        if enters > 1.0 and cost(0.9 * enters) >= least - 1e-9:
            found.append(Found("enters", f"{where}, but a tenth cheaper it does not"))
    return found


def _coming_in(model, answer):
    """The same where an aim after the cost decides what is shown within its room.

    A price then moves the room too, and is told for what is shown (decision 41).
    """
    found = []
    for each in answer.unused:
        column = model.at["amount"][model.keys.index(each.ingredient)]
        enters = each.enters_below
        where = f"{each.ingredient} enters below {enters}"
        if enters is None:
            if model.between(column, NO_PRICE)[0] > SEEN:
                found.append(Found("enters", f"{where}, but for nothing it does"))
            continue
        if max(model.between(column, enters * by)[1] for by in (1.0, 0.999)) < IN / 2:
            found.append(Found("enters", f"{where}, but cheaper it does not"))
        dearer = enters * (1.0 + 1e-5)
        if model.between(column, dearer)[0] > HAIR:
            # Next to a tie that may be what room for rounding buys the model.
            if Exact(model).least_shown(column, dearer) <= HAIR:
                continue
            found.append(Found("enters", f"{where}, but dearer it does too"))
    return found


def _sides(moves):
    line = moves.line
    if line.rule.side == "exact":
        return [
            *moves.price(line.lowering, -1.0, "lowering"),
            *moves.price(line.raising, 1.0, "raising"),
        ]
    easing = 1.0 if line.rule.side == "max" else -1.0
    return [
        *moves.price(line.ease, easing, "easing"),
        *moves.price(line.tighten, -easing, "tightening"),
    ]


class _Moves(Struct):
    """One rule whose limit is moved, the choices kept.

    ``exact`` says that aims are told by exact arithmetic: slow, and without the room
    that rounding needs to hold an earlier aim, which may buy much of a later one.
    """

    model: Model
    kept: list
    here: list
    tops: list
    line: object
    exact: bool = False

    def exactly(self):
        """The same in exact arithmetic."""
        here = Exact(self.model).kept(self.kept)
        rooms = [fraction(room) for _, room in self.model.asked.aims]
        tops = [value + room for value, room in zip(here, rooms, strict=True)]
        return _Moves(self.model, self.kept, here, tops, self.line, exact=True)

    def after(self, step):
        """Aims with the limit moved, up to the first that answers; None if none fit."""
        rule = self.model.rules[self.line.rule.id]
        limit = rule.limit + step
        if rule.log and limit <= 0.0:
            return None
        moved = self.model.moved(self.line.rule.id, limit)
        if self.exact:
            return self._up_to_the_first(Exact(self.model, moved), moved)
        found, holds = [], []
        for goal, top, before, used in zip(
            self.model.goals, self.tops, self.here, self.kept, strict=True
        ):
            if not self.model.fits(moved=moved, used=used):
                return None
            programme = self.model.programme(moved=moved, used=used)
            x = programme.least(goal, holds)
            if x is None:
                break
            found.append(float(goal @ x))
            if abs(found[-1] - before) > 1e-7 + 3e-8 * abs(before):
                break
            holds.append((goal, top + 1e-9 * max(1.0, abs(top))))
        return found

    def told(self, step, place):
        """One aim with the limit moved; None if nothing fits with its own choices.

        What is chosen for an aim before it may leave none, and does not decide
        (decision 81): that one is held where it stands.
        """
        after = self.after(step)
        if after is not None and len(after) > place:
            return after[place]
        rule = self.model.rules[self.line.rule.id]
        if rule.log and rule.limit + step <= 0.0:
            return None
        moved = self.model.moved(self.line.rule.id, rule.limit + step)
        tops = [float(top) + 1e-9 * max(1.0, abs(float(top))) for top in self.tops]
        holds = list(zip(self.model.goals, tops, strict=True))[:place]
        programme = self.model.programme(moved=moved, used=self.kept[place])
        x = programme.least(self.model.goals[place], holds)
        return None if x is None else float(self.model.goals[place] @ x)

    def _up_to_the_first(self, exact, moved):
        found = exact.kept(self.kept, self.tops) or []
        for place, (now, before) in enumerate(zip(found, self.here, strict=False)):
            if abs(now - before) > TINY:
                return [float(each) for each in found[: place + 1]]
        used = self.kept[min(len(found), len(self.kept) - 1)]
        return (
            list(map(float, found)) if self.model.fits(moved=moved, used=used) else None
        )

    def bends_at_once(self, step, place, told):
        """Whether an aim changes as told, but for a bend next to where it stands.

        A bend so near is taken to be here (decision 4): it changes what nobody sees.
        """
        scale = max(1.0, abs(self.line.rule.limit))
        near = math.copysign(BEND * scale, step)
        steps = (step, step / 2.0, near)
        found = [self.after(each) or () for each in steps]
        if any(len(each) <= place for each in found):
            return False
        off = [
            each[place] - self.here[place] - told * by / step
            for each, by in zip(found, steps, strict=True)
        ]
        room = 1e-6 + 1e-7 * abs(self.here[place]) + 1e-3 * abs(told)
        return max(off) - min(off) <= room

    def price(self, told, direction, word):
        rule = self.line.rule
        statement = self.model.rules[rule.id]
        where = f"{word} {rule.id} from {rule.limit:g}"
        scale = max(1.0, abs(rule.limit))
        if told is None:
            return self._immovable(direction * scale, where)
        curved = statement.below.any() or statement.log
        # Where a rule of the second opinion begins to hold, little changes.
        drifts = curved or any(e.moves_with for e in self.model.rules.values())
        room = abs(told.until - rule.limit) if told.until is not None else scale
        if told.until is not None and (told.until - rule.limit) * direction < 0.0:
            return [Found("until", f"{where} holds to {told.until:g}: the wrong way")]
        step = min(STEP * scale, 0.5 * room)
        if told.price == 0.0:  # how far nothing happens is not told
            step = IDLE * scale
            if rule.limit == 0.0 and direction < 0.0:  # less than nothing is no limit
                return []
        if step < 1e-6 * scale:
            return []
        found = self._slope(told, direction, step, where, 0.05 if curved else 1e-3)
        if not found and told.until is not None:
            loose = DRIFT if drifts else 1e-3
            found = self._slope(told, direction, 0.99 * room, where, loose, "until")
        if not found and not drifts and told.price != 0.0:
            found = self._further(told, direction, room, where)
        return found

    def _further(self, told, direction, room, where):
        """A price of the first aim that would have held further, or not so far."""
        if told.of != self.model.asked.aims[0][0]:
            return []
        if told.until is None:
            return self._slope(told, direction, 10.0 * room, where, 1e-3, "endless")
        step = 1.2 * room + 1e-3
        beyond = told.until + direction * (step - room)
        if self.line.rule.unit == "%" and beyond < 0.0:
            return []
        if self._slope(told, direction, step, where, 1e-5, "beyond"):
            return []
        return [Found("early", f"{where}: holds beyond {told.until!r}")]

    def _slope(self, told, direction, step, where, loose, kind="price"):
        after = self.after(direction * step)
        if told.price == 0.0 and (after is None or self.moves(after)):
            step *= 0.1  # its other side, or a bend, may be so near
            after = self.after(direction * step)
        if after is None:
            return [Found(kind, f"{where} by {step:g}: nothing fits")]
        names = [name for name, _ in self.model.asked.aims]
        number = names.index(told.of)
        noise = (1e-6 + 1e-7 * max(abs(each) for each in self.here)) / step
        if self.exact and kind == "beyond":  # a low price ends in a slight bend
            noise = TINY * max(abs(each) for each in self.here) / step
        for place, (now, before) in enumerate(zip(after, self.here, strict=False)):
            slope = (now - before) / step
            wanted = told.price if place == number else 0.0
            if place > number and told.price != 0.0:
                break
            if abs(slope - wanted) > noise + loose * abs(wanted):
                move = direction * step
                if kind in BENDING and self.bends_at_once(move, place, wanted * step):
                    continue
                said = f"{names[place]} moves {slope:g} a unit over {step:g}"
                said += f", told {told.price:g} of {told.of} until {told.until}"
                return [Found(kind, f"{where}: {said}")]
        return []

    def moves(self, after):
        """Whether some aim is not where it stands."""
        pairs = zip(after, self.here, strict=False)
        return any(abs(now - then) > 1e-6 + 1e-7 * abs(then) for now, then in pairs)

    def _immovable(self, scale, where):
        """Said to have no room: a small step must leave no formula, or a jump."""
        step = 1e-4 * scale
        near, far = self.after(step / 100.0), self.after(step)
        if far is None or near is None or self.model.asked.chooses:
            return []
        before = self.here[: len(near)]
        jump = max(abs(a - b) for a, b in zip(near, before, strict=True))
        whole = max(abs(a - b) for a, b in zip(far, self.here, strict=False))
        if jump > 0.5 * whole > 0.0:
            return []
        return [Found("no room", f"{where}: moved by {step:g} aims are {far}")]


# -- making a case small ---------------------------------------------------------------

LISTS = (
    "bands", "limits", "pins", "windows", "ratios", "constituents", "closeness",
    "choices", "least", "law", "shared", "without_allergens", "without",
    "without_categories", "only", "markets", "aims", "materials", "steps",
)  # fmt: skip


def smallest(asked, kind):
    """A specification with the same kind of disagreement and as little as can be."""
    going = True
    while going:
        going = False
        for smaller in _smaller(asked):
            if _still(smaller, kind):
                asked, going = smaller, True
                break
    return asked


def _still(asked, kind):
    try:
        return any(found.kind == kind for found in disagreements(asked, tried=99))
    except Exception as error:  # what it ends with may be what is looked for
        return type(error).__name__ == kind


def _smaller(asked):
    """The specification with one thing less."""
    for name in LISTS:
        values = getattr(asked, name)
        for place in range(len(values)):
            rest = values[:place] + values[place + 1 :]
            if rest or name not in {"aims", "materials"}:
                yield replaced(asked, **{name: rest})
    for name in ("cautious", "vegan", "palm_free", "stock_only"):
        if getattr(asked, name):
            yield replaced(asked, **{name: False})
    if any(room for _, room in asked.aims):
        yield replaced(asked, aims=tuple((name, 0.0) for name, _ in asked.aims))
    for name in ("base", "parts"):
        if getattr(asked, name):
            yield replaced(asked, **{name: {}})
    for name in ("bands", "limits", "windows", "ratios", "constituents"):
        for place, each in enumerate(getattr(asked, name)):
            if None not in (each.low, each.high):
                yield _with(asked, name, place, low=None)
                yield _with(asked, name, place, high=None)
    for place in range(len(asked.materials)):
        yield from _plainer(asked, place)


def _plainer(asked, place):
    """The specification with less known of one material."""
    for name, nothing in (
        ("contents", {}),
        ("statuses", {}),
        ("caps", ()),
        ("lots", ()),
    ):
        if getattr(asked.materials[place], name):
            yield _with(asked, "materials", place, **{name: nothing})


def _with(asked, name, place, **changes):
    """The specification with one entry of a list changed."""
    values = list(getattr(asked, name))
    values[place] = replaced(values[place], **changes)
    return replaced(asked, **{name: tuple(values)})
