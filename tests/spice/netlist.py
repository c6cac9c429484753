"""A circuit as an ngspice netlist.

Sine line - primary resistance - core (conductance, magnetising current from the flux) - ideal
windings with their resistance - heaters as thermal nodes, rectifiers, filters, loads.

A thermal node carries u = T / rated T as volts.  Heaters of one kind on one winding see the same
volts and therefore share a node; in a series string each has its own.  The heat capacity is a
made-up one: large against a line cycle, small enough to settle within the run.
"""

import math

import physics
from parts import TUBES

HEAT_SECONDS = 0.5   # heat capacity of a node, in rated watts times seconds
SAFE_OHMS = 1e8      # gives every node a way to chassis


def thermal_node(hot):
    if hot.winding == "string":
        return "u_%s" % hot.place.lower()
    return "u_%s_%s" % (hot.winding, hot.kind)


def emission_node(hot):
    return thermal_node(hot).replace("u_", "g_", 1)


class State:
    """Where a run starts: thermal nodes, flux, reservoirs, chokes.  Missing: a guess."""

    def __init__(self):
        self.line_volts = 0.0
        self.thermal = {}
        self.flux = None
        self.volts = {}      # capacitor element: volts
        self.amps = {}       # choke element: amps
        self.lit = {}        # rail: does its gas tube glow

    def copy(self):
        other = State()
        other.line_volts = self.line_volts
        other.thermal = dict(self.thermal)
        other.flux = self.flux
        other.volts = dict(self.volts)
        other.amps = dict(self.amps)
        other.lit = dict(self.lit)
        return other

    def moved_to(self, line_volts):
        """A copy to start from at other line volts.  Rails a little low: a rectifier fills a
        reservoir sooner than a bleeder empties it."""
        other = self.copy()
        if self.line_volts and abs(line_volts - self.line_volts) > 1e-6:
            share = line_volts / self.line_volts
            rails = share ** 1.15 if share < 1.0 else share ** 0.9
            other.volts = {k: v * rails for k, v in self.volts.items()}
            other.amps = {k: a * rails for k, a in self.amps.items()}
            other.thermal = {}
            if self.flux is not None:
                other.flux = self.flux * share
        other.line_volts = line_volts
        return other


