"""From a netlist to settled means: runs a few cycles, looks where the slow states are heading,
starts again from there, until nothing moves.

Slow states are reservoirs, heater temperatures and the flux.  Their end values of a run start
the next one; where a run shows a geometric approach the limit is taken.  Everything measured is
an integral over whole line cycles of the last run.
"""

import math
from bisect import bisect_left

import ngspice
import physics
from netlist import Netlist, State, thermal_node
from parts import TUBES

STEPS = 120          # longest step: this part of a line cycle
CYCLES = 10          # of one run
MAX_RUNS = 20
WATTS_DRIFT = 4e-4   # relative, between cycles and ahead
VOLTS_DRIFT = 2e-3
QUIET_AMPS = 0.2e-3  # a rail carrying less may creep for hours; nobody waits for it


class Measured:
    """What instruments would show.  rms of windings (one half), means of rails."""

    def __init__(self):
        self.line_volts = 0.0
        self.watts = self.va = self.amps = self.emf = 0.0
        self.winding_volts = {}
        self.rail_volts = {}
        self.rail_ma = {}
        self.rail_ripple = {}
        self.thermal = {}
        self.lit = {}
        self.emission_rules = {}   # rail: True where cathodes hold its current back
        self.runs = 0
        self.settled = False


def _between(waves, vector, start, stop, function=None):
    """Integral of a vector (or a function of it) over start..stop."""
    t = waves.time
    y = waves[vector] if isinstance(vector, str) else vector
    if function:
        y = [function(v) for v in y]
    first, last = bisect_left(t, start), bisect_left(t, stop)
    last = min(last, len(t) - 1)
    total = 0.0
    for i in range(max(first, 1), last + 1):
        a, b = max(t[i - 1], start), min(t[i], stop)
        if b <= a:
            continue
        width = t[i] - t[i - 1]
        ya = y[i - 1] + (y[i] - y[i - 1]) * (a - t[i - 1]) / width
        yb = y[i - 1] + (y[i] - y[i - 1]) * (b - t[i - 1]) / width
        total += 0.5 * (ya + yb) * (b - a)
    return total


def _value(waves, vector, when):
    t, y = waves.time, waves[vector]
    i = min(max(bisect_left(t, when), 1), len(t) - 1)
    width = t[i] - t[i - 1]
    return y[i] if width <= 0 else y[i - 1] + (y[i] - y[i - 1]) * (when - t[i - 1]) / width


def _limit(a, b, c):
    """Where the equally spaced samples a, b, c of a geometric approach end."""
    d1, d2 = b - a, c - b
    scale = max(abs(c), 1.0)
    if abs(d2) < 1e-7 * scale:
        return c
    ratio = d2 / d1 if d1 else 1.0
    if 0.0 < ratio < 0.97:
        jump = d2 * ratio / (1.0 - ratio)
    elif ratio >= 0.97:
        jump = d2 * 12.0
    else:
        jump = 0.0
    return c + jump


class _Run:
    """One ngspice run over so many cycles."""

    def __init__(self, circuit, line_volts, state, cycles):
        self.net = Netlist(circuit, line_volts, state)
        self.period = 1.0 / circuit.hertz
        self.cycles = cycles
        stop = cycles * self.period
        step = self.period / STEPS
        self.waves = ngspice.run(self.net.text(stop, step))
        self.power = [-v * i for v, i in zip(self.waves["v(line)"], self.waves["i(vline)"])]

    def mean(self, vector, back=2, upto=0, function=None):
        """Over the last `back` cycles, `upto` cycles before the end."""
        stop = (self.cycles - upto) * self.period
        start = stop - back * self.period
        return _between(self.waves, vector, start, stop, function) / (stop - start)

    def rms(self, pair, back=2):
        if isinstance(pair, str):
            return math.sqrt(max(self.mean(pair, back, 0, lambda v: v * v), 0.0))
        plus, minus = pair
        wave = self.waves["v(%s)" % plus]
        if minus != "0" and "v(%s)" % minus in self.waves:
            wave = [a - b for a, b in zip(wave, self.waves["v(%s)" % minus])]
        return math.sqrt(max(self.mean([v * v for v in wave], back), 0.0))

    def at(self, vector, cycle):
        return _value(self.waves, vector, cycle * self.period)

    def difference(self, pair, cycle):
        plus, minus = pair
        v = self.at("v(%s)" % plus, cycle)
        return v if minus == "0" else v - self.at("v(%s)" % minus, cycle)


