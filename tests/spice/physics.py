"""Published physics of the parts, as numbers and as ngspice expressions.

Nothing here is shared with the program under test, and nothing is fitted to it.

Sources, as far as they were read:
- Tungsten resistivity: H. A. Jones, Phys. Rev. 28, 202 (1926) and the Jones and Langmuir tables
  (values from memory, the same numbers seen in two public source files).
- Heat loss of a filament is a radiation term in T^4 and a small term in T: F. Carla,
  Am. J. Phys. 2013, doi 10.1119/1.4802873.
- Saturated emission: Richardson's law.  Oxide cathodes work at 960 to 1100 K (J. Broskie, Tube CAD
  Journal, October 2000, p. 26); work function 1.0 to 1.1 eV (from memory).
- Space charge: Child and Langmuir, I = K V^1.5; K through the published drop of the type.
"""

import math

AMBIENT_K = 300.0

# (K, micro-ohm cm)
TUNGSTEN = (
    (300, 5.65), (400, 8.06), (500, 10.56), (600, 13.23), (800, 19.0), (1000, 24.93),
    (1200, 30.98), (1400, 37.19), (1500, 40.36), (1600, 43.55), (1800, 50.05), (2000, 56.67),
    (2200, 63.48), (2500, 73.91), (2800, 84.70), (3000, 92.04))


def solve(matrix, right):
    """Gaussian elimination with pivoting; small and dense."""
    n = len(right)
    rows = [list(matrix[i]) + [right[i]] for i in range(n)]
    for i in range(n):
        pivot = max(range(i, n), key=lambda r: abs(rows[r][i]))
        rows[i], rows[pivot] = rows[pivot], rows[i]
        for r in range(i + 1, n):
            f = rows[r][i] / rows[i][i]
            for c in range(i, n + 1):
                rows[r][c] -= f * rows[i][c]
    out = [0.0] * n
    for i in reversed(range(n)):
        out[i] = (rows[i][n] - sum(rows[i][c] * out[c] for c in range(i + 1, n))) / rows[i][i]
    return out


def _quartic():
    """Least squares of rho(T), weighted for equal relative error, in T / 1000 K."""
    order = 5
    matrix = [[0.0] * order for _ in range(order)]
    right = [0.0] * order
    for kelvin, rho in TUNGSTEN:
        t, w = kelvin / 1000.0, 1.0 / (rho * rho)
        for i in range(order):
            right[i] += w * rho * t ** i
            for j in range(order):
                matrix[i][j] += w * t ** (i + j)
    return solve(matrix, right)


QUARTIC = _quartic()


def resistivity(kelvin):
    """Tungsten, micro-ohm cm."""
    t = kelvin / 1000.0
    return sum(c * t ** i for i, c in enumerate(QUARTIC))


