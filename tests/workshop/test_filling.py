"""Net content: tolerances, plans and targets against the texts and by drawing lots."""

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom, chi2, norm, t

from optimiser.errors import InputError
from optimiser.reading import shipped_folder
from optimiser.reading.net_content import FILE, TABLE, read_net_content
from optimiser.workshop.filling import (
    _at_most,
    accepted_of,
    check,
    looked_at,
    spread_of,
    target,
)

RULES = read_net_content(shipped_folder("catalogues"))


@pytest.mark.parametrize(
    ("nominal", "lacks"),
    [(30, 2.7), (33, 3.0), (50, 4.5), (60, 4.5), (100, 4.5), (120, 5.4), (250, 9),
     (500, 15), (2000, 30)],
)  # fmt: skip
@pytest.mark.parametrize("market", ["EU", "GB", "CA"])
def test_what_a_pack_may_lack_is_the_directive_s_table(market, nominal, lacks):
    # Directive 76/211/EEC Annex I 2.4, percentages rounded up to a tenth; the same
    # figures in UK SI 2006/659 and in C.R.C. c. 417, Schedule I Part III.
    assert RULES[market].tolerance(nominal) == pytest.approx(lacks)


@pytest.mark.parametrize(
    ("grams", "lacks"), [(28, 2.8), (36, 3.6), (113, 7.2), (340, 16.3)]
)
def test_the_us_variation_of_a_pack(grams, lacks):
    # NIST Handbook 133, Table 2-5, from memory; the 113 g row by a public quotation.
    assert RULES["US"].tolerance(grams) == pytest.approx(lacks)


def test_australia_s_ordinary_rule_is_five_percent_of_any_pack():
    # National Measurement Institute: packs without the AQS mark.
    assert RULES["AU"].tolerance(60) == pytest.approx(3.0)
    assert (RULES["AU"].beyond, RULES["AU"].beyond_accepted) == (1.0, 0)


def test_contents_that_no_row_covers_are_not_known():
    assert RULES["EU"].tolerance(3) is None  # under 5 g: outside the Directive
    assert RULES["GB"].tolerance(12_000) == pytest.approx(150)
    assert RULES["EU"].tolerance(12_000) is None


@pytest.mark.parametrize(
    ("market", "packs", "sample", "accepted"),
    [
        # Directive 76/211/EEC Annex II 2.2.1 and 2.1.3; Germany's 2 % of a full check.
        ("EU", 24, 24, 0), ("EU", 60, 60, 1), ("EU", 300, 30, 1), ("EU", 800, 50, 2),
        ("EU", 5000, 80, 3), ("GB", 80, 80, 2),
        # C.R.C. c. 417 Schedule II Parts I and III.
        ("CA", 8, 8, 0), ("CA", 24, 10, 1), ("CA", 100, 25, 2), ("CA", 1000, 32, 2),
        # NIST Handbook 133, Table 2-1, from memory.
        ("US", 10, 10, 0), ("US", 200, 12, 0), ("US", 1000, 24, 0), ("US", 5000, 48, 1),
    ],
)  # fmt: skip
def test_how_many_are_looked_at_and_how_many_may_be_short(
    market, packs, sample, accepted
):
    rules = RULES[market]
    found, row = looked_at(rules, packs)
    assert (found, accepted_of(rules, found, row)) == (sample, accepted)


def test_the_factors_are_student_s():
    for market, chance in (("EU", 0.995), ("GB", 0.995), ("US", 0.975)):
        for row in RULES[market].samplings:
            if row.factor:
                n = row.sample
                expected = t.ppf(chance, n - 1) / math.sqrt(n)
                assert row.factor == pytest.approx(expected, abs=1e-3)
    for n, factor in RULES["CA"].factors.items():
        expected = t.ppf(0.995, n - 1) / math.sqrt(n)
        assert factor == pytest.approx(expected, rel=1e-3)


def passes(rules, nominal, weights):
    """Judge a batch of fewer than a hundred by the three rules, written out anew."""
    lack = rules.tolerance(nominal)
    short = (weights < nominal - lack).sum(axis=1)
    far = (weights < nominal - rules.beyond * lack).sum(axis=1)
    share = rules.short_share
    may = math.floor(share / 100 * weights.shape[1]) if share else 0
    return (
        (weights.mean(axis=1) >= nominal)
        & (short <= (may if rules.beyond > 1 else far))
        & (far == 0)
    )


@pytest.mark.parametrize("market", ["EU", "GB", "AU", "US"])
@pytest.mark.parametrize("spread", [0.4, 1.5, 3.0])
@pytest.mark.parametrize("nominal", [30.0, 60.0])
def test_batches_filled_to_the_target_keep_the_law_as_often_as_promised(
    market, spread, nominal
):
    rules, packs = RULES[market], 10
    found = target(rules, nominal, packs, spread, confidence=0.95)
    random = np.random.default_rng(11)
    weights = random.normal(found.fill, spread, (20_000, packs))
    kept = passes(rules, nominal, weights).mean()
    assert kept >= 0.95 - 0.005
    # And no more is given away than a bound on a sum of chances costs.
    weights = random.normal(found.fill - 0.25 * spread, spread, (20_000, packs))
    assert passes(rules, nominal, weights).mean() < 0.95


def test_a_plan_of_two_samples_accepts_as_often_as_drawn():
    # The chance of a double sampling plan, with scipy's binomial.
    rules, spread, nominal = RULES["EU"], 3.0, 60.0
    found = target(rules, nominal, 300, spread, confidence=0.9)
    light = norm.cdf((nominal - 4.5 - found.at_sale) / spread)
    accepted = binom.cdf(1, 30, light)
    accepted += binom.pmf(2, 30, light) * binom.cdf(2, 30, light)
    accepted += binom.pmf(3, 30, light) * binom.cdf(1, 30, light)
    accepted += binom.pmf(4, 30, light) * binom.cdf(0, 30, light)
    assert found.chances.short == pytest.approx(1 - accepted, abs=1e-9)


