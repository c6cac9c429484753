"""Turns ratios: found so that every winding gives its stated volts under load at nameplate
line, then measured anyway; the profile states what was measured."""

import settle
from netlist import State


class Nominal:
    """A circuit whose ratios are found, with what its bench would know of it."""

    def __init__(self, circuit, at_line, state, idle):
        self.circuit = circuit
        self.at_line = at_line       # Measured at nameplate
        self.state = state           # to start neighbours from
        self.idle = idle             # watts, amps, emf with all windings open


def calibrate(circuit):
    c = circuit.copy()
    idle = None
    state = State()
    if c.has_transformer:
        idle = settle.idle(c)
        for w in c.windings:
            w.ratio = w.volts / (0.93 * c.line_volts)
        for _ in range(2):
            measured, state = settle.settle(c, c.line_volts, state)
            for w in c.windings:
                w.ratio *= w.volts / measured.winding_volts[w.name]
    measured, state = settle.settle(c, c.line_volts, state)
    return Nominal(c, measured, state, idle)
