"""The model of a specification, built a second time and solved by another library.

Nothing here comes from the program: rules are written down from what the scenario
file means (DEVELOPERS.md), as ratios of two sums over the columns, and SciPy solves.
"""

import math
from fractions import Fraction
from itertools import combinations

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from tests.random_scenarios.specification import (
    AUTHORITIES,
    PARTS,
    PROPERTIES,
    UNKNOWN,
    UNRELATED,
    counted,
    figure,
    is_whole,
    members,
    solid_fat,
    terms,
    window_id,
)

TRACE = 0.1  # what "at least two butters" counts as use, percent
HELD = (1e-9, 1e-8, 1e-7)  # room for rounding when an earlier aim is held
MINOR = ("preservative", "antioxidant", "scent", "colour")  # never fill anything up
HELD_TO_BASE = (*MINOR, UNKNOWN)  # and what nobody knows is not moved
MORE_WAX = 1.25  # times the base's, where no band asks for it
CEILINGS = {
    "exclude",
    "law",
    "habit",
    "share",
    "constituent",
    "limit",
    "supplier",
    "practice",
}
SAME = 1e-7  # aims of two sets of ingredients that are no different
TIGHT = {"primal_feasibility_tolerance": 1e-9, "dual_feasibility_tolerance": 1e-9}


SETTING = ("wax", "hard butter", "fatty alcohol")


def _firm(material):
    """What is known of how hard it is in a room; None where nothing is."""
    if material.category == "wax":
        return figure(material, "firmness")
    return solid_fat(material, 25.0)


def _adds(material):
    """What 1 % of a wax adds to firmness; None of what is none, or if not known."""
    known = material.figures.get(("wax firmness", None))
    return known[1] if known is not None and material.category == "wax" else None


def outward(limit, rounded):
    """A limit to 0.01, on the side where it leaves more room."""
    return rounded(round(limit * 100.0, 6)) / 100.0


def _decides(rule, least):
    """Whether a rule leaves none of what it is about, or no less than a dose of it."""
    on = rule.above[rule.above != 0.0]
    if rule.side == "max":
        return rule.limit == 0.0 and not rule.log and bool((on > 0.0).all())
    plain = not rule.below.any() and rule.constant == 1.0
    return plain and on.tolist() == [1.0] and rule.limit >= least


class UnaskedError(Exception):
    """A specification whose question cannot be put: nothing to choose from."""


class Statement(Struct, frozen=True, eq=False):
    """``above . x`` over ``constant + below . x`` has a least, greatest or exact limit.

    Where ``log``, the logarithm of the limit counts. Its limit moves with that of
    ``moves_with``, if any.
    """

    above: np.ndarray
    below: np.ndarray
    constant: float
    side: str
    limit: float
    log: bool = False
    moves_with: str | None = None

    def row(self, limit):
        """Coefficients and bounds of the straight form at a limit."""
        inner = math.log(limit) if self.log else limit
        bound = inner * self.constant
        low = bound if self.side != "max" else -np.inf
        high = bound if self.side != "min" else np.inf
        return self.above - inner * self.below, low, high

    def value(self, x):
        """The value at some amounts; None where it is about nothing."""
        below = self.constant + self.below @ x
        if abs(below) < 1e-9:
            return None
        value = self.above @ x / below
        return math.exp(value) if self.log else value


