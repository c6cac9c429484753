"""Faults as a restorer would name them, put into the netlist.

`every` gives the words (those of the program's own fault language) and the faulty circuit.
Shorts come in two sizes where the size decides what shows.
"""


def _changed(circuit, change):
    c = circuit.copy()
    change(c)
    return c


def _leak(name, ohms):
    def change(c):
        c.rail(name).leak_ohms = ohms
    return change


def _plate(name, ohms):
    def change(c):
        c.rail(name).plate_short_ohms = ohms
    return change


def _dead(name):
    def change(c):
        c.rail(name).dead = True
    return change


def _load(name, factor):
    def change(c):
        for draw in c.rail(name).draws:
            draw.amps *= factor
    return change


def _open(place):
    def change(c):
        for hot in c.heated():
            if hot.place == place:
                hot.is_open = True
    return change


def _heater_short(name, ohms):
    def change(c):
        c.winding(name).short_ohms = ohms
    return change


def _shunt(ohms):
    def change(c):
        c.shunt_ohms = ohms
    return change


def _turn(watts):
    def change(c):
        c.turn_watts = watts
    return change


def every(circuit, rated_watts):
    """Pairs of words and faulty circuit."""
    out = []

    def put(words, change):
        out.append((words, _changed(circuit, change)))

    # a quarter of the rated current, and all of it
    for part in (0.25, 1.0):
        ohms = float("%.2g" % (circuit.line_volts ** 2 / (part * rated_watts)))
        put("primary short %g ohm" % ohms, _shunt(ohms))
    if circuit.has_transformer:
        for watts in (5.0, 15.0):
            put("turn %g W" % watts, _turn(watts))
    heated = {h.winding for h in circuit.heated()} - {"string"}
    for name in sorted(heated):
        for ohms in (0.3, 1.0):
            put("heater %s short %g ohm" % (name, ohms), _heater_short(name, ohms))
    for hot in circuit.heated():
        put("open %s" % hot.place, _open(hot.place))
    for rail in circuit.rails:
        for ohms in (1.0, 10e3):
            word = "short 1 ohm" if ohms == 1.0 else "leak 10k"
            put("rail %s %s" % (rail.name, word), _leak(rail.name, ohms))
        put("rail %s dead" % rail.name, _dead(rail.name))
        if rail.draws:
            put("rail %s load 2" % rail.name, _load(rail.name, 2.0))
        if not rail.parent:
            tube = rail.rectifier not in ("silicon", "selenium")
            put("plate %s short 1 ohm" % (rail.rectifier if tube else rail.name),
                _plate(rail.name, 1.0))
    return out
