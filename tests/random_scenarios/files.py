"""A specification written as a maker writes it: catalogues and a scenario."""

import csv

from optimiser.reading.fats import FORMS, PARAMETERS
from tests.published.front_door import HEADERS
from tests.random_scenarios.specification import (
    AUTHORITIES,
    PROPERTIES,
    TRIGLYCERIDES,
)

UNITS = {name: unit for name, (unit, _, _, _) in PROPERTIES.items()}
UNITS |= {"wax firmness": "point per %"}
FATS = {
    "materials/triglycerides": "ingredient,triglyceride,percent,evidence,source,note",
    "materials/triglyceride_fusion": "triglyceride,form,melting_degC,heat_kJ_per_mol,"
    "variant,evidence,source,note",
    "materials/triglyceride_correlation": "parameter,unit,alpha,beta_prime,beta,"
    "evidence,source,note",
}
HEADERS = HEADERS | {
    "workshops/case/stock": "ingredient,lot,amount,unit,expiry,note",
    "materials/ingredients": "key,name,inci,category,kind,vegan,palm,source,note",
    "materials/limits": "ingredient,whose,use,min_percent,max_percent,of,written_for,"
    "market,evidence,source,note",
}


def write(asked, folder):
    """Write a specification's files; return the path of its scenario."""
    rows = _rows(asked)
    if asked.opinion:
        rows |= _fats(asked)
    for name, header in (HEADERS | (FATS if asked.opinion else {})).items():
        path = folder / "catalogues" / f"{name}.csv"
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, header.split(","), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows.get(name, ()))
    path = folder / "case.toml"
    path.write_text(scenario_text(asked), encoding="utf-8")
    return path


def _rows(asked):
    """The rows of each table, by its name."""
    rows = {name: [] for name in HEADERS}
    known = {"evidence": "measured", "source": "case"}
    rows["materials/sources"] = [{"key": "case", "reference": "Invented"}]
    rows["markets/sources"] = [{"key": "act", "reference": "Invented law"}]
    for each in asked.materials:
        key = {"ingredient": each.key}
        rows["materials/ingredients"].append(
            {"key": each.key, "name": each.name, "category": each.category}
            | {"kind": each.kind, "vegan": each.vegan, "palm": each.palm}
        )
        rows["materials/properties"] += [
            key
            | known
            | _spread(figure)
            | {"property": name, "unit": UNITS[name]}
            | {"at": "" if at is None else f"{at:g} degC"}
            for (name, at), figure in each.figures.items()
        ]
        rows["materials/constituents"] += [
            key | known | _spread(figure) | {"constituent": name, "unit": "%"}
            for name, figure in each.contents.items()
        ]
        rows["materials/limits"] += _limits(each)
        rows["materials/allergens"] += [
            key
            | {a: {True: "yes", False: "no", None: ""}[listed[a]] for a in AUTHORITIES}
            | {"allergen": name, "flag": flag, "evidence": "review", "source": "case"}
            for name, (listed, flag) in each.statuses.items()
        ]
        rows["workshops/case/prices"] += [
            key
            | {"pack": kg, "unit": "kg", "price": price, "freight": freight}
            | {"currency": "EUR"}
            for kg, price, freight in each.packs
        ]
        rows["workshops/case/stock"] += [
            key | {"lot": f"L{number}", "amount": kg, "unit": "kg"}
            for number, kg in enumerate(each.lots)
        ]
    _law(asked, rows)
    return rows


def _limits(material):
    """What suppliers, practice and committees say of an ingredient."""
    key = {"ingredient": material.key, "evidence": "measured", "source": "case"}
    whole = key | {"of": "product"}
    for whose, use, cap, of in material.caps:
        yield key | {"whose": whose, "use": use, "max_percent": cap, "of": of}
    for use, dose in material.doses:
        yield whole | {"whose": "supplier", "use": use, "min_percent": dose}
    for market, use, cap in material.opinions:
        told = {"whose": "opinion", "market": market, "use": use}
        yield whole | told | {"max_percent": cap}
    for use, cap in material.habits:
        told = {"whose": "practice", "use": use, "evidence": "assumed"}
        yield whole | told | {"max_percent": cap}


def _fats(asked):
    """The rows of what fats are made of; each triglyceride's melting is written."""
    known = {"evidence": "measured", "source": "case"}
    return {
        "materials/triglycerides": [
            known | {"ingredient": each.key, "triglyceride": name, "percent": percent}
            for each in asked.materials
            for name, percent in each.made.items()
        ],
        "materials/triglyceride_fusion": [
            known
            | {"triglyceride": name, "form": "beta"}
            | {"melting_degC": melting, "heat_kJ_per_mol": heat}
            for name, (melting, heat) in TRIGLYCERIDES.items()
        ],
        # Read for what has no melting written, which here nothing is.
        "materials/triglyceride_correlation": [
            known
            | {"parameter": name}
            | dict.fromkeys(FORMS, 400.0 if name == "T_inf" else 1.0)
            for name in PARAMETERS
        ],
    }