class Model:
    """Columns: amounts, used or not, moves up and down by both measures, bought."""

    def __init__(self, asked):
        self.asked = asked
        self.known = {each.key: each for each in asked.materials}
        self.keys = self._pool()
        if not self.keys:
            raise UnaskedError
        count = len(self.keys)
        self.groups = {
            by: list(dict.fromkeys(self.group(key, by) for key in self.keys))
            for by in ("category", "kind")
        }
        sizes = {"amount": count, "used": count, "bought": count}
        sizes |= {"up": count, "down": count}
        for by, groups in self.groups.items():
            sizes |= {f"{by} up": len(groups), f"{by} down": len(groups)}
        self.at, self.size = {}, 0
        for name, size in sizes.items():
            self.at[name] = np.arange(self.size, self.size + size)
            self.size += size
        self.counted = set()  # ingredients of which it matters whether they are used
        self.dosed = set()  # those of which a trace does not count as used
        self.rules = {}
        self.eased = dict(asked.eased)
        self._write()
        self.rules = {
            name: each if name not in self.eased else self._to(name, each)
            for name, each in self.rules.items()
            if self.eased.get(name, each.limit) is not None
        }
        self.goals = [self._goal(name) for name, _ in asked.aims]

    def _to(self, name, each):
        """A rule with the limit that it is eased to, if it is."""
        return replace(each, limit=self.eased.get(name, each.limit))

    def group(self, key, by):
        """What an ingredient belongs to; one of no kind is like nothing else."""
        each = self.known[key]
        if by == "category":
            return each.category
        if by == "ingredient":
            return key
        return (each.category, each.kind) if each.kind else key

    # -- what may be chosen --------------------------------------------------------

    def _pool(self):
        asked = self.asked
        named = {*asked.base, *(key for key, _ in asked.pins)}
        named |= {each.what for each in asked.limits if each.low}
        let_in = set(asked.let_in)
        wanted = named | let_in | {each.what for each in asked.limits}
        spoken = {self.known[key].category for key in named}
        for name in [
            *(band.what for band in asked.bands),
            *(what for what, _, _ in asked.choices if what != "all"),
        ]:
            spoken |= self._categories(name)
        if not spoken:
            spoken = {each.category for each in asked.materials}
        priced = any(name == "cost" for name, _ in asked.aims)
        pool = []
        for each in asked.materials:
            if asked.only:
                considered = each.key in named | let_in or each.key in asked.only
            else:
                considered = each.key in wanted or each.category in spoken
            lacks = (priced and not each.packs) or any(
                each.key in counted(asked, window) and figure(each, window.what) is None
                for window in asked.windows
            )
            if considered and not lacks and not self._unjudged(each):
                pool.append(each.key)
        return pool

    def _unjudged(self, each):
        """Whether it would set a bar nobody knows how hard, with no window on that."""
        asked = self.asked
        named = {b.what for b in (*asked.limits, *asked.bands)}
        named |= {*asked.base, *asked.let_in, *(key for key, _ in asked.pins)}
        if each.category not in SETTING or each.key in named or _firm(each) is not None:
            return False
        if any(window.what == "firmness" for window in asked.windows):
            return False
        shares = {}
        for key, share in asked.base.items():
            category = self.known[key].category
            shares[category] = shares.get(category, 0.0) + share
        set_by = sum(shares.get(category, 0.0) for category in SETTING)
        own = [self.known[key] for key in asked.base]
        return (
            set_by >= 2.0
            and shares.get("water", 0.0) < 10.0
            and any(x.category in SETTING and _firm(x) is not None for x in own)
        )

    def _categories(self, name):
        """Categories that a category or a part speaks of."""
        inside = self.asked.parts.get(name)
        if inside is None:
            return set(PARTS.get(name, (name,)))
        return {self.known[each].category for each in inside}

    # -- rules ---------------------------------------------------------------------

    def vector(self, values, columns="amount"):
        """One number a column from numbers by ingredient."""
        made = np.zeros(self.size)
        for key, value in values.items():
            if key in self.keys:
                made[self.at[columns][self.keys.index(key)]] += value
        return made

    def ones(self, keys, columns="amount"):
        """One for each of some ingredients."""
        return self.vector(dict.fromkeys(keys, 1.0), columns)

    def add(self, name, side, limit, above, *, below=None, constant=None, log=False):
        """Write a rule down; the second of a name is number two."""
        if limit is None:
            return
        nothing = np.zeros(self.size)
        constant = (1.0 if below is None else 0.0) if constant is None else constant
        below = nothing if below is None else below
        number, told = 2, name
        while told in self.rules:
            told, number = f"{name} ({number})", number + 1
        self.rules[told] = Statement(above, below, constant, side, float(limit), log)

    def share(self, kind, name, keys, sides, of):
        """A share of the product, or of a part of it."""
        above, below = self.ones(keys), None
        if of != "product":
            above, below = 100.0 * above, self.ones(members(self.asked, of))
        for side, limit in zip(("min", "max"), sides, strict=True):
            self.add(f"{kind}/{name}/{side}", side, limit, above, below=below)

    def _write(self):
        asked = self.asked
        self.add("total", "exact", 100.0, self.ones(self.keys))
        for each in asked.bands:
            keys = members(asked, each.what)
            self.share("band", each.what, keys, (each.low, each.high), each.of)
        self._single()
        self._law()
        for each in asked.windows:
            self._window(each)
        waxes = [k for k in self.keys if self.known[k].category == "wax"]
        if asked.wax_guard is not None and waxes:
            sides = None, asked.wax_guard
            self.share("guard", "waxes together", waxes, sides, "lipids")
        self._waxes()
        self._ratios()
        self._exclusions()
        self._choices()
        if asked.stock_only:
            self._stock()
        for by, points in asked.closeness:
            self.add(f"closeness/by {by}", "max", points, self.distance(by))
        if asked.base:
            self._minors()
        self._working_doses()

    def _single(self):
        """Limits on single ingredients: the maker's own, pins, suppliers', practice."""
        asked = self.asked
        for each in asked.limits:
            name = self.known[each.what].name
            self.share("limit", name, [each.what], (each.low, each.high), each.of)
        for key, percent in asked.pins:
            name = f"pin/{self.known[key].name}"
            self.add(name, "exact", percent, self.ones([key]))
        self._least_doses()
        for key in self.keys:
            material = self.known[key]
            for whose, use, cap, of in material.caps:
                if cap < 100.0 and use in ("any", asked.use):
                    self.share(whose, material.name, [key], (None, cap), of)
            for cap in self._told(material):
                if cap < 100.0:
                    self.share("practice", material.name, [key], (None, cap), "product")

    def _told(self, material):
        """Opinions given where it is sold, and assumed habits of small doses."""
        for market, use, cap in material.opinions:
            if market in self.asked.markets and use in ("any", self.asked.use):
                yield cap
        for use, cap in material.habits:
            if material.category in MINOR and use in ("any", self.asked.use):
                yield cap

    def _waxes(self):
        """Waxes stay as strong as in the base where no window holds the firmness."""
        asked = self.asked
        own = {
            key: share
            for key, share in asked.base.items()
            if share and self.known[key].category == "wax"
        }
        strong = {key: _adds(self.known[key]) for key in {*self.keys, *own}}
        told = {key: share for key, share in own.items() if strong[key]}
        held = any(window.what == "firmness" for window in asked.windows)
        if held or not told or not self._sets_by_itself():
            return
        most = max(told, key=told.__getitem__)
        here = [key for key in self.keys if self.known[key].category == "wax"]
        times = {k: strong[k] / strong[most] for k in here if strong[k]}
        amount = math.fsum(told.values())
        unknown = math.fsum(own.values()) - amount
        as_one = math.fsum(x * strong[k] for k, x in told.items()) / strong[most]
        low, high = 0.0, as_one * MORE_WAX
        for band in asked.bands:
            if (band.what, band.of) == ("wax", "product"):
                low = max(0.0, (band.low or 0.0) - unknown) * as_one / amount
                high = (100.0 if band.high is None else band.high) * as_one / amount
        name = f"guard/wax counted as {self.known[most].name}"
        if any(each != 1.0 for each in times.values()):
            row = self.vector(times)
            if low:
                self.add(f"{name}/min", "min", outward(low, math.floor), row)
            most = outward(min(100.0, high), math.ceil)
            self.add(f"{name}/max", "max", most, row)
        strangers = [key for key in here if not strong[key]]
        if strangers:
            limit = round(unknown, 6)
            name = "guard/wax of unknown strength"
            self.add(name, "max", limit, self.ones(strangers))

    def _sets_by_itself(self):
        """Whether the base is a balm or a bar, by what is in it."""
        shares = {}
        for key, share in self.asked.base.items():
            category = self.known[key].category
            shares[category] = shares.get(category, 0.0) + share
        set_by = math.fsum(shares.get(category, 0.0) for category in SETTING)
        return set_by >= 2.0 and shares.get("water", 0.0) < 10.0

    def dose(self, key):
        """The supplier's least dose of a preservative, percent; 0 for none."""
        material = self.known[key]
        if material.category != "preservative":
            return 0.0
        uses = ("any", self.asked.use)
        return max((n for use, n in material.doses if use in uses), default=0.0)

    def _far(self, key):
        """Whether nothing like what the base has not may come in at all."""
        base = self.asked.base
        for by, points in self.asked.closeness:
            group = self.group(key, by)
            own = any(base[k] and self.group(k, by) == group for k in base)
            if self.eased.get(f"closeness/by {by}", points) == 0.0 and not own:
                return True
        return False

    def _working_doses(self):
        """A preservative comes in as its supplier asks for, or not at all."""
        for key in self.keys:
            least = self.dose(key)
            column = self.at["amount"][self.keys.index(key)]
            about = [
                self._to(name, each)
                for name, each in self.rules.items()
                if each.above[column] and self.eased.get(name, 0.0) is not None
            ]
            if not least or any(_decides(each, least) for each in about):
                continue
            if self._far(key):
                continue
            self.counted.add(key)
            name, flag = (
                f"supplier/{self.known[key].name}/least",
                self.ones([key], "used"),
            )
            self.add(name, "min", least, self.ones([key]), below=flag)

    def _ratios(self):
        for each in self.asked.ratios:
            first, second = (
                self.ones({k for name in names for k in members(self.asked, name)})
                for names in (each.first, each.second)
            )
            for side, limit in (("min", each.low), ("max", each.high)):
                name = f"ratio/{each.name}/{side}"
                self.add(name, side, limit, first, below=second)

    def _choices(self):
        for what, least, most in self.asked.choices:
            keys = self.keys if what == "all" else members(self.asked, what)
            keys = [key for key in keys if key in self.keys]
            self.counted |= set(keys)
            if least is not None:
                self.dosed |= set(keys)
            flags = self.ones(keys, "used")
            for side, limit in (("min", least), ("max", most)):
                self.add(f"choice/{what}/{side}", side, limit, flags)

    def _least_doses(self):
        doses = dict(self.asked.least)
        self.least = {
            key: doses.get(key) or self._usual(key, doses["default"])
            for key in self.keys
            if key in doses or ("default" in doses and not self._written(key, doses))
        }
        for key, dose in self.least.items():
            self.counted.add(key)
            name = f"least/{self.known[key].name}"
            flag = self.ones([key], "used")
            self.add(name, "min", dose, self.ones([key]), below=flag)

    def _usual(self, key, dose):
        """The default; no more than may be used, or than the base has of a minor."""
        material = self.known[key]
        caps = [
            cap
            for _, use, cap, of in material.caps
            if of == "product" and use in ("any", self.asked.use)
        ]
        dose = min([dose, *filter(None, (*caps, *self._told(material)))])
        if material.category in MINOR:
            category = material.category
            alike = [
                share
                for each, share in self.asked.base.items()
                if self.known[each].category == category
            ]
            dose = min([dose, *([sum(alike)] if any(alike) else [])])
        return dose

    def _written(self, key, doses):
        """Whether the base itself holds less of something minor than the default."""
        minor = self.known[key].category in MINOR
        return minor and 0.0 < self.asked.base.get(key, 0.0) < doses["default"]

    def _minors(self):
        """What fills nothing up: minor categories stay as in the base (decision 45)."""
        base, amounts = self.asked.base, self.at["amount"]
        minor = {key for key in self.keys if self.known[key].category in HELD_TO_BASE}
        free = self._free(minor)
        held = minor - free - set(self.asked.let_in)
        excluded = np.zeros(self.size, bool)
        for name, each in self.rules.items():
            if name.startswith("exclude/") and self.eased.get(name, 0.0) == 0.0:
                excluded |= each.above != 0.0
        kept = {
            key: base[key]
            for key, column in zip(self.keys, amounts, strict=True)
            if key in held and base.get(key, 0.0) > 0.0 and not excluded[column]
        }
        places = list(self._places(minor - free, excluded))
        shares = self.vector(kept)
        for _, keys, share in places:
            shares += share * self.ones(keys)
        most = self._allowed(shares)
        for key, share in kept.items():
            name = f"minor/{self.known[key].name}"
            allowed = most[amounts[self.keys.index(key)]]
            if allowed >= share:
                self.add(name, "exact", max(share, self.dose(key)), self.ones([key]))
                continue
            allowed = self._down(allowed, [key])
            if allowed > 0.0:
                self.add(f"{name}/min", "min", allowed, self.ones([key]))
            self.add(f"{name}/max", "max", share, self.ones([key]))
        for category, keys, share in places:
            self._in_the_place(category, keys, share, most)
        for category in HELD_TO_BASE:
            new = [
                key
                for key in held
                if self.known[key].category == category and not base.get(key)
            ]
            if new:
                self.add(f"minor/other {category}", "max", 0.0, self.ones(new))

    def _allowed(self, shares):
        """How much of some shares every other limit allows, each the same part."""
        most = shares.copy()
        pinned = self.vector(dict(self.asked.pins))
        for name, each in list(self.rules.items()):
            if name.split("/")[0] not in CEILINGS or each.side != "max":
                continue
            if self.eased.get(name, 0.0) is None:
                continue
            each = self._to(name, each)  # noqa: PLW2901 - as it counts
            if each.below.any() or (each.above < 0.0).any():
                continue
            room = each.limit * each.constant - each.above @ pinned
            wanted = each.above @ shares
            if wanted > 0.0 and wanted > room * (1.0 + 1e-9):
                less = np.where(each.above > 0.0, max(0.0, room) / wanted, 1.0)
                most = np.minimum(most, less * shares)
        return most

    def _down(self, amount, keys):
        """An amount in whole steps of some ingredients, no more; as it is without."""
        if not self.asked.steps:
            return amount
        step = max(map(self.asked.step, keys))
        return math.floor(amount / step + 1e-9) * step

    def _places(self, minor, excluded):
        """What is let in where some of a category has to leave, and the share of it."""
        base = self.asked.base
        out = {
            k for k, n in zip(self.keys, self.at["amount"], strict=True) if excluded[n]
        }
        for category in MINOR:
            alike = [k for k in self.keys if self.known[k].category == category]
            new = [k for k in alike if k in minor and k in self.asked.let_in]
            new = [k for k in new if k not in out and not base.get(k)]
            gone = [k for k in alike if k in out and base.get(k)]
            if new and gone:
                yield category, new, math.fsum(base[k] for k in gone)

    def _in_the_place(self, category, keys, share, most):
        """What is let in takes the place of what leaves, as far as that is allowed."""
        row = self.ones(keys)
        room = math.fsum(most[self.at["amount"][self.keys.index(k)]] for k in keys)
        allowed, least = min(share, room), min(map(self.dose, keys))
        name = f"minor/{self.known[keys[0]].name if len(keys) == 1 else category}"
        if len(keys) == 1 and allowed >= share:
            self.add(name, "exact", max(share, least), row)
            return
        low, high = self._down(allowed, keys), share
        if self.asked.steps and len(keys) > 1:
            step = max(map(self.asked.step, keys))
            high = math.ceil(share / step - 1e-9) * step
        if low > 0.0:
            self.add(f"{name}/min", "min", low, row)
        self.add(f"{name}/max", "max", max(high, least), row)

    def _free(self, minor):
        """Minor ingredients that the maker speaks of, with nothing else beside them."""
        # How many in all says nothing of any of them.
        named = [what for what, _, _ in self.asked.choices if what != "all"]
        named += [what for what, _ in self.asked.least if what != "default"]
        spoken = [
            {
                key
                for key in self.keys
                if what == "all" or key in members(self.asked, what)
            }
            for what in named
        ]
        for name, each in self.rules.items():
            kind = name.split("/")[0]
            least = kind in {"limit", "constituent"} and each.side == "min"
            if kind in {"pin", "band", "ratio"} or least:
                about = (each.above + each.below)[self.at["amount"]] != 0.0
                spoken.append(
                    {key for key, on in zip(self.keys, about, strict=True) if on}
                )
        return {key for keys in spoken if keys <= minor for key in keys}

    def content(self, factors, end=2):
        """Percent of the product for each percent of the ingredients."""
        return self.vector(
            {
                key: math.fsum(
                    factor * self.known[key].contents[name][end] / 100.0
                    for name, factor in factors.items()
                    if name in self.known[key].contents
                )
                for key in self.keys
            }
        )

    def _law(self):
        asked = self.asked
        rows = sorted(asked.law, key=lambda row: row.table == "restricted")
        factors = {}  # of a name: those of all its rows, the last said
        for row in asked.law:
            factors[row.name] = factors.get(row.name, {}) | row.factors
        lowest = {}  # of each market and name: the others say less
        for row in filter(self._applies, rows):
            known = lowest.get((row.market, row.name), row)
            lowest[row.market, row.name] = min(known, row, key=lambda each: each.high)
        for row in lowest.values():
            counted = self.content(factors[row.name] or {row.name: 1.0})
            if counted.any():
                # Of no market in particular: a habit of the trade.
                name = f"law/{row.market}/{row.name}/max"
                if row.market == "any":
                    name = f"habit/{row.name}/max"
                self.add(name, "max", row.high, counted)
        for row in asked.shared:
            counted = self.content({name: 1.0 / cap for name, cap in row.caps.items()})
            if self._applies(row) and counted.any():
                self.add(f"share/{row.group}", "max", 1.0, counted)
        for each in asked.constituents:
            for side, limit, end in (("min", each.low, 0), ("max", each.high, 2)):
                content = self.content({each.what: 1.0}, end)
                self.add(f"constituent/{each.what}/{side}", side, limit, content)

    def _applies(self, row):
        here = row.market == "any" or row.market in self.asked.markets
        return here and row.use in ("any", self.asked.use)

    def _window(self, window):
        mixing, careful = PROPERTIES[window.what][1], self.asked.cautious
        for side, limit in (("min", window.low), ("max", window.high)):
            above, below = {}, {}
            for key in counted(self.asked, window):
                if key not in self.keys:
                    continue
                material = self.known[key]
                above[key], below[key] = terms(material, window.what, side, careful)
            whole = is_whole(window)
            self.add(
                window_id(self.asked, window, side),
                side,
                limit,
                self.vector(above),
                below=None if whole else self.vector(below),
                constant=100.0 if whole else 0.0,
                log=mixing == "log",
            )

    def _exclusions(self):
        asked = self.asked

        def none(name, keys):
            self.add(f"exclude/{name}", "max", 0.0, self.ones(keys))

        for allergen in asked.without_allergens:
            none(allergen, [key for key in self.keys if self._may_hold(key, allergen)])
            if asked.base and asked.reading == "listed":
                near = self.ones(filter(lambda k: self._near(k, allergen), self.keys))
                self.add(f"near/{allergen}", "max", 0.0, near)
        if asked.vegan:
            none("vegan", [k for k in self.keys if self.known[k].vegan != "yes"])
        if asked.palm_free:
            none("palm", [k for k in self.keys if self.known[k].palm != "no"])
        for key in dict.fromkeys((*asked.without, *asked.gone)):
            none(self.known[key].name, [key])
        for category in asked.without_categories:
            none(category, members(asked, category))

    def _near(self, key, allergen):
        """Whether it is new, unasked for, and out by the cautious reading alone."""
        asked = self.asked
        least = {each.what for each in asked.limits if each.low is not None}
        if key in least | {*dict(asked.pins), *asked.base, *asked.let_in}:
            return False
        careful = self._may_hold(key, allergen, "cautious")
        return careful and not self._may_hold(key, allergen)

    def _may_hold(self, key, allergen, reading=None):
        """Whether an ingredient is kept out for an allergen; unknown is never no."""
        statuses = self.known[key].statuses
        if allergen not in statuses:
            return not statuses
        listed, flag = statuses[allergen]
        asked = [listed[each] for each in self.asked.markets] or [
            listed[each] for each in AUTHORITIES
        ]
        if (reading or self.asked.reading) == "listed":
            return not all(each is False for each in asked)
        if flag != UNRELATED or any(listed.values()):
            return True
        return all(each is None for each in asked)

    def shelf(self, key):
        """What of the batch the shelf has of an ingredient, percent."""
        return 100.0 * (math.fsum(self.known[key].lots) / self.asked.batch_kg)

    def _stock(self):
        for key in self.keys:
            if 0.0 < self.shelf(key) < 100.0:
                name = f"stock/{self.known[key].name}"
                self.add(name, "max", self.shelf(key), self.ones([key]))
        none = [key for key in self.keys if self.shelf(key) == 0.0]
        self.add("stock/nothing bought", "max", 0.0, self.ones(none))

    def distance(self, by):
        """Half the sum of moves up and down; of categories the moves up.

        There a wax counts by its strength, so that the two are not alike.
        """
        made = np.zeros(self.size)
        if by != "ingredient":
            made[self.at[f"{by} up"]] = 1.0
            return made
        for name in ("up", "down"):
            made[self.at[name]] = 0.5
        return made

    def _strong(self, key, by):
        """How often a wax counts as the one that the base has most of.

        One of a kind that the base has not counts as the strongest of all where
        another of the base's own kinds may come in; else it counts once.
        """
        base, each = self.asked.base, self.known[key]
        own = [k for k in base if base[k] > 0.0 and _adds(self.known[k])]
        if not own or each.category != "wax":
            return 1.0
        one = _adds(self.known[max(own, key=base.__getitem__)])
        held = {self.group(k, by) for k in base if base[k] > 0.0}
        mine = _adds(each)
        if self.group(key, by) not in held:
            waxes = (k for k in self.keys if self.known[k].category == "wax")
            alike = (k for k in waxes if self.group(k, by) in held)
            every = [_adds(x) or 0.0 for x in self.known.values()]
            mine = max(every) if set(alike) - base.keys() else None
        return 1.0 if mine is None else mine / one

    def _upward(self, row):
        """A row in which only moves upward count."""
        row = row.copy()
        for by in ("", *(f"{by} " for by in self.groups)):
            up, down = f"{by}up", f"{by}down"
            row[self.at[up]] += row[self.at[down]]
            row[self.at[down]] = 0.0
        return row

    def _goal(self, name):
        if name == "cost":
            return self.vector(
                {
                    key: min((p + f) / kg for kg, p, f in self.known[key].packs) / 100.0
                    for key in self.keys
                }
            )
        if name == "count":
            self.counted |= set(self.keys)
            return self.ones(self.keys, "used")
        if name == "bought":
            return self.ones(self.keys, "bought")
        return self.distance(name.removesuffix("change").strip() or "ingredient")

    def moved(self, name, limit):
        """The limits of a rule that is moved and of what moves with it, by name."""
        by, first = limit - self.rules[name].limit, self.rules[name].moves_with or name
        return {
            told: each.limit + by
            for told, each in self.rules.items()
            if first in {told, each.moves_with}
        }

    # -- solving -------------------------------------------------------------------

    def _definitions(self):
        """Rows that say what the helping columns are, and bounds of all columns."""
        rows, low, high = [], [], []

        def define(row, at_least, at_most):
            rows.append(row)
            low.append(at_least)
            high.append(at_most)

        for number, key in enumerate(self.keys):
            amount = self.ones([key])
            used, bought = self.ones([key], "used"), self.ones([key], "bought")
            if key in self.counted:
                define(amount - 100.0 * used, -np.inf, 0.0)
            if key in self.dosed:
                least = min(self.least.get(key) or TRACE, TRACE)
                define(amount - least * used, 0.0, np.inf)
            define(amount - bought, -np.inf, self.shelf(key))
            self._move(define, amount, ("up", "down"), number, {key: 1.0})
        for by, groups in self.groups.items():
            for number, group in enumerate(groups):
                alike = [key for key in self.known if self.group(key, by) == group]
                names = (f"{by} up", f"{by} down")
                times = {key: self._strong(key, by) for key in alike}
                self._move(define, self.vector(times), names, number, times)
        return np.array(rows), np.array(low), np.array(high)

    def _move(self, define, amount, names, number, times):
        own = self.asked.base
        base = math.fsum(own.get(key, 0.0) * each for key, each in times.items())
        for name, sign in zip(names, (1.0, -1.0), strict=True):
            row = sign * amount
            row[self.at[name][number]] = -1.0
            define(row, -np.inf, sign * base)

    def programme(self, *, without=(), moved=None, used=None):
        """Rows and bounds with rules left out, limits moved, and choices kept.

        ``used`` are the keys that count as used; None where that is to be found.
        """
        rows, low, high = self._definitions()
        told = [
            each.row((moved or {}).get(name, each.limit))
            for name, each in self.rules.items()
            if name not in without
        ]
        if "total" in without:  # moves up and down differ then: those up count
            told = [(self._upward(row), least, most) for row, least, most in told]
        rows = np.vstack([rows, *(row for row, _, _ in told)])
        low = np.concatenate([low, [each for _, each, _ in told]])
        high = np.concatenate([high, [each for _, _, each in told]])
        upper = np.full(self.size, np.inf)
        upper[self.at["amount"]] = 100.0
        upper[self.at["used"]] = 1.0
        lower = np.zeros(self.size)
        whole = np.zeros(self.size)
        for number, key in enumerate(self.keys):
            column = self.at["used"][number]
            if key in self.counted and used is None:
                whole[column] = 1
            elif used is not None:
                lower[column] = upper[column] = 1.0 if key in used else 0.0
        return Programme(rows, low, high, lower, upper, whole)

    def best(self, *, without=(), moved=None, used=None):
        """Each aim's least, in order, and the amounts; None where nothing fits."""
        for held in HELD:
            found = self._in_order(held, without, moved, used)
            if found is None or len(found[0]) == len(self.goals):
                return found
        raise ArithmeticError("an earlier aim could not be held")

    def _in_order(self, held, without, moved, used):
        """The same, cut short where rounding keeps an earlier aim from being held."""
        programme = self.programme(without=without, moved=moved, used=used)
        found, holds, x = [], [], None
        for number, goal in enumerate(self.goals):
            x = programme.least(goal, holds)
            if x is None:
                break
            value = float(goal @ x)
            if used is None and programme.whole.any():
                exact = self._exactly(x, number, holds, without, moved)
                value = value if exact is None else exact
            found.append(value)
            room = self.asked.aims[number][1] + held * max(1.0, abs(value))
            holds.append((goal, value + room))
        return (found, x) if found else None

    def _exactly(self, x, number, holds, without, moved):
        """An aim's least with the choices of a search kept, without its rounding."""
        used = {
            key
            for place, key in enumerate(self.keys)
            if x[self.at["used"][place]] > 0.5
        }
        kept = self.programme(without=without, moved=moved, used=used)
        found = kept.least(self.goals[number], holds)
        return None if found is None else float(self.goals[number] @ found)

    # -- in whole steps ------------------------------------------------------------

    def fixed(self, moved=None):
        """What a pin or the base fixes, percent by key: it has no step."""
        moved = moved or {}
        return {
            self.keys[int(np.flatnonzero(each.above)[0])]: moved.get(name, each.limit)
            for name, each in self.rules.items()
            if name.split("/")[0] in {"pin", "minor"} and each.side == "exact"
        }

    def finest(self, steps, moved=None):
        """The largest step of which every step, and what is fixed, is a multiple."""
        every = [*dict(steps).values(), *self.fixed(moved).values()]
        every = [Fraction(each).limit_denominator(10_000) for each in every]
        shared = math.lcm(*(each.denominator for each in every))
        return Fraction(math.gcd(*(int(each * shared) for each in every)), shared)

    def in_steps(self, asked, *, rest, moved=None):
        """The programme with whole numbers of steps as more columns, and the steps.

        With ``rest`` one ingredient may take what is left to 100: it is off its step
        by so many parts, each as large as the finest step.
        """
        plain, fixed = self.programme(moved=moved), self.fixed(moved)
        fine = float(self.finest(asked.steps, moved))
        free = [key for key in self.keys if key not in fixed]
        steps = {key: asked.step(key) for key in free}
        count = len(free)
        more = 3 * count if rest else count
        rows = np.hstack([plain.rows, np.zeros((len(plain.rows), more))])
        links, low, high = [], [], []

        def link(pairs, least, most):
            row = np.zeros(self.size + more)
            for column, each in pairs:
                row[column] = each
            links.append(row)
            low.append(least)
            high.append(most)

        for number, key in enumerate(free):
            column = self.at["amount"][self.keys.index(key)]
            pairs = [(column, 1.0), (self.size + number, -steps[key])]
            if rest:
                part, takes = self.size + count + number, self.size + 2 * count + number
                pairs.append((part, -fine))
                link([(part, 1.0), (takes, 1.0 - round(steps[key] / fine))], -np.inf, 0)
            link(pairs, 0.0, 0.0)
        if rest:
            link([(self.size + 2 * count + n, 1.0) for n in range(count)], -np.inf, 1.0)
        bounds = [math.floor(100.0 / step + 1e-9) for step in steps.values()]
        if rest:
            bounds += [round(step / fine) - 1.0 for step in steps.values()]
            bounds += [1.0] * count
        return Programme(
            np.vstack([rows, *links]),
            np.concatenate([plain.low, low]),
            np.concatenate([plain.high, high]),
            np.concatenate([plain.lower, np.zeros(more)]),
            np.concatenate([plain.upper, bounds]),
            np.concatenate([plain.whole, np.ones(more)]),
        )

    def best_in_steps(self, asked, moved=None):
        """Each aim's least in whole steps, and whether one took the rest; or None."""
        for rest in (False, True):
            for held in HELD[2], 10.0 * HELD[2]:
                found = self._in_order_in_steps(asked, rest, moved, held)
                if len(found) == len(self.goals):
                    return found, rest
            if found:
                raise ArithmeticError("an earlier aim could not be held in steps")
        return None

    def _in_order_in_steps(self, asked, rest, moved, held):
        """The same, cut short where rounding keeps an earlier aim from being held."""
        programme = self.in_steps(asked, rest=rest, moved=moved)
        found, holds = [], []
        for goal, (_, slack) in zip(self.goals, self.asked.aims, strict=True):
            wider = np.append(goal, np.zeros(programme.rows.shape[1] - self.size))
            x = programme.least(wider, holds)
            if x is None:
                break
            found.append(float(goal @ self._tidied(x, asked, rest, moved)))
            room = slack + held * max(1.0, abs(found[-1]))
            holds.append((wider, found[-1] + room))
        return found

    def _tidied(self, x, asked, rest, moved):
        """All columns with each amount at the whole steps that it was found near to."""
        fixed, fine = self.fixed(moved), self.finest(asked.steps, moved)
        formula = {}
        for key, amount in zip(self.keys, x[self.at["amount"]], strict=True):
            step = Fraction(asked.step(key)).limit_denominator(10_000)
            unit = fine if rest else step
            shown = fixed.get(key, float(round(amount / float(unit)) * unit))
            formula[key] = shown if shown > 1e-9 else 0.0
        return self.columns(formula)

    def chosen(self, goal, holds):
        """What counts as used where a goal is least, the choices made anew."""
        x = self.programme().least(goal, holds)
        if x is None:
            return None
        used = x[self.at["used"]] > 0.5
        return {key for key, on in zip(self.keys, used, strict=True) if on}

    def between(self, column, price):
        """The least and the most percent of an ingredient shown at a price per kg."""
        for held in HELD:
            found = self._between(column, price, held)
            if found is not None:
                return found
        raise ArithmeticError("an earlier aim could not be held")

    def _between(self, column, price, held):
        programme, holds = self.programme(), []
        for (name, slack), goal in zip(self.asked.aims, self.goals, strict=True):
            priced = goal.copy()
            if name == "cost":
                priced[column] = price / 100.0
            x = programme.least(priced, holds)
            if x is None:
                return None
            value = float(priced @ x)
            holds.append((priced, value + slack + held * max(1.0, abs(value))))
        amount = np.zeros(self.size)
        amount[column] = 1.0
        ends = [programme.least(sign * amount, holds) for sign in (1.0, -1.0)]
        if any(x is None for x in ends):
            return None
        return tuple(float(x[column]) for x in ends)

    def best_of_all_sets(self):
        """Each aim's least, found by trying every set of ingredients that counts.

        Slow, and without the rounding of a search: what little an aim gains by the
        room of those before it never decides how many ingredients are used.
        """
        free = [key for key in self.keys if key not in self.counted]
        found = []
        for size in range(len(self.counted) + 1):
            for used in combinations(sorted(self.counted), size):
                best = self.best(used={*used, *free})
                found += [] if best is None else [best[0]]
        for number in range(len(self.goals)):
            least = min(each[number] for each in found)
            top = least + self.asked.aims[number][1] + SAME * max(1.0, abs(least))
            found = [each for each in found if each[number] <= top]
        return found[0]

    def fits(self, *, without=(), moved=None, used=None):
        """Whether any formula keeps the rules."""
        programme = self.programme(without=without, moved=moved, used=used)
        return programme.least(np.zeros(self.size), []) is not None

    def columns(self, formula):
        """All columns at a formula: helping ones at the least they may be."""
        x = self.vector(formula)
        for number, key in enumerate(self.keys):
            amount = formula.get(key, 0.0)
            x[self.at["used"][number]] = 1.0 if amount > 0.0 else 0.0
            x[self.at["bought"][number]] = max(0.0, amount - self.shelf(key))
            move = amount - self.asked.base.get(key, 0.0)
            x[self.at["up"][number]] = max(0.0, move)
            x[self.at["down"][number]] = max(0.0, -move)
        for by, groups in self.groups.items():
            for number, group in enumerate(groups):
                move = math.fsum(
                    (formula.get(key, 0.0) - self.asked.base.get(key, 0.0))
                    * self._strong(key, by)
                    for key in self.keys
                    if self.group(key, by) == group
                )
                x[self.at[f"{by} up"][number]] = max(0.0, move)
                x[self.at[f"{by} down"][number]] = max(0.0, -move)
        return x


