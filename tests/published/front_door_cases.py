"""Each published case as a question that a maker could write."""

from tests.published.front_door import Question, bounds, key, parts, window
from tests.published.programmes import case

OILS = ("VEG1", "VEG2", "OIL1", "OIL2", "OIL3")
SALE = 150.0
MONTHS = tuple(case("a3")["model"]["months"])


def question_of(data, total, *rules, **more):
    prices = more.pop("prices", None)
    if prices is None:
        prices = {each["name"]: each["cost"] for each in data["variables"]}
    return Question(
        title=data["title"],
        citation=data["source"]["citation"],
        total=total,
        prices=prices,
        rules=rules,
        **more,
    )


def terms(data, names, unused=()):
    """Row -> ingredient -> coefficient, zeros written out; a filler has none."""
    rows = {row["name"]: row for row in data["rows"]}
    every = [each["name"] for each in data["variables"]]
    return {
        name: {each: rows[row]["terms"].get(each, 0.0) for each in (*every, *unused)}
        for name, row in names.items()
    }


def oil_blend(data, costs, total, *extra):
    """The oil blend: what is not made is a filler at the price the oil would fetch.

    ``cost = (150 * total - profit) / total``, so the least cost is the most profit.
    """
    caps = data.get("model", {"veg_cap": 200.0, "nonveg_cap": 250.0})
    hardness = {"VEG1": 8.8, "VEG2": 6.1, "OIL1": 2.0, "OIL2": 4.2, "OIL3": 5.0}
    return question_of(
        data,
        total,
        parts(veg=OILS[:2], nonveg=OILS[2:], blend=OILS),
        bounds(
            "bands",
            veg=(None, 100 * caps["veg_cap"] / total),
            nonveg=(None, 100 * caps["nonveg_cap"] / total),
        ),
        window("hardness", 3.0, 6.0, over="blend"),
        *extra,
        prices={**costs, "unsold": SALE},
        figures={"hardness": hardness},
    )


def a1(total=450.0):
    data = case("a1")
    costs = {n: each["cost"] for n, each in data["blend"]["ingredients"].items()}
    return oil_blend(data, costs, total)


def month_of(name, month):
    """One month of the food plan, bought and used in the month.

    The implication (VEG1 or VEG2 asks for OIL3) is written as a ratio: at most 200 t
    of vegetable oil and at least 20 t of OIL3 when used make 0.1 to 1 hold whenever
    the implication does, and fail whenever it fails.
    """
    data = case(name)
    costs = dict(zip(OILS, data["model"]["price"][month], strict=True))
    total, extra = 450.0, ()
    if name == "a3":
        least = 100 * data["model"]["min_use_if_used"] / total
        most = data["model"]["max_oils_per_month"]
        extra = (
            f'[choices]\n"blend" = {{ at_most = {most} }}',
            "\n".join(["[least_if_used]", *(f"{key(o)} = {least!r}" for o in OILS)]),
            '[[ratios]]\nname = "OIL3 to VEG"\nfirst = ["oil3"]\nsecond = ["veg"]\n'
            "min = 0.1",
        )
    return oil_blend(data, costs, total, *extra)


def pet_can(name):
    """A can of 100 g; nutrients in g per 100 g, which is percent."""
    data = case(name)
    blend = data["blend"]
    limits = blend["property_total"]
    figures = {
        each: {n: 100 * row[each] for n, row in blend["ingredients"].items()}
        for each in limits
    }
    windows = [window(each, *sides) for each, sides in limits.items()]
    return question_of(data, 100.0, *windows, figures=figures)


def diet(name):
    """Dollars of food a day; 100 % is one dollar, and what is not spent is free."""
    data = case(name)
    names = {row["name"]: row["name"] for row in data["rows"]}
    prices = {each["name"]: 1.0 for each in data["variables"]} | {"not spent": 0.0}
    return question_of(
        data,
        1.0,
        *(window(row["name"], row["lower"], row["upper"]) for row in data["rows"]),
        prices=prices,
        figures=terms(data, names, ["not spent"]),
    )


