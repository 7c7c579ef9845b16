"""Cautions of a catalogue and of a maker's own workshop."""

import pytest

HEADER = (
    "key,products,use,who,when,tags,categories,kinds,ingredients,constituents,"
    "over_percent,without,weight,text,reason,evidence,source,note"
)
SHARED = "materials/cautions.csv"
OWN = "workshops/demo/cautions.csv"
SLIPS = "slips,,rinse-off,,,,soft butter;wax,,,,,,80,Slips: {what}.,Fat,memory,book,"


def add(desk, *rows, name=SHARED, header=HEADER):
    desk.write(f"catalogues/{name}", "\n".join([header, *rows]) + "\n")


def test_a_catalogue_without_cautions_has_none_and_that_is_no_slip(desk):
    assert desk.catalogue().cautions == ()


def test_a_caution_is_read_with_what_calls_for_it(desk):
    add(
        desk,
        SLIPS,
        "sun,lip;face,leave-on,user,,sun,,,lavender oil,,2,preservative,90,"
        "Burns: {what}.,Light,review,paper,",
        "mint,,,maker,,,,,,Linalool,0.5,,40,Ages: {what}.,Air,review,paper,",
    )
    slips, sun, mint = desk.catalogue().cautions
    assert (slips.use, slips.who, slips.weight) == ("rinse-off", "user", 80)
    assert slips.categories == ("soft butter", "wax")
    assert (sun.products, sun.tags, sun.over) == (("lip", "face"), ("sun",), 2)
    assert (sun.ingredients, sun.without) == (("lavender_oil",), ("preservative",))
    assert (mint.constituents, mint.who, mint.source) == (
        ("linalool",),
        "maker",
        "paper",
    )
    assert str(mint.origin) == "catalogues/materials/cautions.csv, row 4"


def test_a_workshop_says_a_caution_otherwise_and_adds_its_own(desk):
    add(desk, SLIPS)
    add(
        desk,
        "slips,10,Our floor has a mat.",
        "bees,,Our honey is raw.",
        name=OWN,
        header="key,weight,text",
    )
    slips, bees = desk.catalogue().cautions
    assert (slips.text, slips.weight) == ("Our floor has a mat.", 10)
    assert (bees.text, bees.weight, bees.reason) == ("Our honey is raw.", 75, "")
    (shared,) = desk.catalogue(workshop=None).cautions
    assert shared.text == "Slips: {what}."


def made(**cells):
    """A row that is right but for some cells."""
    right = dict.fromkeys(HEADER.split(","), "") | {
        "key": "a", "categories": "wax", "weight": "50", "text": "Mind {what}.",
        "reason": "So", "evidence": "memory", "source": "book",
    }  # fmt: skip
    return ",".join((right | cells).values())


WRONG = [
    ({"products": "lips balm"}, "column products: 'lips balm' is not a known"),
    ({"products": "lip;body"}, "'lip;body' is not a known"),
    ({"use": "both"}, "column use: 'both'"),
    ({"who": "cook"}, "column who: 'cook'"),
    ({"when": "raining"}, "column when: 'raining'"),
    ({"tags": "dusty"}, "the nearest known name is dust"),
    ({"categories": "waxes"}, "'waxes' is not a known category; the nearest"),
    ({"kinds": "mael"}, "not a known kind; the nearest known names are meal"),
    ({"ingredients": "lavendr oil"}, "the nearest known name is lavender_oil"),
    ({"categories": "", "constituents": "linalol"}, "nearest known name is linalool"),
    ({"constituents": "linalool"}, "stand beside ingredients"),
    ({"without": "preserver"}, "the nearest known name is preservative"),
    ({"over_percent": "101"}, "is more than 100"),
    ({"over_percent": "2", "categories": "", "text": "M"}, "about no ingredients"),
    ({"weight": ""}, "column weight: is blank"),
    ({"weight": "-1"}, "is negative"),
    ({"text": ""}, "column text: is blank"),
    ({"text": "Mind {who}."}, "has braces with something else in them"),
    ({"text": "Mind {."}, "has braces with something else in them"),
    ({"categories": ""}, "says {what}, and the row is about no ingredients"),
    (
        {"text": "No wax{known}: {what}."},
        "says {known}, and the row is without nothing",
    ),
    ({"reason": ""}, "column reason: is blank"),
    ({"evidence": "invented"}, "column evidence: 'invented'"),
    ({"source": "nobody"}, "column source: 'nobody'"),
    ({"key": ""}, "column key: is blank"),
]


@pytest.mark.parametrize(("cells", "said"), WRONG)
def test_a_slip_in_a_caution_is_told_with_file_row_and_remedy(desk, cells, said):
    add(desk, made(**cells))
    told = " ".join(desk.catalogue_said().split())
    assert said in told
    assert "catalogues/materials/cautions.csv, row 2" in told
    assert "To fix:" in told


def test_every_slip_of_a_workshops_cautions_is_told_at_once(desk):
    add(desk, "a,x,Mind.", "b,200,Mind {it}.", name=OWN, header="key,weight,text")
    told = desk.catalogue_said()
    assert told.count("workshops/demo/cautions.csv, row") == 3
