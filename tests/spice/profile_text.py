"""The profile of a circuit: what a restorer with the sheets and a few meter readings would write.

Everything nominal; winding volts as measured in the nominal simulation at nameplate line.
"""

FULL = "full"
NO_TRANSFORMER = "no transformer section"
NO_OHMS = "no transformer section, no winding ohms"
VARIANTS = (FULL, NO_TRANSFORMER, NO_OHMS)


def _number(value):
    return "%.6g" % value


def _ohm(value):
    return _number(value) + " ohm"


def _choke(choke):
    return "%s H %s" % (_number(choke[0]), _ohm(choke[1]))


def _draw(draw):
    how = {"tubes": " by " + " ".join(draw.by), "resistive": " resistive",
           "constant": " constant"}[draw.kind]
    return "%s mA at %s V%s" % (_number(draw.amps * 1e3), _number(draw.volts), how)


def profile(nominal, variant=FULL):
    """Text of the .ini of a calibrated circuit."""
    c = nominal.circuit
    out = ["; written by the circuit simulation's test rig; the instrument is invented",
           "[instrument]", "name = %s" % c.title, "line_volts = %s" % _number(c.line_volts),
           "line_hz = %s" % _number(c.hertz), "supply = %s" % c.supply,
           "chassis = %s" % c.chassis]
    for section, places in (("tubes", c.tubes), ("lamps", c.lamps)):
        if places:
            out += ["", "[%s]" % section]
            for hot in places:
                on = " on " + hot.winding if hot.winding not in ("", "string") else ""
                out.append("%s = %s%s" % (hot.place, hot.type, on))
    if c.has_transformer and variant == FULL:
        watts, amps, _ = nominal.idle
        out += ["", "[transformer]", "primary = " + _ohm(c.primary_ohms),
                "idle_watts = %.4g" % watts, "idle_amps = %.4g" % amps]
    for w in c.windings:
        if w.give_open:
            key, volts = "open_volts", w.ratio * nominal.idle[2]
        else:
            key, volts = "volts", nominal.at_line.winding_volts[w.name]
        text = "%.5g" % volts
        out += ["", "[winding %s]" % w.name,
                "%s = %s" % (key, "%s-0-%s" % (text, text) if w.tapped else text)]
        if variant != NO_OHMS:
            out.append("ohms = " + _ohm(w.ohms))
    for rail in c.rails:
        out += ["", "[rail %s]" % rail.name] + _rail(rail)
    if c.supply == "series-string" and c.dropper:
        out += ["", "[string]", "dropper = " + _ohm(c.dropper)]
    return "\n".join(out) + "\n"


def _rail(rail):
    out = []
    if rail.parent:
        out.append("from = " + rail.parent)
        if rail.through_choke:
            out.append("through = " + _choke(rail.through_choke))
        elif rail.through:
            out.append("through = " + _ohm(rail.through))
        if rail.pass_volts:
            out.append("regulator = %s V by %s" % (_number(rail.pass_volts), rail.regulator))
        elif rail.regulator:
            out.append("regulator = " + rail.regulator)
    else:
        out.append("winding = " + rail.winding)
        plates = " %d" % rail.plates if rail.rectifier == "selenium" else ""
        out.append("rectifier = " + rail.rectifier + plates)
        out.append("form = " + rail.form)
        if rail.surge:
            out.append("surge = " + _ohm(rail.surge))
        if rail.choke_input:
            out.append("choke = " + _choke(rail.choke_input))
    if rail.reservoir:
        out.append("reservoir = " + ", ".join("%s uF" % _number(f * 1e6)
                                              for f in rail.reservoir))
    if rail.bleeder:
        out.append("bleeder = " + _ohm(rail.bleeder))
    if rail.draws:
        out.append("draw = " + ", ".join(_draw(d) for d in rail.draws))
    return out
