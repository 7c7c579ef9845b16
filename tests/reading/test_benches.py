"""What a workshop weighs and fills with: scale.toml."""

import pytest

from optimiser.domain.bench import Bench, FineScale, Mould
from optimiser.domain.catalogue import Scale
from optimiser.errors import InputError
from optimiser.reading.bench import mould_named, read_bench

MOULDS = """\
[[moulds]]
name = "round bar"
cavities = 6
volume = "60 ml"

[[moulds]]
name = "stick"
net = "4.5 g"
"""


@pytest.fixture
def read(tmp_path):
    folder = tmp_path / "catalogues" / "workshops" / "demo"
    folder.mkdir(parents=True)

    def put(text):
        (folder / "scale.toml").write_text(text, encoding="utf-8")
        return read_bench(tmp_path / "scenarios" / "bar.toml", "demo")

    return put


def test_moulds_losses_and_the_scale_are_read(read):
    text = '[scale]\nreadability = "0.1 g"\n[batch]\nloss = 3\noverfill = 2.5\n'
    bench = read(text + MOULDS)
    assert bench.scale == Scale(pytest.approx(1e-4), None)
    assert (bench.loss, bench.overfill) == (3.0, 2.5)
    assert bench.moulds == (
        Mould("round bar", 6, pytest.approx(60e-6), None),
        Mould("stick", 1, None, pytest.approx(4.5e-3)),
    )
    assert mould_named(bench, "Round_bar").cavities == 6


def test_how_much_fills_vary_is_a_mass(read):
    assert read('[batch]\nspread = "0.6 g"\n').spread == pytest.approx(6e-4)
    with pytest.raises(InputError, match=r"batch\.spread: '0 g' is no spread of fills"):
        read('[batch]\nspread = "0 g"\n')


def test_what_is_not_written_is_not_known(read, tmp_path):
    assert read("") == Bench(Scale(None, None))
    assert read_bench(tmp_path / "bar.toml", "other") == Bench(Scale(None, None))


def test_a_second_scale_is_read_for_small_lines(read):
    text = '[scale]\nreadability = "1 g"\n[fine_scale]\nreadability = "0.01 g"\n'
    bench = read(text + 'most = "200 g"\n')
    assert bench.fine == FineScale(pytest.approx(1e-5), None, pytest.approx(0.2))
    slips = {
        'readability = "0.3 g"\nmost = "200 g"\n': "is no whole part of the step",
        'readability = "1 g"\nmost = "200 g"\n': "is no whole part of the step",
        'readability = "0.01 g"\n': "is missing",
        'readability = 0.01\nmost = "200 g"\n': "is no mass in quotes",
        'readability = "0.01 g"\nmost = "0 g"\n': "is no weighing of a fine scale",
        'readability = "0.01 g"\nmost = "9 g"\nleast = 3\n': "is not a key here",
    }
    for slip, wrong in slips.items():
        with pytest.raises(InputError) as told:
            read(f'[scale]\nreadability = "1 g"\n[fine_scale]\n{slip}')
        assert [each.wrong[: len(wrong)] for each in told.value.problems] == [wrong]
    with pytest.raises(InputError, match="is no table"):
        read("fine_scale = 3\n")


def test_every_slip_of_a_bench_is_told_at_once(read):
    text = """\
[scale]
readability = 0.1
[batch]
loss = 100
overfil = 2
overfill = "2 %"
[[moulds]]
name = "bar"
cavities = 0
volume = "60 g"
[[moulds]]
volume = "60 ml"
depth = 3
[[moulds]]
name = "tin"
[[moulds]]
name = "cup"
net = "60 kilo"
"""
    with pytest.raises(InputError) as told:
        read(text)
    said = [(each.field, each.wrong) for each in told.value.problems]
    assert said == [
        ("scale.readability", "is not a mass in quotes"),
        ("batch", "is not a key here"),
        ("batch.loss", "is not from 0 to below 90 %"),
        ("batch.overfill", "is not a number of percent"),
        ("moulds, number 1: cavities", "is no count of cavities"),
        ("moulds, number 1: volume", "is not an amount that can be told in m^3"),
        ("moulds, number 2", "is not a key here"),
        ("moulds, number 2: name", "is missing"),
        (
            "moulds, number 3",
            "says neither how much a cavity holds nor what a unit weighs",
        ),
        ("moulds, number 4: net", "is not an amount that can be told in kg"),
    ]
    assert all(each.fix for each in told.value.problems)
    assert {each.file for each in told.value.problems} == {"demo/scale.toml"}


def test_two_moulds_of_one_name_and_a_file_that_is_none_are_told(read):
    with pytest.raises(InputError, match="is the name of another mould"):
        read(MOULDS + MOULDS)
    with pytest.raises(InputError) as told:
        read("[scale\n")
    assert len(told.value.problems) == 1
    with pytest.raises(InputError, match="is no list of moulds"):
        read("moulds = 3\n")
    with pytest.raises(InputError, match="is no table"):
        read("batch = 3\n")


def test_a_mould_that_is_not_there_is_told_with_those_that_are(read):
    with pytest.raises(InputError, match="the nearest known name is round bar") as told:
        mould_named(read(MOULDS), "rond bar")
    assert "round bar, stick" in str(told.value)
    with pytest.raises(InputError, match=r"write it into scale\.toml"):
        mould_named(read(""), "round bar")
