"""Asks the program for its envelope and sets it against the simulation."""

import csv
import io
import os
import statistics
import subprocess
import tempfile

WATTS_NEAR = 0.03       # from 75 % of line upward
WATTS_LOW = 0.08        # below
FROM_SHARE = 0.749
RAIL = 0.03
HEATER = 0.02
RAIL_LEAST_MA = 1.0     # a rail that carries less is not settled in anybody's lifetime


class ProgramError(Exception):
    pass


def envelope(program, text, volts):
    """Rows of `envelope --format csv`, as dictionaries of floats, one for each of `volts`."""
    with tempfile.TemporaryDirectory(prefix="mainstair-spice-") as folder:
        path = os.path.join(folder, "unit.ini")
        with open(path, "w", encoding="utf-8") as f:
            f.write(text)
        done = subprocess.run([program, "envelope", path, "--volts",
                               ",".join("%.6g" % v for v in volts), "--format", "csv"],
                              stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE, timeout=60, check=False)
    if done.returncode != 0:
        raise ProgramError("envelope ended with %d: %s" % (
            done.returncode, done.stderr.decode("utf-8", "replace").strip()))
    rows = list(csv.DictReader(io.StringIO(done.stdout.decode("utf-8"))))
    if len(rows) != len(volts):
        raise ProgramError("envelope gave %d rows for %d voltages" % (len(rows), len(volts)))
    # no volts of a rail: next to nothing flows there
    return [{k: float(v or "nan") for k, v in row.items()} for row in rows]


def _off(ours, truth):
    return (ours - truth) / truth if truth else 0.0


class Point:
    """One circuit at one voltage: truth and expectation."""

    def __init__(self, circuit, measured, row):
        self.circuit = circuit
        self.m = measured
        self.row = row
        self.share = measured.line_volts / circuit.line_volts
        self.rules = any(measured.emission_rules.values())

    @property
    def watts_off(self):
        return _off(self.row["watts"], self.m.watts)

    @property
    def half_width(self):
        return 0.5 * (self.row["watts_high"] - self.row["watts_low"]) / self.row["watts"]

    def inside(self, watts):
        return self.row["watts_low"] <= watts <= self.row["watts_high"]

    def rails(self):
        """(name, off, emission rules) of every rail that is worth comparing."""
        for rail in self.circuit.rails:
            ours = self.row.get("rail_%s_volts" % rail.name)
            if ours is None:
                raise ProgramError("no rail %s in the envelope" % rail.name)
            if self.m.rail_ma[rail.name] >= RAIL_LEAST_MA and ours == ours:
                yield (rail.name, _off(ours, self.m.rail_volts[rail.name]),
                       self.m.emission_rules[rail.name])

    def heaters(self):
        for w in self.circuit.windings:
            if any(h.winding == w.name for h in self.circuit.heated()):
                yield w.name, _off(self.row["heater_%s_volts" % w.name],
                                   self.m.winding_volts[w.name])

    def complaints(self):
        out = []
        near = self.share >= FROM_SHARE
        # Where cathode emission rules, an uncertainty of 10 % in it (a factor of two is common)
        # moves the watts by 2 %: there 8 % will do from 75 % of line upward, and below it is
        # the band that must know.
        limit = WATTS_NEAR if near and not self.rules else WATTS_LOW
        soft = self.rules and not near
        if abs(self.watts_off) > limit and not (soft and self.inside(self.m.watts)):
            out.append("watts %.2f, simulated %.2f: %+.1f %%" % (
                self.row["watts"], self.m.watts, 100 * self.watts_off))
        if not self.inside(self.m.watts):
            out.append("simulated %.2f W is outside %.2f .. %.2f W" % (
                self.m.watts, self.row["watts_low"], self.row["watts_high"]))
        for name, off, rules in self.rails():
            if near and not rules and abs(off) > RAIL:
                out.append("rail %s %+.1f %% off %.1f V" % (
                    name, 100 * off, self.m.rail_volts[name]))
        for name, off in self.heaters():
            if abs(off) > HEATER:
                out.append("heater winding %s %+.1f %% off %.3f V" % (
                    name, 100 * off, self.m.winding_volts[name]))
        return ["%.1f V: %s" % (self.m.line_volts, text) for text in out]

    def text(self):
        rails = " ".join("%s %.1f/%.1f(%+.1f%%)%s" % (
            name, self.row["rail_%s_volts" % name], self.m.rail_volts[name], 100 * off,
            "e" if rules else "") for name, off, rules in self.rails())
        heaters = " ".join("%s %+.2f%%" % (name, 100 * off) for name, off in self.heaters())
        return ("%-18s %6.1f V %5.1f%%  W %8.3f sim %8.3f %+6.2f%%  band %8.3f..%8.3f (%4.1f%%)"
                "%s%s VA %+.1f%%  %s  %s" % (
                    self.circuit.name, self.m.line_volts, 100 * self.share, self.row["watts"],
                    self.m.watts, 100 * self.watts_off, self.row["watts_low"],
                    self.row["watts_high"], 100 * self.half_width,
                    " emission" if self.rules else "", "" if self.m.settled else " UNSETTLED",
                    100 * _off(self.row["va"], self.m.va), rails, heaters))


class Coverage:
    """How many as-built readings lie inside the band, and how wide it is."""

    def __init__(self):
        self.total = 0
        self.true_inside = 0    # watts as they are, without the meter's error
        self.misses = []
        self.widths = []        # away from 60 to 90 % of line
        self.waking = []        # within
        self.used = []          # how far towards the band's edge each reading lies

    def add(self, circuit, number, share, watts, reading, row):
        self.total += 1
        self.true_inside += row["watts_low"] <= watts <= row["watts_high"]
        inside = row["watts_low"] <= reading <= row["watts_high"]
        edge = row["watts_high"] if reading > row["watts"] else row["watts_low"]
        self.used.append((reading - row["watts"]) / abs(edge - row["watts"]))
        half = 0.5 * (row["watts_high"] - row["watts_low"]) / row["watts"]
        if 0.599 <= share <= 0.901:
            self.waking.append(half)
        else:
            self.widths.append(half)
        if not inside:
            self.misses.append("%s unit %d at %.0f %%: %.3f W, band %.3f .. %.3f W" % (
                circuit.name, number, 100 * share, reading, row["watts_low"],
                row["watts_high"]))

    @property
    def share(self):
        return 1.0 - len(self.misses) / self.total if self.total else 0.0

    @property
    def true_share(self):
        return self.true_inside / self.total if self.total else 0.0

    @property
    def farthest(self):
        """Of the band below and above what is expected, the part that readings make use of."""
        return (-min(self.used), max(self.used)) if self.used else (0.0, 0.0)

    @property
    def median(self):
        return statistics.median(self.widths) if self.widths else 0.0

    @property
    def median_waking(self):
        return statistics.median(self.waking) if self.waking else 0.0
