#!/usr/bin/env python3
"""selfcheck.py - is the simulation itself right?  Against handbooks and closed forms, not
against the program.

The computed reference values (capacitor input, choke input, doublers, magnetising current) come
from a solution by pieces of the same textbook circuits; the published ones are named.
"""

import math
import sys
from concurrent.futures import ThreadPoolExecutor

sys.dont_write_bytecode = True  # leave no trace in the source tree

# pylint: disable=wrong-import-position
import ngspice
import physics
import settle
from parts import Circuit, Draw, Rail, Winding, tube

SKIP = 77


def supply(type_name, form, volts, ohms, reservoir, draw, hertz=60.0, **rail):
    """A rectifier on a perfect transformer: the winding's resistance is all there is."""
    tapped = form == "full-wave"
    tubes = [tube("V1", type_name, "heater")] if type_name not in ("silicon",) else []
    c = Circuit("check", "check", 117.0, hertz, tubes=tubes, lamps=[],
                windings=[Winding("heater", tubes[0].volts if tubes else 6.3, 1e-4),
                          Winding("plate", volts, ohms, tapped=tapped)],
                rails=[Rail("main", winding="plate",
                            rectifier="V1" if tubes else "silicon", form=form,
                            reservoir=reservoir, draws=[draw], **rail)],
                primary_ohms=1e-3, core_watts=0.01, mag_linear=0.001, mag_ninth=0.001,
                emission_factor=1e3)
    for w in c.windings:
        w.ratio = w.volts / c.line_volts
    measured, _ = settle.settle(c, c.line_volts)
    return measured


def off(name, got, want, limit):
    relative = (got - want) / want
    return "%s: %.5g, reference %.5g (%+.2f %%, limit %.2g %%)" % (
        name, got, want, 100 * relative, 100 * limit), abs(relative) <= limit


def tungsten():
    """Jones and Langmuir's resistivity table (from memory)."""
    for kelvin, rho in physics.TUNGSTEN:
        yield off("resistivity at %d K" % kelvin, physics.resistivity(kelvin), rho, 0.006)


def heater_law():
    """Steady current of a heater at a share of its rated volts: exponents of published laws.
    Lamps: I ~ V^0.55 (Fink and Beaty, Standard Handbook for Electrical Engineers, 11th ed.,
    1978, p. 22-8); heaters: +5 % volts give +2.6 to +3 % amps (Emission Labs, TN-03)."""
    lamp = math.log(physics.LAMP.steady_amps(1.1) / physics.LAMP.steady_amps(0.9)) / math.log(
        1.1 / 0.9)
    yield off("lamp exponent near rated", lamp, 0.55, 0.06)
    yield off("heater amps at 105 %", physics.INDIRECT.steady_amps(1.05), 1.028, 0.004)


def vacuum_rectifiers():
    """Direct volts at a constant direct current; 5Y3GT also against the handbook's typical
    operation (from memory: 350 V at 125 mA)."""
    rows = (("5Y3GT", 350, 50, 20e-6, 0.125, 357.7), ("5Y3GT", 350, 50, 20e-6, 0.0625, 399.5),
            ("5U4G", 450, 75, 40e-6, 0.225, 474.4), ("6X4", 325, 525, 10e-6, 0.070, 305.9),
            ("EZ80", 300, 215, 50e-6, 0.090, 313.7))
    for kind, volts, ohms, farad, amps, want in rows:
        m = supply(kind, "full-wave", volts, 2.0 * ohms, (farad,), Draw(amps, want, "constant"))
        # the reference has the rated drop but its winding volts are open volts
        yield off("%s %d V %g mA" % (kind, volts, amps * 1e3), m.rail_volts["main"], want, 0.004)
        if kind == "5Y3GT" and amps == 0.125:
            yield off("5Y3GT typical operation", m.rail_volts["main"], 350.0, 0.03)


def capacitor_input():
    """Resistive load R = 1000 ohm on 500 V rms, where a silicon diode's drop is nothing."""
    for form, wrc, rs, want in (("full-wave", 10, 0.02, 1.2296), ("full-wave", 30, 0.05, 1.1743),
                                ("half-wave", 10, 0.05, 0.9980), ("half-wave", 30, 0.02, 1.1870),
                                ("bridge", 10, 0.02, 1.2296)):
        ohms = rs * 1000.0 * (2.0 if form == "full-wave" else 1.0)
        farad = wrc / (377.0 * 1000.0)
        m = supply("silicon", form, 500.0, ohms, (farad,), Draw(0.5, 500.0, "resistive"))
        yield off("%s, omega RC %g, Rs/R %g %%" % (form, wrc, rs * 100),
                  m.rail_volts["main"] / 500.0, want, 0.006)