class HeaterKind:
    """One way of being hot.  `kelvin` at rated volts; `conducted`: share of the loss at rated
    volts that goes with T instead of T^4; `cathode_kelvin`: what emits, at rated volts."""

    def __init__(self, kelvin, conducted, cathode_kelvin):
        self.kelvin = kelvin
        self.conducted = conducted
        self.cathode_kelvin = cathode_kelvin
        scale = resistivity(kelvin)
        # resistance over its rated value as a polynomial in u = T / rated T
        self.poly = [c * (kelvin / 1000.0) ** i / scale for i, c in enumerate(QUARTIC)]
        self.ambient = AMBIENT_K / kelvin
        self.radiation = (1.0 - conducted) / (1.0 - self.ambient ** 4)
        self.conduction = conducted / (1.0 - self.ambient)

    def resistance(self, u):
        return sum(c * u ** i for i, c in enumerate(self.poly))

    def loss(self, u):
        """Heat lost over rated watts."""
        return (self.radiation * (u ** 4 - self.ambient ** 4)
                + self.conduction * (u - self.ambient))

    def steady(self, share):
        """Temperature over its rated value at `share` of rated rms volts."""
        low, high = self.ambient, 2.0
        for _ in range(60):
            u = 0.5 * (low + high)
            if share * share / self.resistance(u) > self.loss(u):
                low = u
            else:
                high = u
        return 0.5 * (low + high)

    def steady_amps(self, share):
        """Current over its rated value at `share` of rated rms volts."""
        return share / self.resistance(self.steady(share))

    def emission(self, u):
        """Saturated emission over its value at rated heater volts."""
        return u * u * math.exp(self.richardson * (1.0 - 1.0 / u))

    @property
    def richardson(self):
        return WORK_FUNCTION_EV * KELVIN_PER_EV / self.cathode_kelvin

    # ngspice expressions; `u` is the name of a node that carries T / rated T as volts

    def spice_resistance(self, u):
        text = "%.9g" % self.poly[-1]
        for c in reversed(self.poly[:-1]):
            text = "(%.9g+v(%s)*%s)" % (c, u, text)
        return text

    def spice_loss(self, u):
        square = "v(%s)*v(%s)" % (u, u)
        return "(%.9g*(%s*%s-%.9g)+%.9g*(v(%s)-%.9g))" % (
            self.radiation, square, square, self.ambient ** 4, self.conduction, u, self.ambient)

    def spice_emission(self, u):
        return "v(%s)*v(%s)*exp(%.9g*(1-1/v(%s)))" % (u, u, self.richardson, u)


KELVIN_PER_EV = 11604.5
WORK_FUNCTION_EV = 1.05  # middle of 1.0 to 1.1 eV

# Hot resistance over cold is 6.3 for a heater inside a cathode, 4.8 for an oxide-coated filament,
# 11.2 for a pilot lamp (published inrush of 2.7 to 7.2 times brackets the first two; 1:15 is given
# for mains lamps): by the tungsten table that is 1350, 1070 and 2200 K.  The conducted share is
# what heater legs, getter strap and base take; a few per cent.
INDIRECT = HeaterKind(1350.0, 0.08, 1050.0)
FILAMENT = HeaterKind(1070.0, 0.08, 1050.0)
LAMP = HeaterKind(2200.0, 0.05, 2200.0)
HEATER_KINDS = {"indirect": INDIRECT, "filament": FILAMENT, "lamp": LAMP}

# Emission in reserve.  Handbooks rate heaters for +-10 %, so a rectifier must still give its rated
# peak current at 90 % of heater volts, where Richardson leaves 57 % of the emission.  With the
# knee below, what is left must be 1.25 times that peak for 87 % of it to flow: 2.2 times the
# rated steady peak at rated heater volts.  (One 6X4 was measured at 49 % of heater volts: 1.6 mA
# a plate; this rule gives 6.4 mA, so `emission_factor` = 0.25 stands for that tube.)
RECTIFIER_RESERVE = 2.2
# A receiving tube must hold its transconductance within 15 to 20 % at 5.5 V for 6.3 V (87 %), and
# its load is to be nearly whole at 75 to 80 %, where a fifth to a quarter of the emission is left:
# six times the current drawn.
CATHODE_RESERVE = 6.0
# How sharply the current turns from space charge to saturation: 1/I^n = 1/Isc^n + 1/Isat^n.
KNEE = 3.0


def limited(space_charge, saturation):
    """The lesser of the two currents, smoothly."""
    if space_charge <= 0.0 or saturation <= 0.0:
        return 0.0
    return space_charge * (1.0 + (space_charge / saturation) ** KNEE) ** (-1.0 / KNEE)


def spice_limited(volts, perveance, saturation):
    """The same, I = perveance * volts^1.5 limited to `saturation`; both texts."""
    return ("%.9g*pwr(max(%s,0),1.5)*pwr(1+pwr(max(%s,0),%.9g)*pwr(%.9g/(%s),%g),%.9g)"
            % (perveance, volts, volts, 1.5 * KNEE, perveance, saturation, KNEE, -1.0 / KNEE))
