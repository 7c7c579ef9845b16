"""What a maker wrote, for commands to read: test bars that were judged, a formula."""

TRIALS = """\
trial,room,verdict,cocoa butter,refined shea butter,beeswax,sunflower oil
a,21 degC,right,40,20,11,29
b,27 degC,too soft,40,20,11,29
c,25 degC,too soft,50,20,10,20
d,22 degC,too soft,30,20,8,42
"""
FORMULA = """\
ingredient,percent
cocoa butter,30
refined shea butter,20
beeswax,13
sunflower oil,36.5
mixed tocopherols,0.5
"""
UNITS = "net\n59\n60\n61\n"


def write_all(folder):
    """Write them as trials.csv, mine.csv and units.csv."""
    texts = {"trials.csv": TRIALS, "mine.csv": FORMULA, "units.csv": UNITS}
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
