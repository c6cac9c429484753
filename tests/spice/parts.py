"""What a circuit is made of.  Plain data; volts, amps, ohms, farads, henries, hertz."""

import copy
from dataclasses import dataclass, field
from typing import Optional


# Handbook facts of the types used: heater volts and amps, heating, and for rectifiers the plate
# drop in volts at so many amps and the rated steady peak amps of one plate.  From the maker's
# sheets, most of them from memory.
@dataclass(frozen=True)
class TubeType:
    volts: float = 0.0
    amps: float = 0.0
    heating: str = "indirect"
    drop_volts: float = 0.0
    drop_amps: float = 0.0
    peak_amps: float = 0.0
    strike_volts: float = 0.0
    hold_volts: float = 0.0
    regulator_ohms: float = 0.0
    pass_amps: float = 0.0     # grid at cathode potential: pass_amps at pass_volts
    pass_volts: float = 0.0


TUBES = {
    "12AX7": TubeType(6.3, 0.3),
    "12AU7": TubeType(6.3, 0.3),
    "12AT7": TubeType(6.3, 0.3),
    "6AU6": TubeType(6.3, 0.3),
    "6CB6": TubeType(6.3, 0.3),
    "6J6": TubeType(6.3, 0.45),
    "6SN7GT": TubeType(6.3, 0.6),
    "6SJ7": TubeType(6.3, 0.3),
    "6SK7": TubeType(6.3, 0.3),
    "6SA7": TubeType(6.3, 0.3),
    "6SQ7": TubeType(6.3, 0.3),
    "6K6GT": TubeType(6.3, 0.4),
    "6V6GT": TubeType(6.3, 0.45),
    "6AQ5": TubeType(6.3, 0.45),
    "6L6GC": TubeType(6.3, 0.9),
    "6BQ5": TubeType(6.3, 0.76),
    "12BE6": TubeType(12.6, 0.15),
    "12BA6": TubeType(12.6, 0.15),
    "12AV6": TubeType(12.6, 0.15),
    "50C5": TubeType(50.0, 0.15),
    "ECH81": TubeType(6.3, 0.3),
    "EF89": TubeType(6.3, 0.2),
    "EABC80": TubeType(6.3, 0.45),
    "EL84": TubeType(6.3, 0.76),
    "EM80": TubeType(6.3, 0.3),
    # pass tube: 6080, one section near 280 ohm, both in parallel
    "6080": TubeType(6.3, 2.5, pass_amps=0.50, pass_volts=70.0),
    "6X4": TubeType(6.3, 0.6, drop_volts=22.0, drop_amps=0.070, peak_amps=0.245),
    "EZ80": TubeType(6.3, 0.6, drop_volts=20.0, drop_amps=0.090, peak_amps=0.270),
    "35W4": TubeType(35.0, 0.15, drop_volts=18.0, drop_amps=0.200, peak_amps=0.600),
    "5V4G": TubeType(5.0, 2.0, drop_volts=25.0, drop_amps=0.175, peak_amps=0.525),
    "5Y3GT": TubeType(5.0, 2.0, "filament", 50.0, 0.125, 0.440),
    "5U4G": TubeType(5.0, 3.0, "filament", 44.0, 0.225, 0.800),
    # 80 to 300 ohm is the published range of the dynamic resistance
    "0A2": TubeType(heating="none", strike_volts=185.0, hold_volts=150.0, regulator_ohms=120.0),
    "0B2": TubeType(heating="none", strike_volts=133.0, hold_volts=108.0, regulator_ohms=120.0),
}

LAMPS = {"47": (6.3, 0.15), "44": (6.3, 0.25)}


@dataclass
class Hot:
    """A tube or lamp.  `winding` names a winding, or "string"; "" for a cold cathode."""
    place: str
    type: str
    winding: str
    kind: str
    volts: float
    amps: float
    is_open: bool = False


@dataclass
class Winding:
    name: str
    volts: float              # rms wanted at the terminals under load, one half if tapped
    ohms: float               # end to end
    tapped: bool = False
    give_open: bool = False   # the profile states open volts
    ratio: float = 0.0        # one half, over the primary; found by calibration
    short_ohms: float = 0.0   # fault


@dataclass
class Draw:
    amps: float
    volts: float
    kind: str                 # "tubes", "resistive", "constant"
    by: tuple = ()


@dataclass
class Rail:
    name: str
    draws: list = field(default_factory=list)
    # fed by a rectifier
    winding: str = ""         # or "line"
    rectifier: str = ""       # place of a tube, "silicon", "selenium"
    plates: int = 0           # selenium, in series a leg
    plate_amps: float = 0.0   # selenium: the direct current its plates are sized for
    form: str = ""
    surge: float = 0.0
    choke_input: Optional[tuple] = None   # henry, ohm
    # fed from another rail
    parent: str = ""
    through: float = 0.0
    through_choke: Optional[tuple] = None
    regulator: str = ""       # place of the gas tube or the pass tube
    pass_volts: float = 0.0   # series pass: what it holds
    reservoir: tuple = ()
    bleeder: float = 0.0
    leak_ohms: float = 0.0    # faults
    plate_short_ohms: float = 0.0
    dead: bool = False


@dataclass
class Circuit:
    name: str
    title: str
    line_volts: float
    hertz: float
    tubes: list
    lamps: list
    windings: list
    rails: list
    supply: str = "transformer"
    chassis: str = "two-wire"
    primary_ohms: float = 0.0
    core_watts: float = 0.0   # at line_volts across the core
    mag_linear: float = 0.0   # peak A at rated flux
    mag_ninth: float = 0.0
    dropper: float = 0.0      # series string
    emission_factor: float = 1.0
    shunt_ohms: float = 0.0   # faults
    turn_watts: float = 0.0   # shorted turn: what it takes at line_volts across the core

    def copy(self):
        return copy.deepcopy(self)

    def winding(self, name):
        return next(w for w in self.windings if w.name == name)

    def rail(self, name):
        return next(r for r in self.rails if r.name == name)

    def tube(self, place):
        return next(t for t in self.tubes if t.place == place)

    @property
    def has_transformer(self):
        return self.supply == "transformer"

    def heated(self):
        """Tubes and lamps that are heated."""
        return [t for t in self.tubes if t.kind != "none"] + self.lamps


def tube(place, type_name, winding=""):
    facts = TUBES[type_name]
    return Hot(place, type_name, winding, facts.heating, facts.volts, facts.amps)


def lamp(place, type_name, winding):
    volts, amps = LAMPS[type_name]
    return Hot(place, type_name, winding, "lamp", volts, amps)