def d01():
    """Exact windows: the same figure as least and as most."""
    data = case("d01")
    metals = data["blend"]["property_exact_percent"]
    windows = [window(metal, value, value) for metal, value in metals.items()]
    figures = terms(data, {metal: metal for metal in metals})
    return question_of(data, 1.0, *windows, figures=figures)


# Metal -> rows of the least and of the most pounds in a furnace load of 10 000 lb.
METALS = {
    "zinc": ("ZN", "ZX"),
    "copper": ("CN", "CX"),
    "magnesium": ("MN", "MX"),
    "chromium": ("CHN", "CHX"),
    "beryllium": ("BN", "BX"),
    "iron": (None, "IX"),
    "silicon": (None, "SX"),
    "manganese": (None, "MGX"),
    "nickel": (None, "NX"),
    "titanium": (None, "TX"),
    "lead": (None, "LX"),
    "tin": (None, "TNX"),
    "bismuth": (None, "BIX"),
    "impurities": (None, "GX"),
}


def d04():
    """Metals as constituents; the load is worth 0.23 a pound, so 10 000 lb is all."""
    data = case("d04")
    rows = {row["name"]: row for row in data["rows"]}
    load = rows["FL"]["lower"]
    limits = {
        metal: (
            None if least is None else 100 * rows[least]["lower"] / load,
            100 * rows[most]["upper"] / load,
        )
        for metal, (least, most) in METALS.items()
    }
    contents = {
        metal: {n: 100 * share for n, share in rows[most]["terms"].items()}
        for metal, (_, most) in METALS.items()
    }
    return question_of(
        data,
        load,
        bounds("constituents", **limits),
        bounds("limits", SC1=(None, 100 * rows["SCX"]["upper"] / load)),
        contents=contents,
    )


def d14():
    data = case("d14")
    windows = [
        window(f"nutrient {row['name']}", row["lower"], None)
        for row in data["rows"]
        if row["name"] != "total"
    ]
    names = {f"nutrient {letter}": letter for letter in "ABCD"}
    return question_of(data, 1.0, *windows, figures=terms(data, names))


def d17(total=10.0):
    """Servings; 100 % is ten of them, and what is not eaten is free."""
    data = case("d17")
    windows = [
        window(
            row["name"],
            None if row["lower"] is None else row["lower"] / total,
            None if row["upper"] is None else row["upper"] / total,
        )
        for row in data["rows"]
    ]
    prices = {each["name"]: each["cost"] for each in data["variables"]}
    names = {row["name"]: row["name"] for row in data["rows"]}
    return question_of(
        data,
        total,
        *windows,
        bounds("limits", fish=(50 / total, None), milk=(None, 100 / total)),
        prices={**prices, "not eaten": 0.0},
        figures=terms(data, names, ["not eaten"]),
    )


def f4():
    """One limit written twice: 2 parts of y count as 1 of x; 10 units are 100 %."""
    data = case("f4")
    # A greatest gain is the least of what is left of 4 a unit, the dearest there is.
    prices = {"x": 4.0 - 2.0, "y": 4.0 - 4.0, "neither": 4.0}
    load = {"x": 1.0, "y": 2.0, "neither": 0.0}
    return question_of(
        data,
        10.0,
        window("load", None, 4.0 / 10.0),
        window("load again", None, 4.0 / 10.0),
        prices=prices,
        figures={"load": load, "load again": load},
    )


QUESTIONS = {
    "a1": a1,
    "b1": lambda: pet_can("b1"),
    "b2": lambda: pet_can("b2"),
    "c1": lambda: diet("c1"),
    "c2": lambda: diet("c2"),
    "d01": d01,
    "d04": d04,
    "d14": d14,
    "d17": d17,
    "f4": f4,
}

__all__ = ["MONTHS", "OILS", "QUESTIONS", "SALE", "a1", "month_of"]
