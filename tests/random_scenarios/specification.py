"""Specifications: random questions as plain Python values, one for each seed.

Each is made around a hidden formula. Most limits are put where it keeps them, some
of them exactly there, so that corners with many rules are common; now and then a
limit is put where the hidden formula breaks it, so that some questions clash.
"""

import math
import random
from collections.abc import Mapping

from msgspec import Struct

CATEGORIES = (
    "hard butter", "soft butter", "wax", "liquid oil", "fatty alcohol", "emulsifier",
    "exfoliant", "powder", "water", "preservative", "scent",
)  # fmt: skip
LATER = ("antioxidant", "colour", "humectant", "surfactant", "unknown")
UNKNOWN = "unknown"
# What stays as it is in the base, unless somebody speaks of it.
SMALL_DOSES = ("preservative", "antioxidant", "scent", "colour", UNKNOWN)
# Two of the kinds that each category has.
KINDS = {
    "hard butter": ("cocoa-type", "stearin"),
    "soft butter": ("shea-type", "palm"),
    "wax": ("low-melting", "high-melting"),
    "liquid oil": ("light", "rich"),
    "fatty alcohol": ("alcohol", "acid"),
    "emulsifier": ("cationic", "anionic"),
    "exfoliant": ("sugar", "salt"),
    "powder": ("clay", "starch"),
    "humectant": ("polyol", "honey"),
    "water": ("plain", "hydrosol"),
    "preservative": ("broad", "paraben"),
    "antioxidant": ("tocopherol", "plant extract"),
    "scent": ("citrus", "mint"),
    "colour": ("dye", "pearl"),
    "surfactant": ("anionic powder", "anionic liquid"),
}
FATTY = {"hard butter", "soft butter", "liquid oil", "fatty alcohol"}
MELTING = ("hard butter", "soft butter", "liquid oil")
SOLID = {"exfoliant", "powder"}
# What DEVELOPERS.md and the README call built-in parts.
PARTS = {
    "butters": ("hard butter", "soft butter"),
    "fats": ("hard butter", "soft butter", "liquid oil"),
    "lipids": (
        "hard butter",
        "soft butter",
        "wax",
        "liquid oil",
        "fatty alcohol",
        "emulsifier",
        "antioxidant",
        "scent",
    ),
    "solids": ("exfoliant", "powder"),
}
AUTHORITIES = ("EU", "GB", "US", "AU", "CA")
UNRELATED = "no_nut_relation"
# Property -> (unit in properties.csv, mixing, temperature of the window, least and
# greatest figure); "sheen" and "glide" are a catalogue's own.
PROPERTIES = {
    "sheen": ("1", "mass", None, (0.0, 20.0)),
    "glide": ("1", "mass", None, (-5.0, 9.0)),
    "iodine value": ("g/100 g", "mass", None, (0.0, 180.0)),
    "required HLB": ("1", "mass", None, (4.0, 15.0)),
    "density": ("kg/m^3", "volume", 20.0, (800.0, 1600.0)),
    "viscosity": ("mPa s", "log", 40.0, (5.0, 5000.0)),
    "solids load": ("kg/m^3", "volume share", 20.0, (800.0, 1600.0)),
    "solid fat": ("%", "mass", 30.0, (0.0, 100.0)),
    "firmness": ("%", "mass", 30.0, (0.0, 100.0)),
}
# Triglyceride -> melting point, deg C, and heat of melting, kJ/mol; invented.
TRIGLYCERIDES = {
    "P-P-P": (65.0, 170.0),
    "S-S-S": (72.0, 195.0),
    "P-O-P": (36.5, 145.0),
    "P-O-S": (35.0, 155.0),
    "S-O-S": (42.0, 165.0),
    "P-P-O": (34.0, 135.0),
    "P-O-O": (18.5, 120.0),
    "S-O-O": (23.0, 125.0),
    "O-O-O": (5.0, 100.0),
    "O-O-L": (-6.0, 90.0),
}
# Whether aims with something to choose may leave room to those after them.
ROOM_WITH_CHOICES = True
CLOSE = ("ingredient", "category", "kind")
SUBSTANCES = ("linalool", "phenoxyethanol", "sorbate", "coumarin")
ALLERGENS = ("tree nut", "soy")


class Material(Struct, frozen=True):
    """One ingredient.

    ``packs`` are (kg, price, freight), none for no price; ``figures`` is (property,
    deg C or None) -> (low, value, high); ``contents`` is substance -> the same in
    percent; ``lots`` are kg; ``statuses`` is allergen -> (authority -> yes, no or
    unknown, flag); ``caps`` are (whose, use, percent, of); ``made`` is triglyceride ->
    percent, of what the second opinion knows. ``doses`` are (use, percent), the
    supplier's least; ``opinions`` are (market, use, percent) and ``habits`` (use,
    percent), which somebody assumed.
    """

    key: str
    category: str
    packs: tuple[tuple[float, float, float], ...]
    vegan: str
    palm: str
    figures: Mapping[tuple[str, float | None], tuple[float, float, float]]
    contents: Mapping[str, tuple[float, float, float]]
    lots: tuple[float, ...]
    statuses: Mapping[str, tuple[Mapping[str, bool | None], str]]
    caps: tuple[tuple[str, str, float, str], ...]
    made: Mapping[str, float] = {}
    kind: str = ""
    doses: tuple[tuple[str, float], ...] = ()
    opinions: tuple[tuple[str, str, float], ...] = ()
    habits: tuple[tuple[str, float], ...] = ()

    @property
    def name(self):
        """The name that rules and scenarios call it by."""
        return self.key.replace("_", " ")


