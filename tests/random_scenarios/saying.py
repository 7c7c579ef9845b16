"""What the pages of an answer say, tried: every limit and price moved, solved again.

Sentences are read as a maker reads them, with the digits that are shown, and held
against the independent model; nothing is taken from the values behind them.
"""

import math
import re
import tempfile
from itertools import pairwise
from pathlib import Path

import numpy as np

from optimiser.explaining import formulate
from optimiser.explaining.why import why
from optimiser.presenting.answer import answer_page
from optimiser.presenting.why import why_page
from tests.random_scenarios.comparing import (
    BEND,
    IN,
    SEEN,
    Found,
    _formula,
    _kept_choices,
    _Moves,
    mismelted,
    read,
    told_aims,
)
from tests.random_scenarios.files import write
from tests.random_scenarios.independent import Model, UnaskedError
from tests.random_scenarios.specification import replaced

NUMBER = r"(-?\d+(?:\.\d+)?)"
STILL = 1e-6  # of an aim, and this of one: what it may move by and be said not to
LITTLE = 1e-4  # in parts of a limit: "a little", and "ever so little"
FAR = 3.0  # in parts of a limit: "however far"
NEARLY = 1e-4  # of a price: near it a trace may be in, bought by rounding
PLACES = 9  # within the digits of a limit, where an aim is looked at
TRACE = 5e-3  # percent: what is left to an aim by rounding may be so much
CURVED = 0.03  # how far from straight a window's price may be
WAYS = {"easing": -1, "tightening": 1, "lowering": -1, "raising": 1}
DONE = {"eased": "easing", "tightened": "tightening"}
DONE |= {"lowered": "lowering", "raised": "raising"}
AIMS = {
    "different by kind": "kind change",
    "different from the base": "change",
    "different by category": "category change",
    "number of ingredients": "count",
    "must be bought": "bought",
}
KEPT = "Not priced while the chosen ingredients are kept"


def misleading(asked):
    """Every sentence on the pages of a question that does not hold."""
    told = told_of(asked)
    return [] if told is None else misread(*told)


def misread(model, answer, reasons):
    """Every sentence on the pages of an answer that does not hold."""
    return _Said(model, answer, reasons).wrong()


def told_of(asked):
    """The model of a question, its answer and its reasons; None where none are told."""
    try:
        model = Model(asked)
    except UnaskedError:
        return None
    with tempfile.TemporaryDirectory() as folder:
        scenario, catalogue = read(asked, write(asked, Path(folder)))
        answer = formulate(scenario, catalogue)
        if answer.status == "clash":
            return None
        reasons = why(scenario, catalogue)
    if mismelted(model, answer):
        return None  # not a matter of words
    if answer.steps is not None and asked.chooses:
        return None  # what is chosen without steps is not shown
    return model, answer, reasons


def _digits(text, figures=4):
    """Half of the last digit of a number that is shown in so many figures."""
    size = abs(float(text))
    return 0.51 * 10.0 ** (math.floor(math.log10(size)) - figures + 1 if size else -9)


def _cents(text):
    """Half of the last digit of money."""
    return 0.51 * 10.0 ** -len(text.partition(".")[2])


