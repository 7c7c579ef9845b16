"""Who makes it and where, as the scale.toml of a workshop says it for labels."""

import pytest

from optimiser.domain.label import Maker
from optimiser.errors import InputError
from optimiser.reading.makers import read_maker

OWN = """\
[maker]
name = "A  Maker"
address = "1 Street, Town"
contact = "post@example.org"

[maker.UK]
name = "A person"
address = "2 Road, City"
"""


@pytest.fixture
def read(tmp_path):
    folder = tmp_path / "catalogues" / "workshops" / "demo"
    folder.mkdir(parents=True)

    def put(text):
        if text is not None:
            (folder / "scale.toml").write_text(text, encoding="utf-8")
        return read_maker(tmp_path / "scenarios" / "bar.toml", "demo")

    return put


def test_a_maker_is_read_with_who_stands_for_it_elsewhere(read):
    found = read(OWN)
    assert (found.name, found.address) == ("A Maker", "1 Street, Town")
    assert found.contact == "post@example.org"
    assert found.on("GB") == Maker("A person", "2 Road, City")
    assert found.on("US") is found


@pytest.mark.parametrize("text", [None, "", '[currency]\ncode = "EUR"\n'])
def test_nobody_is_made_up_where_nobody_is_named(read, text):
    assert read(text) == Maker()
    assert not read(text).says


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('maker = "me"', "maker: 'me' is no table.\n  To fix: write [maker]"),
        ("[maker]\nname = 3\n", "maker.name: '3' is no text in quotes.\n  To fix: write"
         ' name = "..."'),
        ('[maker]\nadress = "x"\n', "maker.adress: is not a key here.\n  To fix: the"
         " nearest known name is address; known are name, address, contact"),
        (f'[maker]\nname = "{301 * "x"}"\n', "is more than 300 signs"),
        ('[maker.GB]\nphone = "x"\n', "maker.GB.phone: is not a key here"),
    ],
)  # fmt: skip
def test_a_slip_in_it_is_told_with_what_would_mend_it(read, text, told):
    with pytest.raises(InputError) as error:
        read(text)
    assert told in str(error.value)