class Programme(Struct, frozen=True, eq=False):
    """Plain arrays, and the least of a goal over them."""

    rows: np.ndarray
    low: np.ndarray
    high: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    whole: np.ndarray

    def least(self, goal, holds):
        """The columns where a goal is least with others held; None if nowhere.

        Where others are held there is a formula: one that is lost in what is made
        simpler before a search is looked for without that.
        """
        found = self._least(goal, holds)
        if found is None and holds and self.whole.any():
            found = self._least(goal, holds, presolve=False)
        return found

    def _least(self, goal, holds, *, presolve=True):
        rows = np.vstack([self.rows, *(row for row, _ in holds)])
        high = np.concatenate([self.high, [top for _, top in holds]])
        low = np.concatenate([self.low, np.full(len(holds), -np.inf)])
        if self.whole.any():
            found = milp(
                goal,
                integrality=self.whole,
                bounds=Bounds(self.lower, self.upper),
                constraints=LinearConstraint(rows, low, high),
                options={"mip_rel_gap": 0.0, "presolve": presolve},
            )
        else:
            same = np.isfinite(low) & (low == high)
            less, more = np.isfinite(high) & ~same, np.isfinite(low) & ~same
            found = linprog(
                goal,
                A_ub=np.vstack([rows[less], -rows[more]]),
                b_ub=np.concatenate([high[less], -low[more]]),
                A_eq=rows[same] if same.any() else None,
                b_eq=low[same] if same.any() else None,
                bounds=np.column_stack([self.lower, self.upper]),
                options=TIGHT | {"presolve": presolve},
            )
        if found.status not in {0, 2} and presolve:
            return self._least(goal, holds, presolve=False)
        if found.status not in {0, 2}:
            raise ArithmeticError(found.message)
        return found.x if found.status == 0 else None