def settle(circuit, line_volts, state=None):
    """Settled means of `circuit` at `line_volts`, and the state to start neighbours from."""
    state = (state or State()).moved_to(line_volts)
    for rail in circuit.rails:
        if rail.regulator and not rail.pass_volts and rail.name not in state.lit:
            state.lit[rail.name] = line_volts > 0.9 * circuit.line_volts
    struck = set()
    while True:
        measured, state = _settle(circuit, line_volts, state)
        if not _relight(circuit, measured, state, struck):
            return measured, state


def _relight(circuit, measured, state, struck):
    """A gas tube strikes when the dark rail reaches its strike volts, and goes out when its
    current ends.  True when something changed and the circuit must settle anew.  `struck`
    keeps what a dark run has shown to strike; those only go out for want of current."""
    changed = False
    for rail in circuit.rails:
        if rail.name not in state.lit:
            continue
        facts = TUBES[circuit.tube(rail.regulator).type]
        volts = measured.rail_volts[rail.name]
        if not state.lit[rail.name]:
            # the peak of what ripple is left strikes it
            if (rail.name not in struck
                    and volts + 1.4 * measured.rail_ripple[rail.name] >= facts.strike_volts):
                struck.add(rail.name)
                state.lit[rail.name] = changed = True
        elif volts <= facts.hold_volts + 0.02 or (rail.name not in struck and not _would_strike(
                circuit, rail, measured, facts.strike_volts)):
            state.lit[rail.name] = False
            changed = True
    return changed


def _would_strike(circuit, rail, measured, strike_volts):
    """Would the rail, dark, reach the strike volts?  Its parent stands higher when the gas tube
    is dark, so the parent's volts of now are on the safe side."""
    volts = measured.rail_volts[rail.name]
    load = sum(d.amps * (strike_volts / d.volts) ** (1.5 if d.kind == "tubes" else 1.0)
               for d in rail.draws)
    if rail.bleeder:
        load += strike_volts / rail.bleeder
    for child in circuit.rails:
        if child.parent == rail.name:
            load += measured.rail_ma[child.name] * 1e-3 * max(strike_volts / max(volts, 1.0), 1.0)
    return measured.rail_volts[rail.parent] - rail.through * load >= strike_volts


def _settle(circuit, line_volts, state):
    approach = _Approach()
    runs = 0
    while True:
        run = _Run(circuit, line_volts, state, CYCLES)
        runs += 1
        watts = run.mean(run.power)
        before = run.mean(run.power, 2, 4)
        state, moving = _next_state(circuit, run, state, approach)
        settled = abs(watts - before) <= WATTS_DRIFT * max(watts, 0.2) and not moving
        if settled or runs == MAX_RUNS:
            return _measure(circuit, line_volts, run, state, runs, settled), state


class _Approach:
    """Fixed point of "start values -> end values of a run", by Anderson's mixing: the next
    start is the combination of the last ends whose steps cancel best."""

    DEPTH = 4
    OHMS = 5e3  # makes a choke's amps comparable with volts

    def __init__(self):
        self.pairs = []   # (start, end), lists in a fixed order

    def next(self, start, end):
        self.pairs = self.pairs[-self.DEPTH:] + [(start, end)]
        step = [e - s for s, e in zip(start, end)]
        diffs = []
        for (s0, e0), (s1, e1) in zip(self.pairs, self.pairs[1:]):
            diffs.append(([(b1 - a1) - (b0 - a0) for a0, b0, a1, b1 in zip(s0, e0, s1, e1)],
                          [b1 - b0 for b0, b1 in zip(e0, e1)]))
        n = len(diffs)
        matrix = [[sum(x * y for x, y in zip(diffs[i][0], diffs[j][0])) for j in range(n)]
                  for i in range(n)]
        right = [sum(x * y for x, y in zip(diffs[i][0], step)) for i in range(n)]
        size = max([matrix[i][i] for i in range(n)], default=0.0)
        for i in range(n):
            matrix[i][i] += 1e-9 * size + 1e-12
        goal = list(end)
        if n:
            for weight, (_, moved) in zip(physics.solve(matrix, right), diffs):
                goal = [g - weight * m for g, m in zip(goal, moved)]
        return goal


def _bounded(goal, end):
    """No jump by more than 30 % and a few volts."""
    bound = 0.3 * abs(end) + 3.0
    return min(max(goal, end - bound), end + bound)


