#!/usr/bin/env python3
"""spice.py [--mainstair PROGRAM] [OPTION...] - the load model against circuit simulation

Simulates invented instruments in ngspice (transient, until nothing moves), has the program
compute the same from their profiles, and compares.  Without options: every circuit at five
voltages, nominal and one as-built unit, in about a minute; results as TAP.

  --scatter N     N as-built units of each circuit at nine voltages; prints the table
  --emission F    all cathodes give F times the emission of the rule
  --spread F      as-built cathodes anywhere between 1/F and F times the rule
  --faults DIR    no comparison: writes one CSV a circuit into DIR, every fault at every voltage
  --netlist V     no comparison: prints the netlist of the named circuits at V volts
  --profiles DIR  also writes the profiles there
  --only NAME,…   these circuits
  --jobs N        processes at a time (2)
  --report FILE   writes all figures there as well
  --keep FILE     keeps the simulations there, and takes them from there while nothing that
                  goes into them has changed
"""

import argparse
import csv
import hashlib
import os
import pickle
import random
import sys
from concurrent.futures import ProcessPoolExecutor

sys.dont_write_bytecode = True  # leave no trace in the source tree

# pylint: disable=wrong-import-position
import asbuilt
import calibrate
import circuits
import compare
import faults
import netlist
import ngspice
import parts
import physics
import profile_text
import settle

QUICK_SHARES = (1.0, 0.9, 0.75, 0.5, 0.25)
LONG_SHARES = (1.05, 1.0, 0.9, 0.8, 0.7, 0.6, 0.45, 0.3, 0.12)
FAULT_SHARES = (0.9, 0.75, 0.6, 0.45, 0.3, 0.15)
COVERED = 0.99          # of as-built watts as they are
COVERED_READINGS = 0.97 # of readings whose meter errs evenly over the whole of its accuracy
MEDIAN_WIDTH = 0.10
SKIP = 77  # meson's exit status for a test that cannot run here


def calibrated(job):
    name, emission = job
    circuit = circuits.by_name(name)
    circuit.emission_factor = emission
    return calibrate.calibrate(circuit)


def walk(job):
    """Measured at each share of line volts, from the top down: neighbours start each other."""
    circuit, state, shares = job
    out = []
    for share in shares:
        measured, state = settle.settle(circuit, share * circuit.line_volts, state)
        out.append(measured)
    return out


class Tap:
    def __init__(self):
        self.number = 0
        self.failed = 0

    def result(self, name, complaints):
        self.number += 1
        if complaints:
            self.failed += 1
        print("%sok %d - %s" % ("not " if complaints else "", self.number, name))
        for text in complaints:
            print("# " + text)
        sys.stdout.flush()

    def end(self):
        print("1..%d" % self.number)


class Report:
    """The figures, as comments of the TAP stream and in a file."""

    def __init__(self, path, quiet):
        self.file = open(path, "w", encoding="utf-8") if path else None
        self.quiet = quiet

    def line(self, text=""):
        if not self.quiet:
            print("# " + text)
        if self.file:
            print(text, file=self.file, flush=True)


def compare_nominal(tap, report, program, nominals, measured):
    report.line("nominal: W, rails and heater volts, ours against the simulation "
                "(e: cathode emission rules)")
    for nominal, walked in zip(nominals, measured):
        circuit = nominal.circuit
        complaints = []
        try:
            rows = compare.envelope(program, profile_text.profile(nominal),
                                    [m.line_volts for m in walked])
            for m, row in zip(walked, rows):
                point = compare.Point(circuit, m, row)
                report.line(point.text())
                complaints += point.complaints()
                if not m.settled:
                    complaints.append("%.1f V: the simulation did not settle" % m.line_volts)
        except (compare.ProgramError, KeyError) as e:
            complaints.append(str(e))
        tap.result("%s: watts, rails and heater volts" % circuit.name, complaints)


def summary(variant, name, c):
    return ("%-40s %-18s inside %6.2f %% of %4d (%6.2f %% without the meter), half width %4.1f %% "
            "(waking %4.1f %%), band used %3.0f %% down %3.0f %% up" % (
                variant, name, 100 * c.share, c.total, 100 * c.true_share, 100 * c.median,
                100 * c.median_waking, 100 * c.farthest[0], 100 * c.farthest[1]))


def compare_units(tap, report, program, nominals, shares, walked):
    """`walked` maps (circuit index, unit number) to the unit's measurements."""
    for variant in profile_text.VARIANTS:
        coverage = compare.Coverage()
        complaints = []
        for k, nominal in enumerate(nominals):
            circuit = nominal.circuit
            try:
                rows = compare.envelope(program, profile_text.profile(nominal, variant),
                                        [s * circuit.line_volts for s in shares])
            except compare.ProgramError as e:
                complaints.append(str(e))
                continue
            single = compare.Coverage()
            for number in (n for i, n in walked if i == k):
                chance = random.Random("meter %s %d" % (circuit.name, number))
                for share, m, row in zip(shares, walked[k, number], rows):
                    reading = asbuilt.meter(chance, m.watts)
                    for c in (coverage, single):
                        c.add(circuit, number, share, m.watts, reading, row)
            report.line(summary(variant, circuit.name, single))
        report.line(summary(variant, "ALL", coverage))
        for miss in coverage.misses:
            report.line("  miss: " + miss)
        if coverage.true_share < COVERED:
            complaints.append("only %.1f %% of %d as-built watts inside" % (
                100 * coverage.true_share, coverage.total))
        if coverage.share < COVERED_READINGS:
            complaints.append("only %.1f %% of %d readings inside" % (
                100 * coverage.share, coverage.total))
        if complaints:
            complaints += coverage.misses[:10]
        if variant == profile_text.FULL and coverage.median > MEDIAN_WIDTH:
            complaints.append("median half width %.1f %%" % (100 * coverage.median))
        tap.result("as-built units, %s" % variant, complaints)