def test_what_is_lost_until_it_is_sold_is_added():
    kept = target(RULES["EU"], 60.0, 24, 1.0, lost_percent=0.0, step=0.01)
    lost = target(RULES["EU"], 60.0, 24, 1.0, lost_percent=2.0, step=0.01)
    assert lost.fill == pytest.approx(kept.fill / 0.98, abs=0.02)
    assert lost.at_sale == pytest.approx(lost.fill * 0.98)


def test_a_fill_is_a_whole_number_of_steps_and_never_below():
    fine = target(RULES["GB"], 60.0, 24, 1.0, step=0.001)
    for step in (0.1, 0.5, 1.0):
        coarse = target(RULES["GB"], 60.0, 24, 1.0, step=step)
        assert coarse.fill / step == pytest.approx(round(coarse.fill / step))
        assert 0 <= coarse.fill - fine.fill < step + 1e-9


def test_the_upper_end_of_a_measured_spread_is_the_chi_square_s():
    for count in (5, 10, 30, 100):
        weights = np.linspace(58, 62, count).tolist()
        found = spread_of(weights)
        measured = np.std(weights, ddof=1)
        exact = measured * math.sqrt((count - 1) / chi2.ppf(0.05, count - 1))
        assert found.measured == pytest.approx(measured)
        assert found.most == pytest.approx(exact, rel=0.02)


GOOD = [60.1, 60.3, 59.8, 60.6, 60.2, 60.0, 59.9, 60.4]


@pytest.mark.parametrize("market", ["EU", "GB", "US", "AU", "CA"])
def test_a_good_batch_is_kept_in_every_market(market):
    found = check(RULES[market], 60.0, GOOD, len(GOOD))
    assert (found.kept, found.more, found.short, found.far) == (True, 0, (), ())


def test_a_batch_is_told_where_it_is_short():
    weights = [*GOOD, 50.5, 57.0, 64.0, 62.0]  # 50.5 g lacks more than twice 4.5 g
    found = check(RULES["EU"], 60.0, weights, len(weights))
    assert (found.kept, found.short, found.far) == (False, (8,), (8,))
    assert found.without_far
    assert check(RULES["EU"], float(found.label), weights, len(weights)).kept
    assert not check(RULES["EU"], found.label + 1.0, weights, len(weights)).kept


@pytest.mark.parametrize(
    ("weights", "said"), [([60.2, 60.1, 40.0], True), ([60.2, 40.0], False)]
)
def test_that_the_others_would_do_is_said_where_there_are_several(weights, said):
    found = check(RULES["EU"], 60.0, weights, len(weights))
    assert found.far == (len(weights) - 1,)
    assert found.without_far is said


def test_a_mean_that_is_short_by_a_hundredth_is_not_kept():
    weights = [59.98, 60.0, 60.01]
    assert not check(RULES["EU"], 60.0, weights, 3).kept
    assert check(RULES["EU"], 60.0, [59.99, 60.0, 60.01], 3).kept


def test_a_sample_of_a_large_batch_is_waited_for():
    found = check(RULES["EU"], 60.0, GOOD, 300)
    assert (found.kept, found.more) == (False, 22)
    sample = (GOOD * 4)[:30]
    assert check(RULES["EU"], 60.0, sample, 300).kept
    # Two short packs: as many again are looked at.
    assert check(RULES["EU"], 60.0, [*sample[:28], 55.0, 55.0], 300).more == 30
    allowed = check(RULES["EU"], 60.0, [each - 0.2 for each in sample], 300)
    assert allowed.mean < 60.0
    assert allowed.least_mean == pytest.approx(60.0 - 0.503 * allowed.deviation)


def test_every_row_that_is_wrong_is_told(tmp_path):
    folder = tmp_path / "catalogues" / "markets"
    folder.mkdir(parents=True)
    (folder / "sources.csv").write_text("key,reference\ns,A text\n", encoding="utf-8")
    rows = [
        "EU,tolerance,5,50,9,4.5,,,,,retrieved,A,,s,",
        "EU,sample,,,,,,,,,retrieved,A,,s,",
        "e1,mean,1,2,,,,,,,guessed,,,other,",
        "EU,beyond,,,2,,,,-1,,memory,A,,s,",
        "EU,size,,,,,,,,,memory,A,,s,",
    ]
    text = "\n".join([TABLE.header, *rows])
    (folder / FILE).write_text(text + "\n", encoding="utf-8")
    with pytest.raises(InputError) as told:
        read_net_content(Path(tmp_path / "catalogues"))
    found = {(each.row, each.field) for each in told.value.problems}
    assert found >= {
        (2, "percent"), (3, "over"), (4, "market"), (4, "read"), (4, "instrument"),
        (4, "source"), (5, "accept"), (6, "rule"),
    }  # fmt: skip


@pytest.mark.parametrize("light", [1e-6, 0.001, 0.02, 0.5])
@pytest.mark.parametrize("sample", [125, 1000, 1001, 50_000])
def test_the_chance_that_a_plan_accepts_is_the_binomial_one(sample, light):
    # The logarithm of a factorial is good to a few parts in 1e16 of itself.
    for found in (0, 7, sample // 50):
        chance = _at_most(found, sample, light)
        assert chance == pytest.approx(binom.cdf(found, sample, light), abs=1e-9)