def _next_state(circuit, run, old, approach):
    """State to go on from, and whether anything that matters still moves."""
    state = old.copy()
    moving = False
    for node, (kind, volts, pair) in run.net.heaters.items():
        # the heater's own equation, solved for the volts that it saw
        u = kind.steady(run.rms(pair) / volts)
        if abs(u - run.at("v(%s)" % node, run.cycles)) > 6e-4:
            moving = True
        state.thermal[node] = u
    if circuit.has_transformer:
        # a bias of the flux dies slowly and means nothing
        state.flux = run.at("v(flux)", run.cycles) - run.mean("v(flux)")
    capacitors, chokes = list(run.net.capacitors.items()), list(run.net.chokes.items())
    start = [run.difference(pair, 0) for _, pair in capacitors]
    end = [run.difference(pair, run.cycles) for _, pair in capacitors]
    ohms = _Approach.OHMS
    start += [ohms * run.at(vector, 0) for _, vector in chokes]
    end += [ohms * run.at(vector, run.cycles) for _, vector in chokes]
    first = not approach.pairs
    goal = approach.next(start, end)
    if first:
        # nothing to combine yet: where the samples within this run point
        step = (run.cycles - 2) // 2
        for i, (_, pair) in enumerate(capacitors):
            goal[i] = _limit(*[run.difference(pair, run.cycles - step * k) for k in (2, 1, 0)])
    for i, (name, _) in enumerate(capacitors):
        state.volts[name] = _bounded(goal[i], end[i])
        # what flows in, or out while no plate conducts
        rail = circuit.rail(name.split("_", 1)[1])
        farad = rail.reservoir[-1 if name.startswith("c2_") else 0]
        carries = max(abs(run.mean("i(vi_%s)" % rail.name)),
                      farad * abs(end[i] - start[i]) / (run.cycles * run.period))
        if carries > QUIET_AMPS and abs(goal[i] - end[i]) > VOLTS_DRIFT * max(abs(end[i]), 1.0):
            moving = True
    for i, (name, _) in enumerate(chokes, len(capacitors)):
        state.amps[name] = _bounded(goal[i], end[i]) / ohms
    return state, moving


def _measure(circuit, line_volts, run, state, runs, settled):
    m = Measured()
    m.line_volts = line_volts
    m.watts = run.mean(run.power)
    m.amps = run.rms("i(vline)")
    m.va = m.amps * line_volts
    m.emf = run.rms("v(p)") if circuit.has_transformer else line_volts
    for w in circuit.windings:
        m.winding_volts[w.name] = run.rms(("%s_1" % w.name, "%s_c" % w.name))
    for rail in circuit.rails:
        vector = "v(rail_%s)" % rail.name
        mean = run.mean(vector)
        m.rail_volts[rail.name] = mean
        m.rail_ma[rail.name] = 1e3 * run.mean("i(vi_%s)" % rail.name)
        m.rail_ripple[rail.name] = math.sqrt(max(
            run.mean(vector, 2, 0, lambda v: (v - mean) ** 2), 0.0))
    for node in run.net.heaters:
        m.thermal[node] = run.mean("v(%s)" % node)
    m.lit = dict(state.lit)
    m.runs = runs
    m.settled = settled
    for rail in circuit.rails:
        m.emission_rules[rail.name] = _emission_rules(circuit, rail, run, m)
    return m


def _emission_rules(circuit, rail, run, m):
    """Does saturation hold the rail's current back noticeably (a few per cent)?"""
    def reserve(place):
        hot = circuit.tube(place)
        if hot.kind == "none":
            return 1e9
        kind = physics.HEATER_KINDS[hot.kind]
        return kind.emission(m.thermal[thermal_node(hot)]) * circuit.emission_factor

    rules = False
    if rail.parent:
        rules = m.emission_rules[rail.parent]
    elif rail.rectifier not in ("silicon", "selenium"):
        facts = TUBES[circuit.tube(rail.rectifier).type]
        peak = max(run.waves["i(vi_%s)" % rail.name])
        saturation = physics.RECTIFIER_RESERVE * facts.peak_amps * reserve(rail.rectifier)
        rules = saturation < 1.5 * peak
    for draw in rail.draws:
        for place in draw.by:
            share = max(m.rail_volts[rail.name] / draw.volts, 0.0) ** 1.5
            if physics.CATHODE_RESERVE * reserve(place) < 2.0 * share:
                rules = True
    return rules


def idle(circuit, line_volts=None):
    """All windings open: watts, amps and the emf at the primary."""
    line_volts = line_volts or circuit.line_volts
    state = State()
    for _ in range(3):
        net = Netlist(circuit, line_volts, state, idle=True)
        period = 1.0 / circuit.hertz
        waves = ngspice.run(net.text(4 * period, period / STEPS))
        stop = 4 * period
        span = 2 * period
        state.flux = (_value(waves, "v(flux)", stop)
                      - _between(waves, "v(flux)", stop - span, stop) / span)
    power = [-v * i for v, i in zip(waves["v(line)"], waves["i(vline)"])]

    def rms(name):
        return math.sqrt(_between(waves, name, stop - span, stop, lambda v: v * v) / span)

    return (_between(waves, power, stop - span, stop) / span, rms("i(vline)"), rms("v(p)"))