def _spread(figure):
    low, value, high = (repr(float(each)) for each in figure)
    return {"low": low, "value": value, "high": high}


def _law(asked, rows):
    told = {"instrument": "Act", "entry": "1", "source": "act"}
    factors = {}
    for law in asked.law:
        rows[f"markets/{law.table}"].append(
            told
            | {"market": law.market, "limit": law.name, "use": law.use}
            | {"max_percent": law.high}
        )
        factors |= {(law.name, name): each for name, each in law.factors.items()}
    rows["markets/substances"] = [
        {"limit": limit, "substance": name, "factor": factor}
        for (limit, name), factor in factors.items()
    ]
    rows["markets/shared_limits"] = [
        told
        | {"market": row.market, "group": row.group, "use": row.use}
        | {"substance": name, "max_percent": cap}
        for row in asked.shared
        for name, cap in row.caps.items()
    ]


def scenario_text(asked):
    """The scenario file of a specification."""
    lines = [
        'title = "Case"',
        'workshop = "case"',
        f'use = "{asked.use}"',
        f"market = {_listed(asked.markets)}",
        f"unchecked = {_listed(_without_rows(asked))}",
        f"cautious = {str(asked.cautious).lower()}",
        "[batch]",
        f'size = "{asked.batch_kg!r} kg"',
        "[aim]",
        f"order = {_listed(name for name, _ in asked.aims)}",
        *_table("aim.slack", {name: room for name, room in asked.aims if room}),
        *_table("base", asked.base),
        *_table("parts", {name: list(keys) for name, keys in asked.parts.items()}),
        *_table("pins", dict(asked.pins)),
        *_table("least_if_used", dict(asked.least)),
        *_table("amounts", dict(asked.steps)),
        *_sides("bands", asked.bands),
        *_sides("limits", asked.limits),
        *_sides("constituents", asked.constituents),
    ]
    if asked.only:
        lines += ["[only]", f"ingredients = {_listed(asked.only)}"]
    lines += _exclusions(asked)
    for each in asked.windows:
        lines += ["[[windows]]", f'property = "{each.what}"', f'over = "{each.of}"']
        lines += [] if each.at is None else [f'at = "{each.at:g} degC"']
        lines += [f"without = {_listed(each.without)}"] if each.without else []
        lines += _numbers(min=each.low, max=each.high)
    for each in asked.ratios:
        lines += ["[[ratios]]", f'name = "{each.name}"']
        lines += [f"first = {_listed(each.first)}", f"second = {_listed(each.second)}"]
        lines += _numbers(min=each.low, max=each.high)
    if asked.choices:
        lines.append("[choices]")
    for what, least, most in asked.choices:
        inside = ", ".join(_numbers(at_least=least, at_most=most))
        lines.append(f'"{what}" = {{ {inside} }}')
    lines += _table("closeness", {f"by_{by}": {"max": n} for by, n in asked.closeness})
    if asked.stock_only:
        lines += ["[stock]", "only = true"]
    lines += ["[guard]", f"second_opinion = {str(asked.opinion).lower()}"]
    lines += ["margin = false"]
    lines += ["lauric = false"]
    most = asked.wax_guard
    lines += ["wax = false" if most is None else f"wax = {{ max = {most!r} }}"]
    lines += _table("eased", {name: to for name, to in asked.eased if to is not None})
    dropped = [name for name, to in asked.eased if to is None]
    lines += ["[dropped]", f"rules = {_listed(dropped)}"] if dropped else []
    return "\n".join(lines) + "\n"


def _without_rows(asked):
    """Return the markets asked for of which no row of law was drawn."""
    known = {law.market for law in asked.law} | {row.market for row in asked.shared}
    return [market for market in asked.markets if market not in known]


def _exclusions(asked):
    found = [
        f"{key} = {_listed(names)}"
        for key, names in (
            ("allergens", asked.without_allergens),
            ("ingredients", asked.without),
            ("categories", asked.without_categories),
        )
        if names
    ]
    found += ["vegan = true"] if asked.vegan else []
    found += ["palm_free = true"] if asked.palm_free else []
    return ["[exclude]", f'reading = "{asked.reading}"', *found] if found else []


def _listed(names):
    return "[" + ", ".join(f'"{name}"' for name in names) + "]"


def _value(value):
    if isinstance(value, dict):
        inside = ", ".join(f"{key} = {_value(each)}" for key, each in value.items())
        return f"{{ {inside} }}"
    return _listed(value) if isinstance(value, list) else repr(float(value))


def _table(name, values):
    if not values:
        return []
    return [f"[{name}]", *(f'"{key}" = {_value(each)}' for key, each in values.items())]


def _numbers(**values):
    return [f"{key} = {value!r}" for key, value in values.items() if value is not None]


def _sides(table, bounds):
    lines = [f"[{table}]"] if bounds else []
    for each in bounds:
        inside = _numbers(min=each.low, max=each.high)
        inside += [f'of = "{each.of}"'] if each.of != "product" else []
        lines.append(f'"{each.what}" = {{ {", ".join(inside)} }}')
    return lines
