#!/usr/bin/env python3
"""warm_heater.py HEATER_IN_TIME - a heater that warms up, steps and cools, in ngspice and in the model

The simulation has a tungsten node of its own (tests/spice/physics.py: another fit to the resistivity
table, another integrator) with the real heat capacity: 12 s times rated watts over rated absolute
temperature for a heater inside a cathode (published warm-up times), 5 s for a filament, 0.12 s for
a pilot lamp.  At the model's rated temperatures the amps must agree within 3 per cent at every
moment; at the rig's own, which lie lower, within 12 (told, for the difference that the choice of
a temperature makes).  Results as TAP.
"""

import os
import subprocess
import sys

sys.dont_write_bytecode = True  # leave no trace in the source tree
sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "spice"))

# pylint: disable=wrong-import-position
import ngspice
import physics

# kind, rated K, conducted share of the loss, seconds of heat capacity, longest step, shares of volts
# in turn with their seconds
CASES = (
    ("indirect", 1450.0, 0.06, 12.0, 0.05, ((1.0, 40), (0.5, 60), (0.85, 40))),
    ("indirect", 1450.0, 0.06, 12.0, 0.05, ((0.3, 120), (0.45, 90), (0.0, 60), (0.6, 60))),
    ("filament", 1100.0, 0.06, 5.0, 0.02, ((1.0, 20), (0.4, 40), (0.9, 20))),
    ("lamp", 2200.0, 0.03, 0.12, 0.0002, ((1.0, 0.5), (0.3, 2.0), (0.7, 1.0))),
)
WITHIN = 0.03
OWN_WITHIN = 0.12
LINE_CYCLE_S = 0.02


def simulate(kind, capacity, step, walk):
    """(seconds, amps over rated amps) of one heater on its own source."""
    points, now = [], 0.0
    for share, seconds in walk:
        points += [(now + 1e-6, share), (now + seconds, share)]
        now += seconds
    volts = " ".join("%.7g %.7g" % point for point in [(0.0, 0.0)] + points)
    lines = ["* heater in time", "v1 top 0 pwl(%s)" % volts, "vs top a 0",
             "bh a 0 i = v(a)/%s" % kind.spice_resistance("u"),
             "bt 0 u i = v(a)*v(a)/%s-%s" % (kind.spice_resistance("u"), kind.spice_loss("u")),
             "cu u 0 %.9g ic=%.9g" % (capacity, kind.ambient),
             ".save i(vs)", ".options reltol=1e-5 abstol=1e-9 method=gear",
             ".tran %.6g %.6g 0 %.6g uic" % (step, now, step), ".end"]
    waves = ngspice.run("\n".join(lines) + "\n")
    return waves.time, waves["i(vs)"]


def model(program, name, step, walk):
    """The same from the model, as {seconds: amps}."""
    words = [program, name, "%g" % step]
    for share, seconds in walk:
        words += ["%g" % share, "%g" % seconds]
    text = subprocess.run(words, stdout=subprocess.PIPE, check=True).stdout.decode("ascii")
    return [tuple(float(x) for x in line.split()) for line in text.splitlines()]


def at(times, values, when):
    low, high = 0, len(times) - 1
    while high - low > 1:
        middle = (low + high) // 2
        if times[middle] <= when:
            low = middle
        else:
            high = middle
    width = times[high] - times[low]
    part = (when - times[low]) / width if width > 0.0 else 0.0
    return values[low] + part * (values[high] - values[low])


def edges(walk):
    out, now = [], 0.0
    for _, seconds in walk:
        out.append(now)
        now += seconds
    return out


def worst(program, case, kind):
    """Largest relative difference of the amps, and when; the first line cycle after each step of
    the volts is passed over, as no meter sees less."""
    name, _, _, capacity, step, walk = case
    times, amps = simulate(kind, capacity, step, walk)
    found = (0.0, 0.0)
    for when, ours in model(program, name, 2.0 * step, walk):
        if any(0.0 <= when - edge < LINE_CYCLE_S for edge in edges(walk)):
            continue
        theirs = at(times, amps, when)
        if theirs > 1e-3:
            found = max(found, (abs(ours / theirs - 1.0), when))
    return found


def main():
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    if ngspice.version() is None:
        print("1..0 # SKIP ngspice is not installed")
        return 77
    failed = 0
    for number, case in enumerate(CASES, 1):
        name, kelvin, conducted = case[:3]
        same, when = worst(sys.argv[1], case, physics.HeaterKind(kelvin, conducted, 1050.0))
        own, own_when = worst(sys.argv[1], case, physics.HEATER_KINDS[name])
        fine = same < WITHIN and own < OWN_WITHIN
        failed += not fine
        print("%sok %d - %s over %s" % ("" if fine else "not ", number, name, ", ".join(
            "%g s at %g" % (seconds, share) for share, seconds in case[5])))
        print("# largest difference of the amps %.1f %% (at %.2f s); with the rig's own rated "
              "temperature %.1f %% (at %.2f s)" % (100 * same, when, 100 * own, own_when))
    print("1..%d" % len(CASES))
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
