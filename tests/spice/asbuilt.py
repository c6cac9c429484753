"""One unit out of many built to the same drawing.  Only the netlist sees it; the profile stays
nominal.  All errors are uniform within their limits."""

import random

HEATER_AMPS = 0.05
CORE_LOSS = 0.20
RAIL_LOADS = 0.15
WINDING_OHMS = 0.10


def build(nominal, number, emission_spread=1.0):
    """Circuit number `number` built to `nominal`.  Odd units carry errors that their heaters (and
    loads) share, even ones errors of each part.  emission_spread 3: cathodes between a third
    and three times the rule."""
    chance = random.Random("%s %d" % (nominal.circuit.name, number))
    c = nominal.circuit.copy()

    def off(limit):
        return 1.0 + chance.uniform(-limit, limit)

    shared = number % 2 == 1
    heaters, loads = off(HEATER_AMPS), off(RAIL_LOADS)
    for hot in c.heated():
        hot.amps *= heaters if shared else off(HEATER_AMPS)
    for rail in c.rails:
        for draw in rail.draws:
            draw.amps *= loads if shared else off(RAIL_LOADS)
    core = off(CORE_LOSS)
    c.core_watts *= core
    c.primary_ohms *= off(WINDING_OHMS)
    for w in c.windings:
        w.ohms *= off(WINDING_OHMS)
    c.emission_factor *= emission_spread ** chance.uniform(-1.0, 1.0)
    return c


def meter(chance, watts):
    """A reading with the error that the program assumes when it is told of no meter: 1 % of reading
    and half a step of 0.1 W.  (One that is 0.2 W off and was not told of leaves the band at the
    lowest stages, where that is a tenth of the watts.)"""
    return watts * (1.0 + chance.uniform(-0.01, 0.01)) + chance.uniform(-0.05, 0.05)