def write_faults(pool, nominals, folder):
    os.makedirs(folder, exist_ok=True)
    for nominal in nominals:
        circuit = nominal.circuit
        cases = [("healthy", circuit)] + faults.every(circuit, nominal.at_line.watts)
        walks = pool.map(walk_or_none, [(c, nominal.state, FAULT_SHARES) for _, c in cases])
        path = os.path.join(folder, circuit.name + ".csv")
        with open(path, "w", encoding="utf-8", newline="") as f:
            out = csv.writer(f)
            head = ["fault", "line_volts", "watts", "va", "amps", "settled"]
            heaters = [w.name for w in circuit.windings
                       if any(h.winding == w.name for h in circuit.heated())]
            head += ["heater_%s_volts" % n for n in heaters]
            for rail in circuit.rails:
                head += ["rail_%s_volts" % rail.name, "rail_%s_ma" % rail.name]
            out.writerow(head)
            for (words, _), walked in zip(cases, walks):
                for m in walked or ():
                    row = [words, "%.2f" % m.line_volts, "%.4f" % m.watts, "%.4f" % m.va,
                           "%.5f" % m.amps, int(m.settled)]
                    row += ["%.4f" % m.winding_volts[n] for n in heaters]
                    for rail in circuit.rails:
                        row += ["%.3f" % m.rail_volts[rail.name],
                                "%.4f" % m.rail_ma[rail.name]]
                    out.writerow(row)
                if walked is None:
                    print("# %s, %s: ngspice gave up" % (circuit.name, words))
        print("# wrote %s" % path, flush=True)


def walk_or_none(job):
    try:
        return walk(job)
    except ngspice.NgspiceError:
        return None


def arguments():
    p = argparse.ArgumentParser(description=__doc__,
                                formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("--mainstair", default="mainstair")
    p.add_argument("--scatter", type=int, default=0)
    p.add_argument("--emission", type=float, default=1.0)
    p.add_argument("--spread", type=float, default=1.0)
    p.add_argument("--faults")
    p.add_argument("--netlist", type=float)
    p.add_argument("--profiles")
    p.add_argument("--only")
    p.add_argument("--jobs", type=int, default=2)
    p.add_argument("--report")
    p.add_argument("--keep")
    return p.parse_args()


def simulated(pool, args, nominals, shares):
    """Circuit index and unit number of every as-built unit, and what was measured: first of the
    nominal circuits, then of the units."""
    # one unit a circuit in the quick run: even and odd numbers differ in kind
    keys = [(k, u) for k in range(len(nominals))
            for u in (range(args.scatter) if args.scatter else (k,))]
    mark = (sources_digest(), args.emission, args.spread, args.only, shares, keys)
    if args.keep and os.path.exists(args.keep):
        with open(args.keep, "rb") as f:
            kept, walked = pickle.load(f)
        if kept == mark:
            return keys, walked
    jobs = [(n.circuit, n.state, shares) for n in nominals]
    jobs += [(asbuilt.build(nominals[k], u, args.spread), nominals[k].state, shares)
             for k, u in keys]
    walked = list(pool.map(walk, jobs))
    if args.keep:
        with open(args.keep, "wb") as f:
            pickle.dump((mark, walked), f)
    return keys, walked


def sources_digest():
    digest = hashlib.sha256()
    for module in (asbuilt, calibrate, circuits, netlist, ngspice, parts, physics, settle):
        with open(module.__file__, "rb") as f:
            digest.update(f.read())
    return digest.hexdigest()


def main():
    args = arguments()
    if ngspice.version() is None:
        print("1..0 # SKIP ngspice is not installed")
        return SKIP
    names = [make().name for make in circuits.ALL]
    if args.only:
        names = args.only.split(",")
    with ProcessPoolExecutor(max_workers=args.jobs) as pool:
        nominals = list(pool.map(calibrated, [(n, args.emission) for n in names]))
        if args.profiles:
            os.makedirs(args.profiles, exist_ok=True)
            for nominal in nominals:
                path = os.path.join(args.profiles, nominal.circuit.name + ".ini")
                with open(path, "w", encoding="utf-8") as f:
                    f.write(profile_text.profile(nominal))
        if args.netlist is not None:
            for nominal in nominals:
                period = 1.0 / nominal.circuit.hertz
                net = netlist.Netlist(nominal.circuit, args.netlist, netlist.State())
                print(net.text(40 * period, period / settle.STEPS))
            return 0
        if args.faults:
            write_faults(pool, nominals, args.faults)
            return 0
        shares = LONG_SHARES if args.scatter else QUICK_SHARES
        keys, walked = simulated(pool, args, nominals, shares)
    report = Report(args.report, quiet=not args.scatter)
    tap = Tap()
    compare_nominal(tap, report, args.mainstair, nominals, walked[:len(nominals)])
    compare_units(tap, report, args.mainstair, nominals, shares,
                  dict(zip(keys, walked[len(nominals):])))
    tap.end()
    return 1 if tap.failed else 0


if __name__ == "__main__":
    sys.exit(main())