def doubler():
    for wrc, rs, want in ((30, 0.02, 2.1434), (100, 0.005, 2.5317)):
        farad = wrc / (377.0 * 1000.0)
        m = supply("silicon", "doubler", 500.0, rs * 1000.0, (farad, farad),
                   Draw(1.0, 1000.0, "resistive"))
        yield off("doubler, omega CR %g, Rs/R %g %%" % (wrc, rs * 100),
                  m.rail_volts["main"] / 500.0, want, 0.006)


def choke_input():
    """0.9 of the rms volts above the critical inductance R / (3 omega), more below it."""
    for part, want in ((0.5, 1.0240), (2.0, 0.9000)):
        henry = part * 1000.0 / (3.0 * 377.0)
        m = supply("silicon", "full-wave", 500.0, 0.02, (40.0 / (377.0 * 1000.0),),
                   Draw(0.5, 500.0, "resistive"), choke_input=(henry, 0.01))
        yield off("choke %g of critical" % part, m.rail_volts["main"] / 500.0, want, 0.006)


def core():
    """Magnetising current of i = 0.11 x + 0.08 x^9 A at 117 V 60 Hz; loss as E^1.9."""
    c = Circuit("core", "core", 117.0, 60.0, [], [], [], [], primary_ohms=1e-3,
                core_watts=1e-6, mag_linear=0.11, mag_ninth=0.08)
    for share, want in ((0.5, 0.0389), (0.9, 0.0812), (1.0, 0.1076), (1.1, 0.1586)):
        yield off("magnetising amps at %g" % share, settle.idle(c, share * 117.0)[1], want, 0.005)
    c.mag_linear = c.mag_ninth = 1e-6
    c.core_watts = 5.0
    for share in (0.3, 1.0):
        yield off("core loss at %g" % share, settle.idle(c, share * 117.0)[0],
                  5.0 * share ** 1.9, 0.003)


def emission():
    """Richardson at 1.0 to 1.1 eV and 1050 K, and what is said of receiving tubes: the load is
    nearly whole at 75 to 80 % of heater volts, collapses between 65 and 50 %."""
    kind = physics.INDIRECT
    for share, low, high in ((0.8, 0.9, 1.0), (0.75, 0.85, 1.0), (0.65, 0.5, 0.95),
                             (0.5, 0.05, 0.35), (0.45, 0.0, 0.15)):
        # the rail falls with the line
        wanted = share ** 1.5
        got = physics.limited(wanted, physics.CATHODE_RESERVE
                              * kind.emission(kind.steady(share))) / wanted
        yield "part of the load left at %g of heater volts: %.3f (%.2f .. %.2f)" % (
            share, got, low, high), low <= got <= high


def heater_node():
    """The node in ngspice comes to rest where its equation says."""
    c = Circuit("node", "node", 117.0, 60.0, [tube("V1", "12AX7", "heater")], [],
                [Winding("heater", 6.3, 1e-4)], [], primary_ohms=1e-3, core_watts=1e-3,
                mag_linear=1e-4, mag_ninth=1e-4)
    c.windings[0].ratio = 6.3 / 117.0
    for share in (0.2, 0.6, 1.0):
        m, _ = settle.settle(c, share * 117.0)
        watts = 6.3 * 0.3 * share * physics.INDIRECT.steady_amps(share)
        yield off("heater watts at %g" % share, m.watts - 1e-3 * share ** 1.9, watts, 0.003)


CHECKS = (tungsten, heater_law, heater_node, emission, core, capacitor_input, doubler,
          choke_input, vacuum_rectifiers)


def main():
    if ngspice.version() is None:
        print("1..0 # SKIP ngspice is not installed")
        return SKIP
    failed = 0
    with ThreadPoolExecutor(2) as pool:
        results = pool.map(lambda check: list(check()), CHECKS)
        for number, (check, lines) in enumerate(zip(CHECKS, results), 1):
            good = all(ok for _, ok in lines)
            failed += not good
            print("%sok %d - %s" % ("" if good else "not ", number, check.__name__))
            for text, ok in lines:
                print("# %s%s" % ("" if ok else "WRONG ", text))
    print("1..%d" % len(CHECKS))
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