class Sides(Struct, frozen=True):
    """A lower or upper limit on something; ``of`` a part, ``at`` deg C or None.

    ``without`` are ingredients of the part that a window leaves aside.
    """

    what: str
    low: float | None
    high: float | None
    of: str = "product"
    at: float | None = None
    without: tuple[str, ...] = ()


class Ratio(Struct, frozen=True):
    """Amount of some ingredients per amount of others."""

    name: str
    first: tuple[str, ...]
    second: tuple[str, ...]
    low: float | None
    high: float | None


class LawRow(Struct, frozen=True):
    """A row of preservatives.csv or restricted.csv, with its factors if it has any."""

    table: str
    market: str
    name: str
    use: str
    high: float
    factors: Mapping[str, float]


class SharedRow(Struct, frozen=True):
    """Caps whose used shares add to at most one."""

    group: str
    market: str
    use: str
    caps: Mapping[str, float]


class Specification(Struct, frozen=True):
    """A whole question. Aims are (name, slack); choices (what, at least, at most).

    ``steps`` are (ingredient or category, percent), "step" for all others; none where
    amounts come in no steps. ``opinion`` says whether windows hold by the second one.
    ``let_in`` and ``gone`` are what a command brings in and takes out; ``eased`` are
    rules by their id, with another limit, or None where they do not count.
    """

    seed: int
    materials: tuple[Material, ...]
    aims: tuple[tuple[str, float], ...]
    use: str
    markets: tuple[str, ...]
    batch_kg: float
    cautious: bool = False
    base: Mapping[str, float] = {}
    parts: Mapping[str, tuple[str, ...]] = {}
    only: tuple[str, ...] = ()
    bands: tuple[Sides, ...] = ()
    limits: tuple[Sides, ...] = ()
    pins: tuple[tuple[str, float], ...] = ()
    windows: tuple[Sides, ...] = ()
    ratios: tuple[Ratio, ...] = ()
    constituents: tuple[Sides, ...] = ()
    closeness: tuple[tuple[str, float], ...] = ()
    choices: tuple[tuple[str, int | None, int | None], ...] = ()
    least: tuple[tuple[str, float], ...] = ()
    law: tuple[LawRow, ...] = ()
    shared: tuple[SharedRow, ...] = ()
    without_allergens: tuple[str, ...] = ()
    reading: str = "listed"
    without: tuple[str, ...] = ()
    without_categories: tuple[str, ...] = ()
    vegan: bool = False
    palm_free: bool = False
    stock_only: bool = False
    steps: tuple[tuple[str, float], ...] = ()
    opinion: bool = False
    let_in: tuple[str, ...] = ()
    gone: tuple[str, ...] = ()
    eased: tuple[tuple[str, float | None], ...] = ()
    wax_guard: float | None = None

    def step(self, key):
        """The step of an ingredient, percent: its own, its category's, or of all."""
        own = dict(self.steps)
        category = next(e.category for e in self.materials if e.key == key)
        return own.get(key, own.get(category, own["step"]))

    @property
    def chooses(self):
        """Whether something in it is counted or used-or-not."""
        counts = any(name == "count" for name, _ in self.aims)
        doses = any(each.doses for each in self.materials)
        return bool(counts or self.choices or self.least or doses)


def members(asked, part):
    """The keys of what belongs to a part, a category, or an ingredient's key."""
    if part == "product":
        return [each.key for each in asked.materials]
    inside = asked.parts.get(part) or PARTS.get(part, (part,))
    return [
        each.key
        for each in asked.materials
        if each.key in inside or each.category in inside
    ]


def left_aside(asked):
    """What is unknown in the base and stays too little to count there, by key."""
    known = {each.key: each.category for each in asked.materials}
    shares = {k: x for k, x in asked.base.items() if x and known[k] == UNKNOWN}
    limits = [each for each in asked.limits if each.low]
    for what, high in (
        *asked.pins,
        *((each.what, each.high) for each in (*asked.bands, *limits)),
    ):
        most = 2.0 if high is None else high
        shares |= {k: max(x, most) for k, x in shares.items() if what in {k, UNKNOWN}}
    return set(shares) if math.fsum(shares.values()) < 2.0 else set()