class Netlist:
    """Text of the netlist and the vectors worth saving."""

    def __init__(self, circuit, line_volts, state, idle=False):
        self.c = circuit
        self.line_volts = line_volts
        self.state = state
        self.lines = ["* %s at %g V" % (circuit.title, line_volts)]
        self.models = []
        self.saved = ["v(line)", "i(vline)"]
        self.capacitors = {}   # element name: node pair
        self.chokes = {}       # element name: sense source
        self.heaters = {}      # thermal node: (kind, rated volts, node pair)
        self.emissions = set()
        self.rail_node = {}
        self._build(idle)

    def add(self, text, *args):
        self.lines.append(text % args if args else text)

    def save(self, vector):
        if vector not in self.saved:
            self.saved.append(vector)

    def _build(self, idle):
        c = self.c
        self.add("vline line 0 sin(0 %.9g %.9g)", self.line_volts * math.sqrt(2.0), c.hertz)
        if c.shunt_ohms:
            self.add("rshunt line 0 %.9g", c.shunt_ohms)
        if c.has_transformer:
            self._core()
            if not idle:
                for winding in c.windings:
                    self._winding(winding)
        if not idle:
            self._heaters()
            for rail in c.rails:
                self._rail(rail)

    def _core(self):
        c = self.c
        self.add("rprimary line p %.9g", c.primary_ohms)
        # i = k v |v|^-0.1: loss goes as E^1.9 whatever the wave
        peak = c.line_volts * math.sqrt(2.0)
        mean = _mean_sine_power(1.9)
        k = c.core_watts / (peak ** 1.9 * mean)
        self.add("bcore p 0 i = %.9g*v(p)*pwr(v(p)*v(p)+%.3g,-0.05)", k, 1e-6 * peak * peak)
        self.add("gflux 0 flux p 0 %.9g", 2.0 * math.pi * c.hertz / peak)
        flux = self.state.flux
        if flux is None:
            flux = -self.line_volts / c.line_volts * 0.97
        self.add("cflux flux 0 1 ic=%.9g", flux)
        self.add("rflux flux 0 1e9")
        self.add("bmag p 0 i = %.9g*v(flux)+%.9g*%s", c.mag_linear, c.mag_ninth,
                 "*".join(["v(flux)"] * 9))
        if c.turn_watts:
            self.add("rturn p 0 %.9g", c.line_volts ** 2 / c.turn_watts)
        self.save("v(p)")
        self.save("v(flux)")

    def _winding(self, w):
        """Nodes NAME_1 (and NAME_2 of a tapped one), NAME_c: tap or cold end."""
        n = w.name
        halves = ((1, w.ratio), (2, -w.ratio)) if w.tapped else ((1, w.ratio),)
        ohms = w.ohms / len(halves)
        floating = any(r.winding == n and r.form in ("bridge", "doubler") for r in self.c.rails)
        if floating:
            self.add("rsafe_%s %s_c 0 %g", n, n, SAFE_OHMS)
        else:
            self.add("vtap_%s %s_c 0 0", n, n)
        for half, ratio in halves:
            self.add("e%s%d %s_e%d %s_c p 0 %.9g", n, half, n, half, n, ratio)
            self.add("vs%s%d %s_e%d %s_f%d 0", n, half, n, half, n, half)
            self.add("f%s%d p 0 vs%s%d %.9g", n, half, n, half, ratio)
            self.add("r%s%d %s_f%d %s_%d %.9g", n, half, n, half, n, half, ohms)
        if w.short_ohms:
            self.add("rshort_%s %s_1 %s_c %.9g", n, n, n, w.short_ohms)
        self.save("v(%s_1)" % n)
        if floating:
            self.save("v(%s_c)" % n)

    def _heaters(self):
        groups = {}
        for hot in self.c.heated():
            groups.setdefault(thermal_node(hot), []).append(hot)
        string = [h for h in self.c.heated() if h.winding == "string"]
        at = "line"
        if string and self.c.dropper:
            self.add("rdropper line string_top %.9g", self.c.dropper)
            at = "string_top"
        string_open = any(h.is_open for h in string)
        ends = {}
        for i, hot in enumerate(string):
            nxt = "0" if i == len(string) - 1 else "string_%d" % (i + 1)
            ends[hot.place] = (at, nxt)
            at = nxt
        for node, group in groups.items():
            kind = physics.HEATER_KINDS[group[0].kind]
            volts = group[0].volts
            if group[0].winding == "string":
                pair = ends[group[0].place]
                amps = 1e-9 if string_open else group[0].amps
            else:
                pair = ("%s_1" % group[0].winding, "%s_c" % group[0].winding)
                amps = sum(h.amps for h in group if not h.is_open)
            u = self.state.thermal.get(node)
            if u is None:
                u = kind.steady(self.line_volts / self.c.line_volts)
            across = "v(%s,%s)" % pair if pair[1] != "0" else "v(%s)" % pair[0]
            # written out twice rather than as a node of its own, which would start at zero
            r = kind.spice_resistance(node)
            if amps > 0.0:
                self.add("bh_%s %s %s i = %.9g*%s/%s", node, pair[0], pair[1],
                         amps / volts, across, r)
            self.add("bt_%s 0 %s i = %s*%s*%.9g/%s-%s", node, node, across, across,
                     1.0 / (volts * volts), r, kind.spice_loss(node))
            self.add("c_%s %s 0 %.9g ic=%.9g", node, node, HEAT_SECONDS, u)
            self.heaters[node] = (kind, volts, pair)
            self.save("v(%s)" % node)
            if group[0].winding == "string":
                self.save("v(%s)" % pair[0])

    def _emission(self, hot):
        """Name of the node that carries this cathode's emission over its rated value."""
        node = emission_node(hot)
        if node not in self.emissions:
            kind = physics.HEATER_KINDS[hot.kind]
            self.add("b%s %s 0 v = %s", node, node, kind.spice_emission(thermal_node(hot)))
            self.emissions.add(node)
        return node

    def _capacitor(self, name, plus, minus, farad, guess):
        volts = self.state.volts.get(name, guess)
        self.add("%s %s %s %.9g ic=%.9g", name, plus, minus, farad, volts)
        self.capacitors[name] = (plus, minus)
        self.save("v(%s)" % plus)
        if minus != "0":
            self.save("v(%s)" % minus)

    def _choke(self, name, start, end, henry, ohm, guess):
        amps = self.state.amps.get(name, guess)
        self.add("%s %s %s_i %.9g ic=%.9g", name, start, name, henry, amps)
        self.add("v%s %s_i %s_o 0", name, name, name)
        self.add("r%s %s_o %s %.9g", name, name, end, ohm)
        self.chokes[name] = "i(v%s)" % name
        self.save("i(v%s)" % name)

    def _diode(self, rail, index, anode, cathode):
        """One conduction path."""
        name = "%s%d" % (rail.name, index)
        if rail.plate_short_ohms and index == 1:
            self.add("rplate_%s %s %s %.9g", name, anode, cathode, rail.plate_short_ohms)
        if rail.rectifier == "silicon":
            # 0.8 V at a few hundred mA
            self.add("d%s %s %s silicon", name, anode, cathode)
            self._model(".model silicon d(is=2e-8 n=1.8 rs=0.03)")
        elif rail.rectifier == "selenium":
            # about 1 V a plate at rated current: 0.6 V of it a threshold, 0.4 V ohmic
            model = "selenium_%s" % rail.name
            swing = 3.0 * rail.plates
            rated = rail.plate_amps
            self.add("d%s %s %s %s", name, anode, cathode, model)
            self._model(".model %s d(is=%.6g n=%.6g rs=%.6g)" % (
                model, rated * math.exp(-0.6 * rail.plates / (swing * 0.02585)), swing,
                0.4 * rail.plates / rated))
        else:
            hot = self.c.tube(rail.rectifier)
            facts = TUBES[hot.type]
            if hot.is_open:
                return
            saturation = physics.RECTIFIER_RESERVE * facts.peak_amps * self.c.emission_factor
            self.add("bd%s %s %s i = %s", name, anode, cathode, physics.spice_limited(
                "v(%s,%s)" % (anode, cathode), facts.drop_amps / facts.drop_volts ** 1.5,
                "%.9g*v(%s)" % (saturation, self._emission(hot))))

    def _model(self, text):
        if text not in self.models:
            self.models.append(text)

    def _rail(self, rail):
        n = rail.name
        guess = self._guess(rail)
        node = "rail_%s" % n
        self.rail_node[n] = node
        # amps that flow into the rail's reservoir node
        self.add("vi_%s %s_in %s 0", n, node, node)
        self.save("i(vi_%s)" % n)
        self.save("v(%s)" % node)
        self.add("rsafe_%s %s 0 %g", node, node, SAFE_OHMS)
        if rail.dead:
            self.add("rdead_%s %s_in 0 %g", n, node, SAFE_OHMS)
            guess = 0.0
        elif rail.parent:
            self._from_rail(rail, node)
        elif rail.form == "doubler":
            self._doubler(rail, node, guess)
        else:
            self._rectified(rail, node)
        if rail.reservoir and (rail.form != "doubler" or rail.dead):
            self._capacitor("c_%s" % n, node, "0", rail.reservoir[0], guess)
        if rail.bleeder:
            self.add("rbleed_%s %s 0 %.9g", n, node, rail.bleeder)
        if rail.leak_ohms:
            self.add("rleak_%s %s 0 %.9g", n, node, rail.leak_ohms)
        for i, draw in enumerate(rail.draws):
            self._draw(rail, i, draw, node)
        if rail.regulator and not rail.pass_volts and self.state.lit.get(n):
            facts = TUBES[self.c.tube(rail.regulator).type]
            self.add("bgas_%s %s 0 i = max(v(%s)-%.9g,0)*%.9g", n, node, node,
                     facts.hold_volts, 1.0 / facts.regulator_ohms)

    def _rectified(self, rail, node):
        n = rail.name
        out = "%s_in" % node
        k = out
        if rail.choke_input:
            k = "k_%s" % n
            self._choke("l_%s" % n, k, out, *rail.choke_input, self._amps_guess(rail))
            # the choke's own winding capacitance; without it nothing holds the node while no
            # plate conducts
            self.add("cstray_%s %s 0 1e-9 ic=0", n, k)
            self.add("rsafe_k_%s %s 0 %g", n, k, 0.1 * SAFE_OHMS)
        if rail.surge:
            self.add("rsurge_%s d_%s %s %.9g", n, n, k, rail.surge)
            k = "d_%s" % n
        if rail.winding == "line":
            self._diode(rail, 1, "line", k)
            return
        a, cold = "%s_1" % rail.winding, "%s_c" % rail.winding
        if rail.form == "half-wave":
            self._diode(rail, 1, a, k)
        elif rail.form == "full-wave":
            self._diode(rail, 1, a, k)
            self._diode(rail, 2, "%s_2" % rail.winding, k)
        else:
            self._diode(rail, 1, a, k)
            self._diode(rail, 2, cold, k)
            self._diode(rail, 3, "0", a)
            self._diode(rail, 4, "0", cold)

    def _doubler(self, rail, node, guess):
        """Full-wave doubler: the winding's cold end sits between the two capacitors."""
        n = rail.name
        cold = "%s_c" % rail.winding
        a = "%s_1" % rail.winding
        if rail.surge:
            self.add("rsurge_%s %s d_%s %.9g", n, a, n, rail.surge)
            a = "d_%s" % n
        self._diode(rail, 1, a, "%s_in" % node)
        self._diode(rail, 2, "0", a)
        self._capacitor("c_%s" % n, node, cold, rail.reservoir[0], 0.5 * guess)
        self._capacitor("c2_%s" % n, cold, "0", rail.reservoir[1], 0.5 * guess)

    def _from_rail(self, rail, node):
        n = rail.name
        source = self.rail_node[rail.parent]
        out = "%s_in" % node
        if rail.pass_volts:
            # A regulator of high gain: the pass tube carries what its plate volts allow, times
            # a throttle that closes within half a volt of what it holds.
            hot = self.c.tube(rail.regulator)
            facts = TUBES[hot.type]
            saturation = physics.CATHODE_RESERVE * facts.pass_amps * self.c.emission_factor
            flow = physics.spice_limited(
                "v(%s,%s)" % (source, out), facts.pass_amps / facts.pass_volts ** 1.5,
                "%.9g*v(%s)" % (saturation, self._emission(hot)))
            self.add("bpass_%s %s %s i = (%s)*0.5*(1-tanh((v(%s)-%.9g)*4))", n, source, out,
                     flow, node, rail.pass_volts)
        elif rail.through_choke:
            self._choke("l_%s" % n, source, out, *rail.through_choke, self._amps_guess(rail))
        else:
            self.add("rthrough_%s %s %s %.9g", n, source, out, rail.through)

    def _draw(self, rail, i, draw, node):
        name = "%s%d" % (rail.name, i)
        if draw.kind == "resistive":
            self.add("rload_%s %s 0 %.9g", name, node, draw.volts / draw.amps)
        elif draw.kind == "constant":
            # transistor stages: the current is set inside and is there once the rail is
            self.add("bload_%s %s 0 i = %.9g*tanh(v(%s)*%.9g)", name, node, draw.amps, node,
                     5.0 / draw.volts)
        else:
            for j, place in enumerate(draw.by):
                hot = self.c.tube(place)
                if hot.is_open or (hot.winding == "string"
                                   and any(h.is_open for h in self.c.heated())):
                    continue
                amps = draw.amps / len(draw.by)
                saturation = physics.CATHODE_RESERVE * amps * self.c.emission_factor
                self.add("bload_%s_%d %s 0 i = %s", name, j, node, physics.spice_limited(
                    "v(%s)" % node, amps / draw.volts ** 1.5,
                    "%.9g*v(%s)" % (saturation, self._emission(hot))))

    def _guess(self, rail):
        """Rail volts to begin with when nothing better is known."""
        volts = [d.volts for d in rail.draws]
        if not volts:
            volts = [d.volts * 1.1 for r in self.c.rails if r.parent == rail.name
                     for d in r.draws] or [100.0]
        share = self.line_volts / self.c.line_volts
        if rail.rectifier not in ("silicon", "selenium") and share < 0.5:
            share *= 0.5
        return max(volts) * share

    def _amps_guess(self, rail):
        share = self.line_volts / self.c.line_volts
        return 0.5 * share * sum(d.amps for d in rail.draws) if share > 0.6 else 0.0

    def text(self, stop, step, start=0.0):
        out = list(self.lines) + self.models
        out.append(".save " + " ".join(self.saved))
        out.append(".options reltol=5e-4 abstol=1e-7 vntol=1e-4 chgtol=1e-9 method=trap")
        out.append(".tran %.9g %.9g %.9g %.9g uic" % (step, stop, start, step))
        out.append(".end")
        return "\n".join(out) + "\n"


def _mean_sine_power(n):
    """Mean of |sin|^n over a cycle."""
    return math.gamma((n + 1.0) / 2.0) / (math.sqrt(math.pi) * math.gamma(n / 2.0 + 1.0))
