"""What a maker writes of his own: every table that a workshop may hold, invented."""

DEMO = "catalogues/workshops/demo"
# What stands below scale.toml and costs.toml of the shipped workshop.
MAKER = """
[maker]
name = "A kitchen"
address = "1 Lane, Town"
contact = "bars@example.org"

[maker.EU]
name = "A kitchen of there"
"""
TIN = """
[[packaging]]
name = "wrap"
price = { usual = 0.2, low = 0.1, high = 0.3 }
product = "massage bar"
"""
TABLES = {
    "ingredients.csv": "key,name,inci,inci_evidence,category,kind,dissolves,family,"
    "aliases,vegan,palm,stage,cautions,made_in,source,note\n"
    "marigold_oil,marigold in rapeseed,,,liquid oil,,no,,marigold rapeseed oil,yes,no,"
    "melt,slips,rapeseed oil,mine,\n"
    "beeswax,,,,,,,,my wax;block wax,no,,melt,,,,only what differs\n",
    "properties.csv": "ingredient,property,at,value,low,high,unit,basis,variant,"
    "evidence,source,note\n"
    "beeswax,density,20 degC,958,950,965,kg/m^3,,,measured,mine,\n"
    "cocoa butter,snap,,3,2,4,1,,,measured,mine,\n"
    "shea_butter,solid fat,25 degC,,30,40,%,,,supplier,mine,\n",
    "calibration.csv": "ingredient,property,at,value,low,high,unit,basis,variant,"
    "evidence,source,note\n"
    "cocoa_butter,solid fat,25 degC,60,55,65,%,,,measured,mine,\n",
    "constituents.csv": "ingredient,constituent,low,value,high,unit,evidence,source,"
    "note\nlavender_oil,linalool,20,30,40,%,supplier,mine,\n"
    "lavender_oil,geraniol,0,,1,%,supplier,mine,\n",
    "limits.csv": "ingredient,whose,use,min_percent,max_percent,of,written_for,market,"
    "evidence,source,note\nlavender_oil,supplier,any,,2,product,,,supplier,mine,\n"
    "lavender_oil,opinion,leave-on,,1,product,,EU,supplier,mine,\n"
    "beeswax,practice,leave-on,1,30,lipids,lip balm,,memory,mine,\n",
    "allergens.csv": "ingredient,allergen,EU,GB,US,AU,CA,flag,evidence,source,note\n"
    "marigold_oil,tree nut,no,no,no,no,no,,supplier,mine,\n",
    "cautions.csv": "key,products,use,who,when,tags,categories,kinds,ingredients,"
    "constituents,over_percent,without,weight,text,reason,evidence,source,note,label,"
    "danger,strictness\nmy_slip,,any,,,,wax,,,,5,,2,wipe the floor,it slips,memory,"
    "mine,,,,\n",
    "sources.csv": "key,reference,licence,read,note\nmine,My book,own,2026-11-01,\n",
    "suppliers.csv": "supplier,freight,free_from,minimum,note\nA shop,5,50,10,\n",
    "recipe_names.csv": "written,stands_for,note\nblock,beeswax,\nbutter,butters,\n",
    "fatty_acids.csv": "ingredient,fatty_acid,low,high,variant,evidence,source,note\n"
    "rapeseed_oil,oleic,50,70,,supplier,mine,\nrapeseed_oil,linoleic,15,30,,supplier,"
    "mine,\n",
    "solutes.csv": "ingredient,part,percent,molar_mass_g_per_mol,melting_degC,"
    "heat_kJ_per_mol,evidence,source,note\n"
    "beeswax,esters,100,660,63,110,memory,mine,\n",
    "markets/restricted.csv": "market,limit,use,products,max_percent,from,read,"
    "instrument,entry,source\nZZ,my acid,any,lip,0.2,2020-01-01,,Order,4,mine\n",
    "markets/substances.csv": "limit,substance,factor,names,source,note\n"
    "my acid,my acid,1,acid of mine,mine,\n",
    "markets/duties.csv": "market,about,kind,use,text,instrument,source\n"
    "ZZ,label,label,any,ingredients on the pack,Order,mine\n",
    "markets/labels.csv": "market,rule,of,value,instrument\n"
    "ZZ,any order,,below 1,Order\nZZ,word,scent,Fragrance,Order\n",
    "markets/net_content.csv": "market,rule,over,up_to,percent,grams,sample,accept,"
    "factor,instrument\nZZ,tolerance,0,100,,2.5,,,,Order\n",
    "markets/scent_allergens.csv": "market,label_name,substance,leave_on_percent,"
    "rinse_off_percent,source\nZZ,Linalool,linalool,0.001,0.01,mine\n",
    "markets/shared_limits.csv": "market,group,substance,use,max_percent,instrument,"
    "source\nZZ,acids,my acid,any,0.3,Order,mine\n",
    "markets/preservatives.csv": "market,limit,use,products,max_percent,from,read,"
    "instrument,entry,source\nZZ,my acid,any,,0.5,,,Order,1,mine\n",
}
# A scenario with the keys that the first one has not.
OTHER = """\
extends = "bar.toml"
title = "Other"
product = "lip balm"
market = ["EU", "ZZ"]
on = 2026-11-20
unchecked = ["ZZ"]
cautious = true

[aim]
order = ["cost", "change"]

[only]
ingredients = ["marigold in rapeseed", "rapeseed oil"]

[constituents]
"linalool" = { max = 0.9, why = "mild" }

[[windows]]
name = "in the sun"
property = "solid fat"
at = "35 degC"
over = "lipids"
without = ["cetyl alcohol"]
max = "as the base at 30 degC"

[[windows]]
property = "iodine value"
min = 1

[amounts]
step = 0.5
scent = 0.1

[stock]
only = false
today = 2026-11-20

[climate]
zone = "II"

[closeness]
by_kind = { max = 60 }
by_category = 60

[guard]
lauric = { max = 20 }
wax = false
margin = true

[choices]
all = { at_least = 3, at_most = 9 }

[eased]
"practice/beeswax/max" = 40

[dropped]
rules = ["supplier/lavender oil/max"]
"""


def own(folder):
    """Write all of it into a workspace that has the shipped workshop."""
    place = folder / DEMO
    (place / "markets").mkdir()
    for name, text in TABLES.items():
        (place / name).write_text(text, encoding="utf-8")
    for name, more in (("scale.toml", MAKER), ("costs.toml", TIN)):
        text = (place / name).read_text("utf-8")
        (place / name).write_text(text + more, encoding="utf-8")
    (folder / "scenarios" / "other.toml").write_text(OTHER, encoding="utf-8")
