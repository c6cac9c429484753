"""Instruments that nothing was developed on: for a last check of what was.  Invented, each of a class
of its own; stated as those of tests/spice/circuits.py are."""

from parts import Circuit, Draw, Rail, Winding, lamp, tube


def tester():
    """Small, one tube rectifier, regulated rail."""
    return Circuit(
        "tester", "Invented capacitor bridge", 117.0, 60.0,
        tubes=[tube("V1", "6AU6", "heater"), tube("V2", "12AU7", "heater"),
               tube("V3", "6X4", "heater"), tube("V4", "0B2")],
        lamps=[lamp("I1", "47", "heater")],
        primary_ohms=34.0, core_watts=2.2, mag_linear=0.04, mag_ninth=0.04,
        windings=[Winding("heater", 6.3, 0.11), Winding("plate", 215.0, 420.0, tapped=True)],
        rails=[
            Rail("main", winding="plate", rectifier="V3", form="full-wave", reservoir=(16e-6,),
                 bleeder=150e3, draws=[Draw(0.008, 245.0, "tubes", ("V2",))]),
            Rail("steady", parent="main", through=6800.0, regulator="V4",
                 draws=[Draw(0.005, 108.0, "tubes", ("V1",))])])


def guitar_amplifier():
    """Push-pull, directly heated rectifier, three sections behind one another."""
    return Circuit(
        "guitar-amplifier", "Invented guitar amplifier", 120.0, 60.0,
        tubes=[tube("V1", "12AX7", "heater"), tube("V2", "12AX7", "heater"),
               tube("V3", "6V6GT", "heater"), tube("V4", "6V6GT", "heater"),
               tube("V5", "5Y3GT", "rectifier")],
        lamps=[lamp("I1", "47", "heater")],
        primary_ohms=6.5, core_watts=4.6, mag_linear=0.09, mag_ninth=0.08,
        windings=[Winding("heater", 6.3, 0.05), Winding("rectifier", 5.0, 0.06),
                  Winding("plate", 325.0, 240.0, tapped=True)],
        rails=[
            Rail("main", winding="plate", rectifier="V5", form="full-wave", reservoir=(20e-6,),
                 draws=[Draw(0.070, 345.0, "tubes", ("V3", "V4"))]),
            Rail("screen", parent="main", through=1000.0, reservoir=(20e-6,),
                 draws=[Draw(0.006, 335.0, "tubes", ("V3", "V4"))]),
            Rail("early", parent="screen", through=22e3, reservoir=(20e-6,),
                 draws=[Draw(0.0035, 250.0, "tubes", ("V1", "V2"))])])


def euro_amplifier():
    """230 V, two rectifiers' worth of current out of one, fixed bleeder."""
    return Circuit(
        "euro-amplifier", "Invented 230 V amplifier", 230.0, 50.0, chassis="earthed",
        tubes=[tube("V1", "12AX7", "heater"), tube("V2", "EL84", "heater"),
               tube("V3", "EL84", "heater"), tube("V4", "EZ80", "heater")],
        lamps=[lamp("I1", "47", "heater")],
        primary_ohms=30.0, core_watts=5.0, mag_linear=0.05, mag_ninth=0.045,
        windings=[Winding("heater", 6.3, 0.05), Winding("plate", 265.0, 260.0, tapped=True)],
        rails=[
            Rail("main", winding="plate", rectifier="V4", form="full-wave", surge=100.0,
                 reservoir=(50e-6,), bleeder=220e3,
                 draws=[Draw(0.072, 290.0, "tubes", ("V2", "V3"))]),
            Rail("early", parent="main", through=12e3, reservoir=(32e-6,),
                 draws=[Draw(0.004, 240.0, "tubes", ("V1",))])])


def counter():
    """Tubes on a silicon bridge, a second rail of its own, both up before any heater."""
    return Circuit(
        "counter", "Invented counter", 117.0, 60.0, chassis="earthed",
        tubes=[tube("V%d" % (i + 1), t, "heater") for i, t in enumerate(
            ("6AU6", "12AU7", "12AU7", "12AT7", "6J6", "6J6"))],
        lamps=[lamp("I1", "47", "heater"), lamp("I2", "47", "heater")],
        primary_ohms=9.5, core_watts=4.2, mag_linear=0.08, mag_ninth=0.07,
        windings=[Winding("heater", 6.3, 0.05), Winding("plate", 165.0, 55.0),
                  Winding("bias", 60.0, 18.0)],
        rails=[
            Rail("main", winding="plate", rectifier="silicon", form="bridge", surge=15.0,
                 reservoir=(80e-6,), bleeder=56e3,
                 draws=[Draw(0.055, 205.0, "tubes", ("V1", "V2", "V3", "V4", "V5", "V6"))]),
            Rail("b", parent="main", through=1500.0, reservoir=(40e-6,),
                 draws=[Draw(0.014, 180.0, "resistive")]),
            Rail("bias", winding="bias", rectifier="silicon", form="half-wave", surge=10.0,
                 reservoir=(100e-6,), bleeder=10e3, draws=[Draw(0.006, 70.0, "resistive")])])


def tuner():
    """Choke input behind a large rectifier, lightly loaded."""
    return Circuit(
        "tuner", "Invented broadcast tuner", 117.0, 60.0,
        tubes=[tube("V%d" % (i + 1), t, "heater") for i, t in enumerate(
            ("6SK7", "6SA7", "6SK7", "6SQ7", "6SN7GT"))] + [tube("V6", "5V4G", "rectifier")],
        lamps=[lamp("I1", "44", "heater"), lamp("I2", "44", "heater")],
        primary_ohms=8.0, core_watts=5.2, mag_linear=0.10, mag_ninth=0.09,
        windings=[Winding("heater", 6.3, 0.05), Winding("rectifier", 5.0, 0.07),
                  Winding("plate", 295.0, 260.0, tapped=True)],
        rails=[
            Rail("main", winding="plate", rectifier="V6", form="full-wave",
                 choke_input=(15.0, 240.0), reservoir=(20e-6,), bleeder=20e3,
                 draws=[Draw(0.030, 235.0, "tubes", ("V1", "V2", "V3", "V4"))]),
            Rail("b", parent="main", through=4700.0, reservoir=(20e-6,),
                 draws=[Draw(0.008, 195.0, "tubes", ("V5",))])])


ALL = (tester, guitar_amplifier, euro_amplifier, counter, tuner)
