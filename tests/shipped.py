"""Shipped scenarios as cases for the engine: in no steps, with a stearin allowed."""

from msgspec.structs import replace

from optimiser import reading

__all__ = ["read_scenario"]

FRACTION = "shea_stearin"


def read_scenario(path):
    """Read a scenario with its catalogue; its amounts are in no steps.

    Prices, curves and reaches are those of the answer without steps. Where other hard
    butters may be used the fraction may too: its answers agree with the second
    opinion, which most of what is tested here starts from.
    """
    scenario, catalogue = reading.read_scenario(path)
    only = scenario.only
    if "illipe_butter" in only:
        only = only | {FRACTION}
    return replace(scenario, steps=None, only=only), catalogue