def counted(asked, window):
    """The keys of what a window counts: its part, and what may belong to that.

    Of that a small dose is left aside, unless it is about all of the product by weight.
    """
    found = set(members(asked, window.of)) - set(window.without)
    if window.of not in asked.parts:
        unknown = {e.key for e in asked.materials if e.category == UNKNOWN}
        found |= unknown - set(window.without)
    return found if is_whole(window) else found - left_aside(asked)


def is_whole(window):
    """Whether a window is about all of the product, by weight."""
    by_weight = PROPERTIES[window.what][1] in {"mass", "log"}
    return window.of == "product" and by_weight and not window.without


def window_id(asked, window, side):
    """The id of the rule of a window's side."""
    part, known = window.of, {each.key: each.name for each in asked.materials}
    if window.without:
        *names, last = [known[key] for key in window.without]
        part += " without " + (f"{', '.join(names)} and {last}" if names else last)
    told = "" if window.at is None else f"/{window.at:g} degC"
    return f"window/{window.what}{told}/{part}/{side}"


def figure(material, name):
    """Low, typical and high figure of a material for a window's property, or None."""
    _, _, at, _ = PROPERTIES[name]
    stored = "density" if name == "solids load" else name
    if name in {"solid fat", "firmness"}:
        if name == "firmness" and material.category == "wax":
            term = material.figures.get(("wax firmness", None))
            return None if term is None else tuple(100.0 * each for each in term)
        return solid_fat(material, at)
    return material.figures.get((stored, at))


def solid_fat(material, at):
    """A solid-fat curve at a temperature, straight between its points; or None."""
    if material.category not in {*FATTY, UNKNOWN}:
        return 0.0, 0.0, 0.0
    if ("solid fat", at) in material.figures:
        return material.figures["solid fat", at]
    points = sorted(
        (degrees, each)
        for (name, degrees), each in material.figures.items()
        if name == "solid fat"
    )
    if not points:
        return None
    (cool, first), (warm, last) = points[0], points[-1]
    if not cool < at < warm:
        return None
    part = (at - cool) / (warm - cool)
    return tuple(a + part * (b - a) for a, b in zip(first, last, strict=True))


def terms(material, name, side, careful):
    """What 1 % of a material adds above and below the line of a property.

    Where one is careful, a lower side counts the low figure and an upper side the
    high one; what is denser takes less of the volume.
    """
    _, mixing, _, _ = PROPERTIES[name]
    solid = material.category in SOLID
    end = 1
    if careful:
        end = 0 if side == "min" else 2
        end = 2 - end if mixing == "volume share" and solid else end
    value = figure(material, name)[end]
    if mixing == "mass":
        return value, 1.0
    if mixing == "log":
        return math.log(value), 1.0
    if mixing == "volume":
        return 1.0, 1.0 / value
    return (100.0 / value if solid else 0.0), 1.0 / value


def specification(seed, *, newer=True):
    """The specification of a seed; the same one every time, and in no steps.

    Those that are not ``newer`` are without kinds, doses, strengths, what is unknown
    and all that came with these: they were asked before.
    """
    return _Maker(seed, newer=newer).made()


def stepped(seed, *, newer=True):
    """The same, one in four with amounts in steps, and more of those that are newer."""
    share = 0.4 if newer else 0.25
    return _stepped(specification(seed, newer=newer), share=share)


def small(seed, *, newer=True):
    """The same with few ingredients and coarse steps, to be tried out one by one."""
    share = 0.4 if newer else 0.25
    asked = _Maker(seed, most=4, newer=newer).made()
    return _stepped(asked, (5.0, 2.5, 4.0), share=share)


def melting(seed, *, newer=True):
    """One with windows on melting that hold by the second opinion, in no steps.

    Of those that are newer one in five has amounts in steps.
    """
    asked = _Maker(seed, melts=True, newer=newer).made()
    return _stepped(asked, share=0.2) if newer else asked


def _stepped(asked, among=(0.1, 0.5, 0.5, 1.0, 2.0, 5.0), *, share):
    """A specification, or a share of them with amounts in steps."""
    dice = random.Random(f"steps of {asked.seed}")
    if dice.random() >= share:
        return asked
    steps = [("step", dice.choice(among))]
    for each in dice.sample(asked.materials, dice.choice((0, 0, 1, 2))):
        what = dice.choice((each.key, each.category))
        if what not in dict(steps):
            steps.append((what, dice.choice(among)))
    return replaced(asked, steps=tuple(steps))


