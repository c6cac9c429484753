#!/usr/bin/env python3
"""fault_units.py [OPTION...] DIR - faulty units in ngspice, as a restorer would meet them

Every fault of tests/spice/faults.py, each in a unit of its own out of several built to the same
drawing (tests/spice/asbuilt.py), is walked up the stages from cold and discharged; so are the
same units without a fault.  Writes NAME.csv and NAME.ini (the profile, which knows neither the
scatter nor the fault) for every circuit into DIR.  The kept ones in tests/watch/data were made
with no option.  Watts are the unit's own: whoever reads them adds the meter.

  --only NAME,…   these circuits
  --other         those of other_circuits.py, cathodes between half and twice the rule: what
                  tests/watch/held was made with
  --jobs N        processes at a time (2)
  --check         no writing: simulates a few of the units that DIR holds once more and compares;
                  results as TAP
"""

import argparse
import csv
import os
import sys
from concurrent.futures import ProcessPoolExecutor

sys.dont_write_bytecode = True  # leave no trace in the source tree
sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "spice"))

# pylint: disable=wrong-import-position
import asbuilt
import calibrate
import circuits
import faults
import ngspice
import other_circuits
import profile_text
import settle
from netlist import State

SHARES = (0.15, 0.30, 0.45, 0.60, 0.75, 0.90, 1.00)
UNITS = 4  # of each circuit; the faults are dealt out among them


def discharged(circuit):
    """Where a unit starts that has lain for years."""
    state = State()
    for rail in circuit.rails:
        state.volts["c_" + rail.name] = 0.0
        state.volts["c2_" + rail.name] = 0.0
        state.amps["l_" + rail.name] = 0.0
    return state


def walk(circuit):
    """Measured at each share of line volts, from the bottom up; ends early where ngspice does."""
    state, out = discharged(circuit), []
    try:
        for share in SHARES:
            measured, state = settle.settle(circuit, share * circuit.line_volts, state)
            out.append(measured)
    except ngspice.NgspiceError:
        pass
    return out


def units(nominal, emission_spread=1.0):
    """(words, unit number, circuit): the healthy ones first."""
    built = [asbuilt.build(nominal, number, emission_spread) for number in range(UNITS)]
    out = [("healthy", number, unit) for number, unit in enumerate(built)]
    dealt = [faults.every(unit, nominal.at_line.watts) for unit in built]
    for k, (words, _) in enumerate(dealt[0]):
        out.append((words, k % UNITS, dealt[k % UNITS][k][1]))
    return out


def heated_windings(circuit):
    return [w.name for w in circuit.windings
            if any(h.winding == w.name for h in circuit.heated())]


def write(pool, nominal, folder, emission_spread):
    circuit = nominal.circuit
    cases = units(nominal, emission_spread)
    head = ["fault", "unit", "line_volts", "watts", "amps", "settled"]
    head += ["winding_%s_volts" % name for name in heated_windings(circuit)]
    head += ["rail_%s_volts" % rail.name for rail in circuit.rails]
    path = os.path.join(folder, circuit.name + ".csv")
    with open(path, "w", encoding="utf-8", newline="") as f:
        out = csv.writer(f, lineterminator="\n")
        out.writerow(head)
        for (words, number, _), walked in zip(cases, pool.map(walk, [c for _, _, c in cases])):
            for m in walked:
                out.writerow(row_of(words, number, m, circuit))
            if len(walked) < len(SHARES):
                print("%s, %s: ngspice gave up at %g of line" % (circuit.name, words,
                                                                 SHARES[len(walked)]))
    with open(os.path.join(folder, circuit.name + ".ini"), "w", encoding="utf-8") as f:
        f.write(profile_text.profile(nominal))
    print("wrote " + path, flush=True)


def row_of(words, number, m, circuit):
    row = [words, number, "%.2f" % m.line_volts, "%.4g" % m.watts, "%.4g" % m.amps,
           int(m.settled)]
    row += ["%.3f" % m.winding_volts[name] for name in heated_windings(circuit)]
    row += ["%.2f" % m.rail_volts[rail.name] for rail in circuit.rails]
    return [str(cell) for cell in row]


def differs(kept, fresh):
    """Does any figure of two rows differ by more than 1 % and half a volt?"""
    return kept[:3] != fresh[:3] or any(
        abs(float(a) - float(b)) > 0.01 * abs(float(a)) + (0.5 if k > 5 else 0.01)
        for k, (a, b) in enumerate(zip(kept, fresh)) if k > 2 and k != 5)


def check(folder):
    """A healthy unit and a faulty one of two circuits."""
    failed = number = 0
    for name, fault in (("solid-state", "rail quiet dead"), ("oscillator", "rail main leak 10k")):
        nominal = calibrate.calibrate(circuits.by_name(name))
        with open(os.path.join(folder, name + ".csv"), encoding="utf-8", newline="") as f:
            kept = list(csv.reader(f))[1:]
        for words, unit, circuit in units(nominal):
            if words != fault and (words, unit) != ("healthy", 0):
                continue
            number += 1
            fresh = [row_of(words, unit, m, circuit) for m in walk(circuit)]
            same = [row for row in kept if row[:2] == [words, str(unit)]]
            wrong = [(a, b) for a, b in zip(same, fresh) if differs(a, b)]
            fine = len(same) == len(fresh) and not wrong
            failed += not fine
            print("%sok %d - %s, %s as kept" % ("" if fine else "not ", number, name, words))
            for a, b in wrong:
                print("# kept  %s\n# fresh %s" % (",".join(a), ",".join(b)))
    print("1..%d" % number)
    return 1 if failed else 0


def main():
    p = argparse.ArgumentParser(description=__doc__,
                                formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("folder", metavar="DIR")
    p.add_argument("--only")
    p.add_argument("--other", action="store_true")
    p.add_argument("--jobs", type=int, default=2)
    p.add_argument("--check", action="store_true")
    args = p.parse_args()
    if args.check:
        return check(args.folder)
    made = [make() for make in (other_circuits.ALL if args.other else circuits.ALL)]
    if args.only:
        made = [circuit for circuit in made if circuit.name in args.only.split(",")]
    os.makedirs(args.folder, exist_ok=True)
    with ProcessPoolExecutor(max_workers=args.jobs) as pool:
        for nominal in pool.map(calibrate.calibrate, made):
            write(pool, nominal, args.folder, 2.0 if args.other else 1.0)
    return 0


if __name__ == "__main__":
    sys.exit(main())
