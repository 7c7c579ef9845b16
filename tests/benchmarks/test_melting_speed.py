"""Processor seconds for the melting model; printed (pytest tests/benchmarks -s)."""

import time

import numpy as np
from msgspec.structs import replace

from optimiser.domain.material import Origin, PackPrice
from optimiser.explaining import formulate
from optimiser.explaining.solid_fat import solid_fat_curve
from optimiser.reading import read_catalogue, shipped_folder
from optimiser.science.melting import solids
from tests.rules import workbench as wb

KNOWN = read_catalogue(shipped_folder("catalogues"), "demo")
BAR = {
    "cocoa_butter": 30.0,
    "shea_butter": 20.0,
    "coconut_oil": 15.0,
    "sweet_almond_oil": 20.0,
    "beeswax": 10.0,
    "cetyl_alcohol": 5.0,
}
HERE = Origin("benchmark")


def best_of(times, work):
    seconds = []
    for _ in range(times):
        begun = time.process_time()
        work()
        seconds.append(time.process_time() - begun)
    return min(seconds)


def test_one_blend_over_36_temperatures():
    degrees = np.arange(10.0, 46.0)
    melt = best_of(5, lambda: solids(BAR, degrees, KNOWN))
    whole = best_of(5, lambda: solid_fat_curve("bar", BAR, KNOWN, degrees.tolist()))
    print(f"\nsolids at 36 temperatures: {1e3 * melt:.1f} ms")
    print(f"the whole curve with its melting point: {1e3 * whole:.1f} ms (goal 20)")


def test_solving_again_with_forty_ingredients():
    solid = KNOWN.figures["solid fat"]
    able = [
        key
        for key, points in solid.items()
        if {20.0, 30.0} & set(points) or KNOWN.ingredients[key].category == "liquid oil"
    ]
    random = np.random.default_rng(7)
    for seed in range(3):
        chosen = able[:40]
        priced = {
            key: (
                PackPrice(
                    key, 1.0, float(random.uniform(4, 30)), 0.0, "EUR", None, HERE
                ),
            )
            for key in chosen
        }
        scenario = wb.scenario(
            only=frozenset(chosen),
            bands=(wb.bound("lipids", 0.0), wb.bound("liquid oil", 10.0)),
            lauric_guard=wb.bound("lauric", of="butters", table="guard"),
            windows=tuple(
                replace(
                    wb.window("solid fat", low, high, at=at, over="lipids"),
                    origin=wb.toml(f"windows[{number}]"),
                )
                for number, (low, high, at) in enumerate(
                    [(45.0, None, 20.0), (20.0, None, 30.0), (None, 10.0, 35.0)]
                )
            ),
        )
        known = replace(KNOWN, prices=priced)
        begun = time.perf_counter()
        answer = formulate(scenario, known)
        seconds = time.perf_counter() - begun
        said = getattr(answer, "second_opinion", None)
        told = said and f"{said.outcome}, {said.rounds} rounds, {said.starts} starts"
        print(f"\n{len(chosen)} ingredients, prices {seed}: {seconds:.2f} s ({told})")