class _Maker:
    """Makes one specification; everything random comes from one generator."""

    def __init__(self, seed, most=9, *, melts=False, newer=False):
        self.seed, self.most, self.melts, self.newer = seed, most, melts, newer
        self.random = random.Random(f"newer {seed}" if newer else seed)
        self.spoils = 3 if self.chance(0.45) else 0

    def chance(self, share):
        return self.random.random() < share

    def between(self, low, high, digits=2):
        return round(self.random.uniform(low, high), digits)

    def some(self, among, least, most):
        among = list(among)
        count = min(len(among), self.random.randint(least, most))
        return self.random.sample(among, count)

    def made(self):
        among = (*CATEGORIES, *LATER) if self.newer and not self.melts else CATEGORIES
        kinds = self.some(among, 2, min(5, self.most))
        if self.newer:
            more = [each for each in ("wax", "preservative") if self.chance(0.25)]
            kinds = list(dict.fromkeys((*more, *kinds)))[: self.most]
        if self.melts:
            kinds = list(dict.fromkeys((*self.some(MELTING, 2, 3), *kinds)))
            kinds = kinds[: self.most]
        count = self.random.randint(max(3, len(kinds)), self.most)
        often = {"wax", *SMALL_DOSES} if self.newer else ()
        weights = [3 if each in often else 1 for each in kinds]
        named = kinds + self.random.choices(kinds, weights, k=count - len(kinds))
        keys = [
            f"{'abcdefghi'[number]}_{kind.replace(' ', '_')}"
            for number, kind in enumerate(named)
        ]
        self.category = dict(zip(keys, named, strict=True))
        # One that is never asked for may lack its price or a figure.
        self.gappy = keys[-1] if count > 4 and self.chance(0.25) else None
        sound = [key for key in keys if key != self.gappy]
        self.hidden = self.formula(self.some(sound, 2, 6))
        self.base = {}
        if self.chance(0.6):
            near = self.chance(0.5)
            held = [key for key, share in self.hidden.items() if share]
            self.base = self.formula(held if near else self.some(sound, 2, 5))
        if self.newer and self.base and self.chance(0.7):
            self.small_doses()
        self.plans = {
            name
            for name in ("vegan", "palm", "stock", *ALLERGENS)
            if self.chance(0.2 if self.newer and name in ALLERGENS else 0.12)
        }
        self.windowed = self.some(PROPERTIES, 0, 3)
        if self.melts and not {"solid fat", "firmness"} & set(self.windowed):
            self.windowed.append(self.random.choice(("solid fat", "firmness")))
        if {"density", "solids load"} <= set(self.windowed):
            self.windowed.remove("density")
        self.batch_kg = self.random.choice((1.0, 2.0, 2.5, 0.4))
        self.use = self.random.choice(("leave-on", "rinse-off"))
        materials = tuple(self.material(key) for key in keys)
        self.asked = Specification(
            self.seed,
            materials,
            (("cost", 0.0),),
            self.use,
            tuple(self.some(AUTHORITIES, 0, 2)),
            self.batch_kg,
            cautious=self.chance(0.3),
            base={key: share for key, share in self.base.items() if share},
            parts={"own part": tuple(self.some(keys, 2, 4))}
            if self.chance(0.3)
            else {},
            opinion=self.melts,
        )
        return self.wishes(sound)

    def formula(self, keys):
        """Whole or half percentages of some ingredients, 100 in all."""
        weights = [self.random.random() + 0.02 for _ in keys]
        step = self.random.choice((1.0, 0.5))
        shares = [
            max(step, round(100 * each / math.fsum(weights) / step) * step)
            for each in weights
        ]
        largest = shares.index(max(shares))
        shares[largest] += 100.0 - math.fsum(shares)
        return dict.fromkeys(self.category, 0.0) | dict(zip(keys, shares, strict=True))

    def small_doses(self):
        """Let the formula have the base's share, and little, of what is not moved."""
        small = [k for k, kind in self.category.items() if kind in SMALL_DOSES]
        main = [k for k in self.category if k not in small]
        both = self.hidden, self.base
        if not all(any(each[key] for key in main) for each in both):
            return
        largest = [max(main, key=each.__getitem__) for each in both]
        for key in small:
            if any(each[key] for each in both):
                share = self.between(0.2, 1.9, 1)
                for each, other in zip(both, largest, strict=True):
                    each[other] = round(each[other] + each[key] - share, 2)
                    each[key] = share

    def material(self, key):
        category = self.category[key]
        gap = self.random.choice(("price", "figure")) if key == self.gappy else None
        packs = ()
        if gap != "price":
            packs = tuple(self.pack() for _ in range(self.random.choice((1, 1, 2))))
        figures = {}
        for name in self.windowed:
            if gap == "figure" and name == self.windowed[0]:
                continue
            curve = any(known == "solid fat" for known, _ in figures)
            if not (curve and name in {"solid fat", "firmness"}):
                figures |= self.figures(name, category)
        if self.newer:
            figures |= self.strength(category, figures)
        shelf = self.batch_kg * self.hidden[key] / 100.0
        lots = tuple(
            math.ceil((self.random.choice((0.5, 1.0, 2.0)) * shelf + extra) * 1e3) / 1e3
            for extra in self.random.choice(((), (0.0,), (0.1,), (0.0, 0.5)))
        )
        if "stock" in self.plans:
            lots = (*lots, math.ceil(shelf * 1e3) / 1e3)
        return Material(
            key,
            category,
            packs,
            self.told("vegan", key, "yes", ("yes", "no", "ask")),
            self.told("palm", key, "no", ("no", "yes", "ask")),
            figures,
            {
                name: self.spread(0.0, self.random.choice((1.0, 30.0, 90.0)))
                for name in self.some(SUBSTANCES, 0, 2)
            },
            tuple(lot for lot in lots if lot > 0.0),
            {
                name: self.status(name in self.plans and self.hidden[key] > 0.0)
                for name in ALLERGENS
                if self.chance(0.4) or (name in self.plans and self.hidden[key])
            },
            caps := self.caps(key),
            self.made_of(category) if self.melts else {},
            **self.newer_facts(key, caps) if self.newer else {},
        )

    def strength(self, category, figures):
        """How hard something sets, where no window asks for it; mostly known."""
        known = {name for name, _ in figures}
        if category == "wax" and "wax firmness" not in known and self.chance(0.75):
            strong = self.random.choice((self.spread(1.0, 6.0), (2.0, 2.0, 2.0)))
            return {("wax firmness", None): strong}
        sets = category in {"hard butter", "fatty alcohol"}
        if sets and "solid fat" not in known and self.chance(0.8):
            return {("solid fat", 25.0): self.spread(10.0, 90.0)}
        return {}

    def newer_facts(self, key, caps):
        """Its kind, least doses, opinions on it and habits that are assumed."""
        category, share = self.category[key], self.hidden[key]
        doses = opinions = habits = ()
        if category == "preservative" and self.chance(0.7):
            most = max(0.2, min(share, 3.0)) if share and self.chance(0.8) else 3.0
            doses = ((self.random.choice(("any", self.use)), self.between(0.1, most)),)
        if self.chance(0.1):
            cap = min(100.0, self.above(share, 20.0))
            opinions = ((self.random.choice(AUTHORITIES[:3]), "any", cap),)
        practice = [use for whose, use, _, _ in caps if whose == "practice"]
        if "any" not in practice and self.chance(0.1):
            habits = (("any", min(100.0, self.above(share, 20.0))),)
        kinds = KINDS.get(category, ())
        kind = self.random.choice(kinds) if kinds and self.chance(0.8) else ""
        return {"kind": kind, "doses": doses, "opinions": opinions, "habits": habits}

    def made_of(self, category):
        """What the second opinion knows of an ingredient; of some fats nothing."""
        if category not in MELTING or self.chance(0.1):
            return {}
        names = ["O-O-L", *self.some(TRIGLYCERIDES, 2, 5)]  # no fat is all solid
        if category == "liquid oil":
            names.append("O-O-O")
        weights = {each: self.between(0.05, 1.0) for each in dict.fromkeys(names)}
        whole = math.fsum(weights.values())
        return {each: 100.0 * weight / whole for each, weight in weights.items()}

    def told(self, plan, key, kept, among):
        """What is said of an ingredient; what a plan needs, if the formula has it."""
        word = self.random.choice((kept, *among))
        return kept if plan in self.plans and self.hidden[key] else word

    def pack(self):
        price = self.random.choice((5.0, 10.0, 20.0))
        if self.chance(0.8):
            price = self.between(1.0, 60.0)
        kg = self.random.choice((1.0, 0.5, 5.0))
        return kg, round(price * kg, 2), self.random.choice((0.0, 0.0, 4.5))

    def spread(self, low, high):
        ends = [self.between(low, high) for _ in range(3)]
        return tuple(sorted(ends)) if self.chance(0.7) else (ends[0],) * 3

    def figures(self, name, category):
        """Figures for a property's window, under the name the catalogue has for it."""
        _, _, at, (low, high) = PROPERTIES[name]
        stored = "density" if name == "solids load" else name
        if name in {"solid fat", "firmness"}:
            if name == "firmness" and category == "wax":
                return {("wax firmness", None): self.spread(1.0, 6.0)}
            if category not in {*FATTY, UNKNOWN}:
                return {}  # zero by definition
            middle = self.spread(low, high)
            cool = tuple(min(100.0, each + 15.0) for each in middle)
            warm = tuple(max(0.0, each - 22.5) for each in middle)
            if self.chance(0.5):
                return {("solid fat", 30.0): middle}
            return {("solid fat", 20.0): cool, ("solid fat", 35.0): warm}
        return {(stored, at): self.spread(low, high)}

    def status(self, free):
        listed = {
            each: self.random.choice((False, False, False, True, None))
            for each in AUTHORITIES
        }
        if self.newer and not free and self.chance(0.4):  # no nut but by botany
            return dict.fromkeys(
                AUTHORITIES, False
            ), "botanical_nut_or_kernel_not_listed"
        if self.chance(0.6):
            listed = dict.fromkeys(AUTHORITIES, False)
        flags = (UNRELATED, UNRELATED, "botanical_nut_or_kernel_not_listed", "")
        if free:
            return dict.fromkeys(AUTHORITIES, False), UNRELATED
        return listed, self.random.choice(flags)

    def caps(self, key):
        """What a supplier and common practice say, mostly over what the formula has."""
        rows = []
        lipids = math.fsum(
            share
            for each, share in self.hidden.items()
            if self.category[each] in PARTS["lipids"]
        )
        for whose, use in self.some(
            [(w, u) for w in ("supplier", "practice") for u in ("any", self.use)], 0, 2
        ):
            of = self.random.choice(("product", "product", "lipids"))
            of = of if lipids > 0.0 else "product"
            share = self.hidden[key] * (100.0 / lipids if of == "lipids" else 1.0)
            rows.append((whose, use, min(100.0, self.above(share, 20.0)), of))
        return tuple(rows) if self.chance(0.5) else ()

    # -- limits around the hidden formula ------------------------------------------

    def margin(self, scale):
        """Room that a limit leaves the hidden formula; below 0 where it clashes."""
        if self.spoils and self.chance(0.1 if self.newer else 0.2):
            self.spoils -= 1
            return -self.between(0.05, 0.4) * scale
        room = self.random.random()
        if room < 0.25:
            return 0.0
        return self.between(0.0, 0.1 if room < 0.6 else 0.5, 3) * scale

    def above(self, value, scale, signed=False):
        limit = math.ceil((value + self.margin(scale)) * 100 - 1e-9) / 100
        return limit if signed else max(0.0, limit)

    def below(self, value, scale, signed=False):
        limit = math.floor((value - self.margin(scale)) * 100 + 1e-9) / 100
        return limit if signed else max(0.0, limit)

    def sides(self, value, scale):
        """A low and a high limit around a value, or one of them."""
        which = self.random.choice(("low", "high", "both"))
        low = None if which == "high" else self.below(value, scale)
        high = None if which == "low" else self.above(value, scale)
        if low is not None and high is not None and low > high:
            return None, high
        return low, high

    def share(self, what, of="product"):
        whole = self.amount(members(self.asked, of))
        part = self.amount(members(self.asked, what))
        return 100.0 * part / whole if whole > 0.0 else 0.0

    def amount(self, keys):
        return math.fsum(self.hidden[key] for key in keys)

    def wishes(self, sound):
        """The specification with its rules and aims."""
        kinds = list(dict.fromkeys(self.category.values()))
        sums = [*kinds, "lipids", "fats", *self.asked.parts]
        bands = tuple(
            self.bound(name, "lipids") for name in self.some(sums, 0, len(kinds))
        )
        limits = tuple(self.bound(key, "lipids") for key in self.some(sound, 0, 3))
        choices, least = self.counted(kinds)
        aims = self.aims(bool(choices or least))
        pinned = self.some(sound, 1, 1) if self.chance(0.2) else []
        hidden = self.hidden
        bands = self.spoken(bands, limits, choices, pinned)
        unused = [key for key, share in hidden.items() if share == 0.0]
        free = [kind for kind in kinds if self.share(kind) == 0.0]
        named = {key for key, share in (*self.base.items(), *hidden.items()) if share}
        named |= set(pinned)
        asked = replaced(
            self.asked,
            bands=tuple(each for each in bands if each.low or each.high),
            limits=limits,
            aims=aims,
            choices=choices,
            least=least,
            pins=tuple((key, hidden[key]) for key in pinned),
            windows=self.windows(),
            ratios=self.ratios(kinds),
            constituents=self.constituents(),
            closeness=self.closeness(),
            law=self.law(),
            shared=self.shared_rows(),
            only=tuple(self.some(sound, 2, 7)) if self.chance(0.1) else (),
            without=tuple(self.some(unused, 1, 2)) if self.chance(0.3) else (),
            without_categories=tuple(self.some(free, 1, 1)) if self.chance(0.2) else (),
            without_allergens=tuple(
                name
                for name in ALLERGENS
                if (name in self.plans or self.chance(0.02))
                and any(name in each.statuses for each in self.asked.materials)
            ),
            reading=self.random.choice(
                ("listed", "cautious", *(("listed",) * 2 if self.newer else ()))
            ),
            vegan="vegan" in self.plans or self.chance(0.02),
            palm_free="palm" in self.plans or self.chance(0.02),
            stock_only="stock" in self.plans or self.chance(0.02),
        )
        asked = self.askable(asked, named)
        return self.newly(asked, sound) if self.newer else asked

    def newly(self, asked, sound):
        """The same with what a command lets in or takes out, and with eased rules."""
        spoken = {*asked.base, *dict(asked.pins), *(e.what for e in asked.limits)}
        if self.chance(0.25):
            free = [key for key in sound if key not in spoken]
            held = {*asked.without, *dict(asked.pins), *(e.what for e in asked.limits)}
            gone = [key for key in asked.base if key not in held]
            pairs = [
                (key, other)
                for key in gone
                for other in free
                if self.category[key] == self.category[other]
            ]
            small = [each for each in pairs if self.category[each[0]] in SMALL_DOSES]
            pairs = small or pairs
            gone = self.some(gone, 0, 1)
            if pairs and self.chance(0.7):
                out = self.random.choice(pairs)[0]
                gone, free = [out], [other for key, other in pairs if key == out]
            let_in = self.some(free, 0, 2)
            asked = replaced(asked, let_in=tuple(let_in), gone=tuple(gone))
        if self.chance(0.15):
            asked = replaced(asked, wax_guard=self.between(1.0, 40.0))
        if self.chance(0.2):
            asked = replaced(asked, eased=self.eased(asked))
        return asked

    def eased(self, asked):
        """Some rules that are surely there, with an easier limit or none."""
        rules = []
        for kind, sides in (("band", asked.bands), ("limit", asked.limits)):
            for each in sides:
                name = each.what.replace("_", " ") if kind == "limit" else each.what
                rules += [(f"{kind}/{name}/min", each.low, 0.0)] if each.low else []
                if each.high is not None:
                    rules.append((f"{kind}/{name}/max", each.high, 100.0))
        for each in asked.windows:
            for side, limit in (("min", each.low), ("max", each.high)):
                if limit is not None:
                    easier = limit * (0.9 if side == "min" else 1.1)
                    rules.append((window_id(asked, each, side), limit, easier))
        rules += [
            (f"exclude/{key.replace('_', ' ')}", 0.0, 5.0) for key in asked.without
        ]
        rules += [(f"exclude/{name}", 0.0, 5.0) for name in asked.without_categories]
        rules += [(f"closeness/by {by}", n, 100.0) for by, n in asked.closeness]
        for each in asked.materials:
            for whose, use, cap, _ in each.caps:
                told = use in {"any", asked.use} and cap < 100.0
                if asked.base.get(each.key) and told:
                    rules.append((f"{whose}/{each.name}/max", cap, 100.0))
        found = {}
        for name, limit, end in self.some(rules, 1, 2):
            to = round(limit + self.random.random() ** 2 * (end - limit), 2)
            found[name] = None if self.chance(0.2) else to
        return tuple(found.items())

    def spoken(self, bands, limits, choices, pinned):
        """The bands, with one for each category of the formula not yet spoken of."""
        named = {key for key, share in self.base.items() if share} | set(pinned)
        named |= {each.what for each in limits if each.low}
        heard = {self.category[key] for key in named}
        for what in [*(band.what for band in bands), *(what for what, _, _ in choices)]:
            heard |= {self.category[key] for key in members(self.asked, what)}
        wanted = dict.fromkeys(self.category[key] for key in self.hidden)
        wanted = [each for each in wanted if self.share(each) > 0.0]
        if not heard or self.chance(0.05):
            return bands
        lacking = [each for each in wanted if each not in heard]
        return (*bands, *(Sides(each, None, 100.0) for each in lacking))

    def askable(self, asked, named):
        """Without what the reader would rightly refuse to ask."""
        known = {s for each in asked.materials for s in each.contents}
        return replaced(
            asked,
            only=tuple(dict.fromkeys((*asked.only, *named))) if asked.only else (),
            constituents=tuple(c for c in asked.constituents if c.what in known),
            law=tuple(row for row in asked.law if row.factors or row.name in known),
        )

    def bound(self, what, part):
        of = part if self.chance(0.2) else "product"
        low, high = self.sides(self.share(what, of), 20.0)
        return Sides(
            what,
            None if low is None else min(low, 100.0),
            None if high is None else min(high, 100.0),
            of,
        )

    def windows(self):
        found = []
        for name in self.windowed:
            _, _, at, (least, most) = PROPERTIES[name]
            over = self.random.choice(("product", "lipids", "own part"))
            if over == "own part" and not self.asked.parts:
                over = "product"
            aside = ()
            if self.newer and self.chance(0.25):
                part = members(self.asked, over)
                aside = tuple(self.some(part, 1, 2)) if len(part) > 2 else ()
            room = 0.5 * (most - least)
            whole = Sides(name, None, None, over, at, aside)
            low = self.below(self.blend(whole, "min"), room, name == "glide")
            high = self.above(self.blend(whole, "max"), room, name == "glide")
            if name in {"solid fat", "firmness", "solids load"}:
                low, high = min(low, 100.0), min(high, 100.0)
            if name == "viscosity":
                low, high = max(low, 1.0), max(high, 2.0)
            which = self.random.choice(("low", "high", "both"))
            low = None if which == "high" or (low > high and which == "both") else low
            high = None if which == "low" else high
            found.append(Sides(name, low, high, over, at, aside))
        return tuple(found)

    def blend(self, window, side):
        """What a property of the hidden formula is, at the end that a side counts."""
        name = window.what
        keys = {key for key in counted(self.asked, window) if self.hidden[key]}
        if not keys:
            return sum(PROPERTIES[name][3]) / 2.0
        above = below = 0.0
        for each in self.asked.materials:
            if each.key in keys:
                a, b = terms(each, name, side, self.asked.cautious)
                above += a * self.hidden[each.key]
                below += b * self.hidden[each.key]
        log = PROPERTIES[name][1] == "log"
        return math.exp(above / below) if log else above / below

    def ratios(self, kinds):
        if not self.chance(0.3):
            return ()
        first, second = self.some([*kinds, *self.category], 2, 2)
        above = self.amount(members(self.asked, first))
        below = self.amount(members(self.asked, second))
        if set(members(self.asked, first)) == set(members(self.asked, second)):
            return ()
        if below == 0.0 and above > 0.0 and not self.chance(0.2):
            return ()
        low, high = self.sides(above / below if below else 1.0, 1.0)
        return (Ratio("one to another", (first,), (second,), low, high),)

    def content(self, factors, end=2):
        """The content of the hidden formula, percent, at its high end or another."""
        return math.fsum(
            self.hidden[each.key] * factor * each.contents[name][end] / 100.0
            for each in self.asked.materials
            for name, factor in factors.items()
            if name in each.contents
        )

    def constituents(self):
        if not self.chance(0.3):
            return ()
        (name,) = self.some(SUBSTANCES, 1, 1)
        value = self.content({name: 1.0})
        low, high = self.sides(value, max(0.1, value))
        if low is not None:  # a wish for content counts its low end
            low = self.below(self.content({name: 1.0}, 0), max(0.1, value))
            low = low if high is None else min(low, high)
        ends = (None if each is None else min(each, 100.0) for each in (low, high))
        return (Sides(name, *ends),)

    def law(self):
        rows = []
        for name in self.some(SUBSTANCES, 0, 3):
            factors = {}
            if self.chance(0.3):
                factors = {
                    each: self.between(0.1, 1.5) for each in self.some(SUBSTANCES, 1, 2)
                }
            value = self.content(factors or {name: 1.0})
            rows += [
                LawRow(
                    self.random.choice(("preservatives", "restricted")),
                    self.random.choice(("any", *AUTHORITIES[:3])),
                    name,
                    self.random.choice(("any", "leave-on", "rinse-off")),
                    min(100.0, self.above(value, max(0.1, value))),
                    factors,
                )
                for _ in range(self.random.choice((1, 1, 2)))
            ]
        return tuple(rows)

    def shared_rows(self):
        if not self.chance(0.2):
            return ()
        caps = {
            name: min(100.0, max(0.05, round(2 * self.content({name: 1.0}), 2)))
            for name in self.some(SUBSTANCES, 2, 3)
        }
        return (SharedRow("scents together", "any", "any", caps),)

    def closeness(self):
        if not self.base or not self.chance(0.35):
            return ()
        found = []
        for by in self.some(CLOSE if self.newer else CLOSE[:2], 1, 2):
            moves = {}
            for key in self.category:
                group = key if by == "ingredient" else self.category[key]
                moves.setdefault(group, 0.0)
                moves[group] += self.hidden[key] - self.base[key]
            points = math.fsum(abs(each) for each in moves.values()) / 2
            found.append((by, min(100.0, self.above(points, 20.0))))
        return tuple(found)

    def counted(self, kinds):
        """Choices and least doses, around the hidden formula's."""
        if not self.chance(0.25):
            return (), ()
        choices = []
        for what in self.some([*kinds, "all", "lipids"], 0, 2):
            keys = list(self.category) if what == "all" else members(self.asked, what)
            used = sum(1 for key in keys if self.hidden[key])
            low = max(0, used - self.random.choice((0, 1)))
            high = used + self.random.choice((0, 0, 1))
            which = self.random.choice(("low", "high", "both"))
            choices.append(
                (
                    what,
                    None if which == "high" else low,
                    None if which == "low" else high,
                )
            )
        least = []
        if self.chance(0.6):
            least.append(("default", self.random.choice((0.5, 1.0, 2.0))))
        if self.chance(0.3):
            least.append(
                (self.random.choice(list(self.category)), self.between(0.5, 5))
            )
        return tuple(choices), tuple(least)

    def aims(self, chosen):
        known = ["cost", "bought"]
        known += ["change", "category change"] if self.base else []
        known += ["count"] if self.chance(0.2) else []
        changes = ["change", "kind change", "category change"]
        if self.newer and self.base:
            known.append("kind change")
        order = self.some(known, 1, 4 if self.newer else 3)
        if self.newer and self.base and self.chance(0.4):
            first = self.random.choice(changes)
            order = [first, *(each for each in order if each != first)]
        elif self.chance(0.5):
            order = ["cost", *(each for each in order if each != "cost")]
        room = {"cost": (0.05, 1.0), "count": (1.0, 1.0)}
        return tuple(
            (
                name,
                self.between(*room.get(name, (0.5, 6.0)))
                if place < len(order) - 1
                and self.chance(0.45 if self.newer else 0.3)
                and (ROOM_WITH_CHOICES or not (chosen or "count" in order))
                else 0.0,
            )
            for place, name in enumerate(order)
        )


def replaced(value, **changes):
    """A frozen value with some fields changed."""
    fields = {name: getattr(value, name) for name in value.__struct_fields__}
    return type(value)(**fields | changes)