class _Said:
    """The pages of one answer."""

    def __init__(self, model, answer, reasons):
        self.model, self.answer = model, answer
        aims = zip(told_aims(answer), model.asked.aims, strict=True)
        self.tops = [v + s + 1e-10 * max(1.0, abs(v)) for (_, v, _), (_, s) in aims]
        self.kept, self.here = _kept_choices(model, answer, self.tops)
        self.names = [name for name, _ in model.asked.aims]
        self.lines = {line.rule.id: line for line in answer.rules}
        self.sections = {
            each.title: each.blocks for each in answer_page(answer, full=True).sections
        }
        self.why = {
            each.title: each.blocks for each in why_page(reasons, full=True).sections
        }
        self.found, self.exact = [], False

    def wrong(self):
        for block in self.sections["What holds the formula where it is"]:
            self._tried(self._holding, block.text, getattr(block, "under", ()))
        for head in ("What each rule costs as its limit moves", "What is pinned"):
            for block in self.why.get(head, ()):
                if block.under:
                    self._tried(self._curve, block.text, block.under)
        for block in self.sections.get("With room to spare", ()):
            self._free(block.text)
        for block in self.why.get("Ingredients that are in", ()):
            self._staying(block.text)
        for block in self.why.get("Ingredients that are out, nearest first", ()):
            self._out(block.text)
        for block in self.why.get("Other formulas", ()):
            if block.text == "No clearly different formula does exactly as well.":
                self._alone()
        return self.found

    def _say(self, kind, where, text, said):
        self.found.append(Found(kind, f"{where}: '{text}', but {said}"))

    def _tried(self, asks, *block):
        """Ask of a block whether it holds; what does not, in exact arithmetic too."""
        before = len(self.found)
        asks(*block)
        if len(self.found) > before and not self.exact:
            floats, self.exact = (self.here, self.tops), True
            del self.found[before:]
            moves = self._moves(next(iter(self.lines.values()))).exactly()
            self.here, self.tops = moves.here, moves.tops
            asks(*block)
            (self.here, self.tops), self.exact = floats, False

    # -- rules that hold -----------------------------------------------------------

    def _holding(self, text, under):
        if text.startswith("Met exactly; "):
            told, names = text.removeprefix("Met exactly; ").split(": ", 1)
            for nothing in ("nothing would fit", "nothing near this formula would fit"):
                if names.startswith(
                    (nothing, f"with the chosen ingredients {nothing}")
                ):
                    told, names = f"{told}: {nothing}", names.split(": ", 1)[1]
            for line in self._named(names):
                self._idle(line, told)
        elif text.startswith(KEPT) or not under:
            return
        else:
            lines = [
                line
                for line in self.lines.values()
                if text.startswith(line.rule.sentence) and line.binding
            ]
            told = [self._clauses(line, under[0]) for line in lines]
            if lines and all(told):  # one of the rules of that sentence has it right
                self.found += told[0]

    def _named(self, names):
        """The binding rules of a list of sentences."""
        listed = f"; {names}; "
        return [
            line
            for line in self.lines.values()
            if line.binding and f"; {line.rule.sentence}; " in listed
        ]

    def _clauses(self, line, text):
        """What is wrong with the prices of one rule."""
        before, self.found = self.found, []
        for clause in text.split("; "):
            self._clause(line, clause)
        found, self.found = self.found, before
        return found

    def _clause(self, line, text):
        where = line.rule.id
        stuck = re.match(r"it cannot be (\w+): ", text)
        if stuck:
            self._stuck(line, DONE[stuck[1]], text)
        elif text.endswith(" it a little changes nothing"):
            self._still(line, text.split()[0], text)
        elif text.endswith("is a jump to another formula"):
            return
        else:
            moving = re.match(
                rf"(?:(\w+ing) )?(?:by {NUMBER}(?: [^ ]+(?: [^ ]+)*?)? )?"
                rf"(saves|costs|takes|adds) (less than )?{NUMBER} (.*)$",
                text,
            ) or re.match(
                rf"each (?:{NUMBER} ?)?(?:[^ ]+)? ?that it (?:keeps out|asks for)"
                rf" (saves|costs|takes|adds) (less than )?{NUMBER} (.*)$",
                text,
            )
            if moving is None:
                self._say("unread", where, text, "nobody knows what it means")
            elif moving.re.groups == 6:
                self._priced(line, moving, text)
            else:
                step, verb, less, size, rest = moving.groups()
                gains = verb in {"costs", "adds"}  # what keeping it costs, easing saves
                self._moved(
                    line, "easing", float(step or 1), gains, less, size, rest, text
                )

    def _priced(self, line, moving, text):
        act, step, verb, less, size, rest = moving.groups()
        each = re.search(rf" for each (?:{NUMBER} )?(\S+)", rest)
        by = float(each[1] or 1) if each else float(step)
        gains = verb in {"saves", "takes"}
        self._moved(line, act, by, gains, less, size, rest, text, each=each is not None)

    def _moved(self, line, act, by, gains, less, size, rest, text, *, each=True):
        """A price for a step, or for each so many points, and how far it holds."""
        told = -float(size) if gains else float(size)
        # Half of the last digit shown.
        off = _cents(size) if "EUR" in rest else _digits(size, 3)
        rule = line.rule
        scale = max(1.0, abs(rule.limit))
        direction = self._direction(rule, act)
        until = re.search(rf", (?:up|down) to {NUMBER}", rest)
        far = ", however far" in rest
        room = math.inf
        if until:
            room = abs(float(until[1]) - rule.limit)
        elif not far:  # only to begin with, or as nobody said
            room = 0.0
        step = by
        if each or room < by:
            step = min(by, 0.5 * room) if room else BEND * scale
            step = min(step, 1e-2 * scale) if each else step
        if step < BEND * scale:
            return
        part = step / by
        where = f"{rule.id} from {rule.limit:g}"
        aim = next((a for words, a in AIMS.items() if words in rest), "cost")
        # Where rules of the second opinion begin to hold, little changes.
        drifts = self._bent(rule) or any(
            each.moves_with for each in self.model.rules.values()
        )
        curved = CURVED if drifts else 1e-3
        self._by(line, direction * step, aim, told * part, part, off, less, text, where)
        if self.found or not until or room <= 2.0 * step:
            return
        # Straight to where it is said to hold, less what rounding took.
        digits = _digits(until[1])
        if 0.99 * room - digits <= step:  # too near to be told apart from here
            return
        near = self._aim(line, aim, direction * step)
        end = self._aim(line, aim, direction * (0.99 * room - digits))
        if near is None or end is None:
            self._say("until", where, text, "nothing fits on the way")
            return
        here = self.here[self.names.index(aim)]
        slope, mean = (near - here) / step, (end - here) / (0.99 * room - digits)
        noise = (1e-6 + 1e-7 * abs(here)) / step
        if abs(slope - mean) > noise + curved * max(abs(slope), abs(mean)):
            said = f"{slope:g} a unit at first, {mean:g} up to there"
            self._say("until", where, text, said)

    def _by(self, line, move, aim, told, part, off, less, text, where):
        value = self._aim(line, aim, move)
        if value is None:
            if "only to begin with" not in text:
                self._say("price", where, text, f"moved by {move:g} nothing fits")
            return
        change = value - self.here[self.names.index(aim)]
        noise = 1e-6 + 1e-7 * abs(value)
        curved = 0.05 if self._bent(line.rule) else 1e-3
        if less:
            if abs(change) > 0.01 * part + noise or change * told < -noise:
                self._say("price", where, text, f"by {move:g} it is {change:g}")
        elif abs(change - told) > off * part * 1.01 + noise + curved * abs(told):
            place = self.names.index(aim)
            if not self._moves(line).bends_at_once(move, place, told):
                self._say("price", where, text, f"moved by {move:g} it is {change:g}")

    def _bent(self, rule):
        mine = self.model.rules[rule.id]
        return mine.log or mine.below.any()

    def _direction(self, rule, act):
        if act in {"lowering", "raising"}:
            return float(WAYS[act])
        easing = 1.0 if rule.side == "max" else -1.0
        return easing if act == "easing" else -easing

    def _moves(self, line):
        moves = _Moves(self.model, self.kept, self.here, self.tops, line)
        return replaced(moves, exact=self.exact)

    def _aim(self, line, aim, move):
        """An aim with a limit moved; None where nothing fits."""
        after = self._moves(line).after(move)
        place = self.names.index(aim)
        if after is None:
            return None
        if len(after) <= place:  # an aim before it moves, or it cannot be held
            return math.nan
        return after[place]

    def _idle(self, line, told):
        for part in told.split("; "):
            if part == "moving them a little changes nothing":
                for act in self._acts(line.rule):
                    self._still(line, act, part)
            elif part.startswith("they cannot be "):
                done = part.removeprefix("they cannot be ").split(":")[0]
                for each in done.split(" or "):
                    self._stuck(line, DONE[each], part)
            elif part.endswith(" them a little changes nothing"):
                self._still(line, part.split()[0], part)
            else:
                self._say("unread", line.rule.id, part, "nobody knows what it means")

    def _acts(self, rule):
        exact = rule.side == "exact"
        return ("lowering", "raising") if exact else ("easing", "tightening")

    def _still(self, line, act, text):
        rule = line.rule
        step = 1e-5 * max(1.0, abs(rule.limit)) * self._direction(rule, act)
        if rule.unit == "%" and not 0.0 <= rule.limit + step <= 100.0:
            return
        if rule.limit == 0.0 and step < 0.0:  # less than nothing is no limit
            return
        if act == "easing" and not rule.may_ease:
            return
        moves = self._moves(line)
        after = moves.after(step)
        if after is None or moves.moves(after):
            step *= 0.1  # its other side, or a bend, may be nearer than a little
            after = self._moves(line).after(step)
        if after is None:
            self._say("still", rule.id, text, f"{act} it by {step:g} nothing fits")
            return
        for now, before, name in zip(after, self.here, self.names, strict=False):
            if abs(now - before) > STILL + STILL * abs(before):
                said = f"{act} it by {step:g} moves {name} by {float(now - before):g}"
                self._say("still", rule.id, text, said)

    def _stuck(self, line, act, text):
        rule = line.rule
        step = LITTLE * max(1.0, abs(rule.limit)) * self._direction(rule, act)
        after = self._moves(line).after(step)
        if after is not None:
            said = f"{act} it by {step:g} leaves {after}"
            self._say("stuck", rule.id, text, said)

    def _free(self, text):
        if "easing any of them would change nothing" not in text:
            return
        free = [
            name
            for name, line in self.lines.items()
            if not line.binding and line.value is not None
        ]
        best = self.model.best(without=free)
        if abs(best[0][0] - self.here[0]) > STILL * max(1.0, abs(self.here[0])):
            self._say("free", "rules with room", text, f"without them {best[0][0]}")

    # -- curves --------------------------------------------------------------------

    def _curve(self, text, under):
        name = re.search(r"  \[(.*)\]$", text)[1]
        line = self.lines[name]
        for told in under:
            way, steps = told.split(": ", 1)
            direction = -1.0 if way == "down" else 1.0
            first = steps.split("; from there on ")[0]
            self._walk(line, direction, first)

    def _walk(self, line, direction, text):
        rule, limit, off = line.rule, line.rule.limit, 0.0
        scale = max(1.0, abs(limit))
        where = f"{rule.id} from {limit:g}"
        last = None
        for part in text.split("; "):
            point = re.match(rf"{NUMBER}[^:]*: (.*?) \((.*)\)$", part)
            flat = re.match(rf"nothing changes as far as {NUMBER}", part)
            if point:
                limit = float(point[1])
                off = _digits(point[1])
                last = self._stands(line, limit, off, point[2], part, where)
            elif flat:
                limit = float(flat[1])
                off = _digits(flat[1])
                near = limit - line.rule.limit - direction * (off + LITTLE * scale)
                if near * direction > 0.0:
                    self._unmoved(line, near, part, where)
            elif part == "no formula beyond":
                step = off + LITTLE * scale
                after = self._moves(line).after(limit + direction * step - rule.limit)
                if after is not None:
                    said = f"at {limit + direction * step:g} there is {after}"
                    self._say("edge", where, text, said)
            elif part == "nothing more changes" and last is not None:
                far = self._meant(rule, limit + direction * FAR * scale)
                aim, least, most = last
                now = self._aim(line, aim, far - rule.limit)
                near = 1e-4 * max(1.0, abs(most))
                if now is None or not least - near <= now <= most + near:
                    self._say("end", where, text, f"at {far:g} it is {now}")
            elif part == "nothing changes":
                self._unmoved(line, direction * 1e-3 * scale, part, where)

    def _meant(self, rule, limit):
        """A limit, or the last before it that a share can have."""
        if rule.unit != "%" or (self.model.rules[rule.id].above < 0.0).any():
            return limit
        return min(max(limit, 0.0), 100.0 if rule.side == "exact" else math.inf)

    def _stands(self, line, limit, off, told, text, where):
        """The aim and its value at a limit, which must be the one told."""
        value = re.search(rf"{NUMBER} [^ ]+$", told)[1]
        named = [n for n in self.names if n != "cost" and told.startswith(f"{n} ")]
        aim = named[0] if named else "cost"
        place = self.names.index(aim)
        move = limit - line.rule.limit
        moves, ends, edge = self._moves(line), [], None
        every = np.linspace(-off, off, PLACES)  # somewhere within the digits shown
        known = [moves.told(move + by, place) for by in every]
        for (by, now), (other, then) in pairwise(zip(every, known, strict=True)):
            if (now is None) != (then is None):
                edge = (by, other) if then is None else (other, by)
        ends = [each for each in known if each is not None]
        if edge is not None:  # a price may be steep just before it
            ends += self._up_to(moves, move, edge, place)
        if not ends:
            if not self._near_an_edge(line, move, off):
                self._say("step", where, text, "nothing fits there")
            return None
        digits = _cents(value) if aim == "cost" else _digits(value)
        # A limit just beyond the edge counts too, and what it would come to there.
        steep = abs((max(ends) - self.here[place]) / (move or 1.0))
        wide = digits + 2e-3 * abs(max(ends) - self.here[place])
        wide += 0.0 if len(ends) == PLACES else max(ends) - min(ends) + off * steep
        if not min(ends) - wide <= float(value) <= max(ends) + wide:
            self._say("step", where, text, f"{aim} is {ends} there")
        return aim, min(ends), max(ends)

    def _up_to(self, moves, move, edge, place):
        """An aim on the way to an edge, and as near to it as can be told."""
        (inside, outside), found = edge, []
        for _ in range(20):
            middle = (inside + outside) / 2.0
            now = moves.told(move + middle, place)
            inside, outside = (inside, middle) if now is None else (middle, outside)
            found += [] if now is None else [now]
        return found

    def _near_an_edge(self, line, move, off):
        by = math.copysign(off + LITTLE * max(1.0, abs(line.rule.limit)), -move)
        return self._moves(line).after(move + by) is not None

    def _unmoved(self, line, move, text, where):
        after = self._moves(line).after(move)
        limit = line.rule.limit + move
        if line.rule.unit == "%" and not 0.0 <= limit <= 100.0:
            return
        if after is None:
            self._say("end", where, text, f"moved by {move:g} nothing fits")
            return
        for now, before, name in zip(after, self.here, self.names, strict=False):
            if abs(now - before) > 1e-5 + 1e-5 * abs(before):
                self._say("end", where, text, f"by {move:g} {name} goes to {now:g}")

    # -- prices of ingredients -----------------------------------------------------

    def _key(self, text):
        name = re.split(r"[,:]", text)[0]
        return next(
            key for key in self.model.keys if self.model.known[key].name == name
        )

    def _between(self, key, price):
        column = self.model.at["amount"][self.model.keys.index(key)]
        return self.model.between(column, price)

    def _staying(self, text):
        key = self._key(text)
        percent = float(re.match(rf"[^,]*, {NUMBER} %", text)[1])
        falls = re.search(rf"falls to {NUMBER} % above {NUMBER} ", text)
        leaves = re.search(rf"leaves above {NUMBER} ", text)
        price = min((p + f) / kg for kg, p, f in self.model.known[key].packs)
        digits = 0.0051
        if falls:
            left, above = float(falls[1]), float(falls[2])
            digits += NEARLY * above
            if self._between(key, above + digits)[0] > left * 1.006 + 2.0 * SEEN:
                self._say("falls", key, text, f"above {above} it stays")
            under = max(price, above - digits)
            if self._between(key, under)[1] < percent * 0.994 - 1.1 * SEEN:
                self._say("falls", key, text, "it falls sooner")
        if leaves:
            above = float(leaves[1])
            digits += NEARLY * above
            least = self._between(key, above + digits)[0]
            if least > TRACE:
                self._say("leaves", key, text, f"above it there is {least}")
            most = self._between(key, max(price, above - digits))[1]
            if most < IN / 2.0:
                self._say("leaves", key, text, "it is out before")
        elif "no price drives it out" in text:
            far = 90.0 * max(price, 0.1 * self.here[self.names.index("cost")])
            least, most = self._between(key, far)
            if most < IN / 2.0:
                self._say("leaves", key, text, f"at {far:g} it is out")

    def _out(self, text):
        key = self._key(text)
        comes = re.search(rf"comes in below {NUMBER} ", text)
        if comes:
            below = float(comes[1])
            digits = _cents(comes[1]) + NEARLY * below
            amount = re.search(rf", with {NUMBER} %", text)
            if below > digits and self._between(key, below - digits)[1] < IN:
                self._say("comes in", key, text, "cheaper it stays out")
            if self._between(key, below + digits)[0] > 2.0 * SEEN:
                self._say("comes in", key, text, "dearer it is in too")
            if amount:
                share = float(amount[1])
                near = self._between(key, max(0.0, below - digits))[1]
                if near < share * 0.994 - SEEN:
                    self._say("comes in", key, text, f"with {near} at most")
        elif "no price brings it in" in text:
            least = self._between(key, 0.004)[0]
            if least > 2.0 * SEEN:
                self._say("comes in", key, text, f"for nothing there is {least}")
        self._dose(key, text.split("; ")[-1])

    def _dose(self, key, text):
        """What a dose of an ingredient adds to the first aim that it makes worse."""
        dose = re.search(rf"{NUMBER} % of it", text)
        floor = {key: float(dose[1])}
        found, holds = [], []
        programme = self.model.programme()
        programme.lower[self.model.at["amount"][self.model.keys.index(key)]] = floor[
            key
        ]
        for goal, top in zip(self.model.goals, self.tops, strict=True):
            x = programme.least(goal, holds)
            if x is None:
                break
            found.append(float(goal @ x))
            holds.append((goal, max(top, found[-1]) + 1e-9 * max(1.0, abs(top))))
        if text.startswith("no formula"):
            if found:
                self._say("dose", key, text, f"with it aims are {found}")
            return
        if not found:
            self._say("dose", key, text, "no formula has it")
            return
        least = [v for _, v, _ in told_aims(self.answer)]
        moves = [now - then for now, then in zip(found, least, strict=False)]
        worse = [n for n, by in enumerate(moves) if by > 2e-6 + 1e-6 * abs(least[n])]
        if text.endswith(" costs nothing"):
            if worse:
                self._say("dose", key, text, f"it adds {moves}")
            return
        told = re.search(rf"adds {NUMBER} (.*)$", text)
        size, rest = float(told[1]), told[2]
        aim = next((n for n in self.names if rest.endswith(f" of {n}")), "cost")
        place = self.names.index(aim)
        digits = (_cents(told[1]) if aim == "cost" else _digits(told[1])) + 1e-5
        sooner = min(worse, default=place) < place or place >= len(moves)
        if sooner or abs(moves[place] - size) > digits + 1e-3 * abs(size):
            self._say("dose", key, text, f"it adds {moves}")

    # -- other formulas ------------------------------------------------------------

    def _alone(self):
        """No formula that does as well is more than five points off."""
        if self.answer.steps is not None:
            return
        here = _formula(self.answer)
        here = np.array([here.get(key, 0.0) for key in self.model.keys])
        programme = self.model.programme(used=self.kept[-1])
        # Not all of the room that is left to be on the safe side of.
        values = zip(self.model.goals, self.here, self.model.asked.aims, strict=True)
        holds = [
            (goal, v + slack + 1e-9 * max(1.0, abs(v)))
            for goal, v, (_, slack) in values
        ]
        for place in range(len(self.model.keys)):
            for sign in (1.0, -1.0):
                goal = np.zeros(self.model.size)
                goal[self.model.at["amount"][place]] = sign
                x = programme.least(goal, holds)
                if x is None:
                    return
                moved = 0.5 * np.abs(x[self.model.at["amount"]] - here).sum()
                if moved > 5.02:
                    name = self.model.keys[place]
                    self._say("ties", name, "no other", f"{moved:.2f} points are moved")
                    return
