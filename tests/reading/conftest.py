"""A small catalogue and scenario that tests change one line at a time."""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec import Struct

from optimiser.errors import InputError
from optimiser.reading import read_catalogue, read_scenario

FILES = {
    "materials/ingredients.csv": """\
key,name,inci,category,family,aliases,vegan,palm,stage,cautions,source,note
cocoa_butter,cocoa butter,Theobroma Cacao Seed Butter,hard butter,cocoa-type,\
cacao butter;theobroma oil,yes,no,melt,slips;food-look,book,
shea_butter,shea butter,Butyrospermum Parkii Butter,soft butter,other,,yes,no,melt,,,
beeswax,beeswax,Cera Alba,wax,,white wax,no,no,melt,,book,
jojoba_oil,jojoba oil,Simmondsia Chinensis Seed Oil,liquid oil,,,yes,no,melt,,,
lavender_oil,lavender oil,Lavandula Angustifolia Oil,scent,,,yes,no,cool-down,eyes,,
preserver,ready-mixed preservative,,preservative,,,ask,ask,cool-down,,,
""",
    "materials/properties.csv": """\
ingredient,property,at,value,low,high,unit,basis,variant,evidence,source,note
cocoa_butter,solid fat,30 degC,40,35,45,%,NMR,,measured,book,
cocoa_butter,solid fat,30 degC,46,,,%,NMR,other,review,paper,
cocoa_butter,density,20 degC,910,,,kg/m^3,,,compilation,book,
cocoa_butter,melting point,,,31,35,degC,capillary,,memory,book,
beeswax,wax firmness,,5,4,6,,,,estimated,paper,
jojoba_oil,density,25 degC,0.86,,,g/ml,,,measured,book,
""",
    "materials/constituents.csv": """\
ingredient,constituent,low,value,high,unit,evidence,source,note
lavender_oil,linalool,20,,45,%,review,book,
lavender_oil,linalool,25,38,,%,measured,paper,
preserver,phenoxyethanol,,90,,%,supplier,book,
preserver,ethylhexylglycerin,8,,12,%,supplier,book,
""",
    "materials/limits.csv": """\
ingredient,whose,use,min_percent,max_percent,of,evidence,source,note
preserver,supplier,any,0.5,1,product,supplier,book,
beeswax,practice,leave-on,,25,lipids,assumed,book,
""",
    "materials/allergens.csv": """\
ingredient,allergen,EU,GB,US,AU,CA,flag,evidence,source,note
shea_butter,tree nut,no,no,yes,,no,delisted_us_2025,review,book,
cocoa_butter,tree nut,no,no,no,no,no,no_nut_relation,review,book,
""",
    "materials/sources.csv": """\
key,reference,licence,read,note
book,"A book of fats, 2nd edition",facts only,2026-11-25,
paper,A paper on waxes,unknown,2026-11-25,
""",
    "markets/preservatives.csv": """\
market,limit,use,max_percent,counted_as,instrument,entry,verified,source,note
EU,phenoxyethanol,any,1,substance,Annex V,29,text read,act,
EU,sorbic acid,any,0.6,acid,Annex V,4,text read,act,
""",
    "markets/restricted.csv": """\
market,limit,use,max_percent,counted_as,instrument,entry,verified,source,note
GB,linalool,rinse-off,5,substance,Annex III,84,text read,act,
""",
    "markets/substances.csv": """\
limit,substance,factor,note
sorbic acid,sorbic acid,1,
sorbic acid,potassium sorbate,0.7464,molar masses
""",
    "markets/shared_limits.csv": """\
market,group,substance,use,max_percent,instrument,entry,verified,source,note
any,phototoxic oils,lemon oil,leave-on,2,Standards,x,from memory,act,
any,phototoxic oils,lime oil,leave-on,0.7,Standards,x,from memory,act,
""",
    "markets/scent_allergens.csv": """\
market,label_name,substance,leave_on_percent,rinse_off_percent,entry,\
last_day_placing,last_day_supply,verified,source,note
EU,Linalool,linalool,0.001,0.01,84,,,text read,act,
EU,Citral,geranial,0.001,0.01,70,,,text read,act,
EU,Citral,neral,0.001,0.01,70,,,text read,act,
""",
    "markets/climate.csv": """\
zone,kind,description,low_degC,high_degC,verified,source,note
II,climatic zone,subtropical,25,25,secondary,act,
skin,skin,at comfort,32,35,secondary,act,
"skin, hands",skin,in a cool room,24,32,from memory,act,
transit,transit,hot parcel,50,70,from memory,act,
""",
    "markets/sources.csv": """\
key,reference,licence,read,note
act,"Regulation, consolidated",facts only,2026-11-25,
""",
    "workshops/demo/prices.csv": """\
ingredient,pack,unit,price,freight,currency,date,note
cocoa_butter,5,kg,90,10,EUR,2026-11-02,
cocoa_butter,500,g,12,,EUR,2026-11-02,
jojoba_oil,1,l,43,0,EUR,,
beeswax,1,lb,9,,,,
""",
    "workshops/demo/stock.csv": """\
ingredient,lot,amount,unit,expiry,note
cocoa_butter,A1,1.5,kg,2027-09-30,
beeswax,A2,250,g,2026-01-31,
""",
    "workshops/demo/scale.toml": """\
title = "Demo"
[currency]
code = "EUR"
""",
}

