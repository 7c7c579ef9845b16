"""The table [scale] of a workshop's scale.toml."""

import pytest

from optimiser.domain.catalogue import Scale
from optimiser.errors import InputError
from optimiser.reading.workshops import read_scale


@pytest.fixture
def write(tmp_path):
    folder = tmp_path / "catalogues" / "workshops" / "demo"
    folder.mkdir(parents=True)

    def put(text):
        (folder / "scale.toml").write_text(text, encoding="utf-8")
        return tmp_path / "scenarios" / "bar.toml"

    return put


def test_a_scale_is_read_in_kg(write):
    file = write('[scale]\nreadability = "0.1 g"\nsmallest = "5 g"\n')
    assert read_scale(file, "demo") == Scale(pytest.approx(1e-4), pytest.approx(5e-3))


def test_what_is_not_written_is_not_known(write):
    assert read_scale(write("[currency]\n"), "demo") == Scale(None, None)
    assert read_scale(write(""), "another") == Scale(None, None)


def test_every_slip_is_told(write):
    with pytest.raises(InputError) as told:
        read_scale(write('[scale]\nreadability = 0.1\nsmallest = "0 g"\n'), "demo")
    assert str(told.value) == (
        "demo/scale.toml, key scale.readability: '0.1' is not a mass in quotes.\n"
        '  To fix: write it like readability = "0.1 g".\n'
        "demo/scale.toml, key scale.smallest: '0 g' is not above zero.\n"
        '  To fix: write it like smallest = "5 g".'
    )


def test_a_table_that_is_none_is_told(write):
    with pytest.raises(InputError, match="is no table"):
        read_scale(write("scale = 3\n"), "demo")
    with pytest.raises(InputError, match="is not a number, a space and a unit"):
        read_scale(write('[scale]\nreadability = "0.1g"\n'), "demo")