SCENARIO = """\
title = "Winter bar"
workshop = "demo"
use = "leave-on"
market = ["EU"]

[base]
"cocoa butter" = 40
"shea butter" = 20
"beeswax" = 10
"jojoba oil" = 30
"""


class Desk(Struct):
    """A folder with a catalogue and scenarios, and how to read them."""

    folder: Path

    def write(self, name, text):
        """Write a file; text or bytes."""
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        content = text if isinstance(text, bytes) else text.encode("utf-8")
        path.write_bytes(content)
        return path

    def table(self, name, old, new):
        """Put ``new`` for ``old``, which must be there once, in a table."""
        text = FILES[name]
        assert text.count(old) == 1, f"{old!r} is there {text.count(old)} times"
        self.write(f"catalogues/{name}", text.replace(old, new))

    def add(self, name, row):
        """Add a row to a table, or make the table with two rows."""
        path = self.folder / "catalogues" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        before = path.read_text(encoding="utf-8") if path.exists() else ""
        self.write(f"catalogues/{name}", f"{before}{row}\n")

    def catalogue(self, workshop="demo"):
        """Return the catalogue."""
        return read_catalogue(self.folder / "catalogues", workshop)

    def catalogue_said(self, workshop="demo"):
        """Return what the catalogue's problems say."""
        with pytest.raises(InputError) as caught:
            self.catalogue(workshop)
        return str(caught.value)

    def scenario(self, text=SCENARIO, name="bar.toml"):
        """Return the scenario of a text."""
        return read_scenario(self.write(name, text))[0]

    def said(self, text=SCENARIO, name="bar.toml"):
        """Return what the problems of a scenario say, its folder left out."""
        with pytest.raises(InputError) as caught:
            self.scenario(text, name)
        return str(caught.value).replace(f"{self.folder}/", "")

    def scenario_with(self, text):
        """Return the scenario with a text after its end."""
        return self.scenario(f"{SCENARIO}\n{text}\n")

    def said_with(self, text):
        """Return what the problems of the scenario with a text after it say."""
        return self.said(f"{SCENARIO}\n{text}\n")

    def said_instead(self, old, new):
        """Return what the problems of the scenario with ``new`` for ``old`` say."""
        assert SCENARIO.count(old) == 1
        return self.said(SCENARIO.replace(old, new))


@pytest.fixture
def desk(tmp_path):
    """A desk with the small catalogue on it."""
    made = Desk(tmp_path)
    for name, text in FILES.items():
        made.write(f"catalogues/{name}", text)
    return made


@pytest.fixture(scope="module")
def read_once():
    """Every catalogue is read anew, for it is readers that are tested."""
