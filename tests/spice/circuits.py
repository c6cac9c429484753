"""The instruments: invented, each of a class of its own.

Draws are stated at round volts near what the rail comes to; the profile says the same figures.
Windings state the volts that calibration aims at; the profile gets what was then measured.
"""

from parts import Circuit, Draw, Rail, Winding, lamp, tube


def oscillator():
    return Circuit(
        "oscillator", "Invented bench oscillator", 117.0, 60.0,
        tubes=[tube("V1", "12AX7", "heater"), tube("V2", "6AU6", "heater"),
               tube("V3", "6AU6", "heater"), tube("V4", "12AU7", "heater"),
               tube("V5", "6X4", "heater"), tube("V6", "0A2")],
        lamps=[lamp("I1", "47", "heater"), lamp("I2", "47", "heater")],
        primary_ohms=22.0, core_watts=3.0, mag_linear=0.055, mag_ninth=0.055,
        windings=[Winding("heater", 6.3, 0.08), Winding("plate", 245.0, 360.0, tapped=True)],
        rails=[
            Rail("main", winding="plate", rectifier="V5", form="full-wave", reservoir=(20e-6,)),
            Rail("screen", parent="main", through=2200.0, reservoir=(20e-6,), bleeder=100e3,
                 draws=[Draw(0.012, 230.0, "tubes", ("V2", "V3", "V4")),
                        Draw(0.004, 230.0, "resistive")]),
            Rail("steady", parent="screen", through=4700.0, regulator="V6",
                 draws=[Draw(0.004, 150.0, "tubes", ("V1",))])])


def table_radio():
    """Five tubes in a series string, rectifier straight off the line."""
    return Circuit(
        "table-radio", "Invented five-tube series-string table radio", 117.0, 60.0,
        supply="series-string", chassis="live",
        tubes=[tube("V1", "12BE6", "string"), tube("V2", "12BA6", "string"),
               tube("V3", "12AV6", "string"), tube("V4", "50C5", "string"),
               tube("V5", "35W4", "string")],
        lamps=[], windings=[],
        rails=[
            Rail("main", winding="line", rectifier="V5", form="half-wave", surge=33.0,
                 reservoir=(50e-6,), draws=[Draw(0.042, 120.0, "tubes", ("V4",))]),
            Rail("b", parent="main", through=1200.0, reservoir=(30e-6,),
                 draws=[Draw(0.018, 100.0, "tubes", ("V1", "V2", "V3"))])])


def console_radio():
    """Directly heated rectifier, field coil as the filter choke."""
    return Circuit(
        "console-radio", "Invented console radio with a field coil", 117.0, 60.0,
        tubes=[tube("V1", "6SA7", "heater"), tube("V2", "6SK7", "heater"),
               tube("V3", "6SQ7", "heater"), tube("V4", "6V6GT", "heater"),
               tube("V5", "5Y3GT", "rectifier")],
        lamps=[lamp("I1", "44", "heater"), lamp("I2", "44", "heater")],
        primary_ohms=9.0, core_watts=5.5, mag_linear=0.10, mag_ninth=0.09,
        windings=[Winding("heater", 6.3, 0.06), Winding("rectifier", 5.0, 0.07),
                  Winding("plate", 330.0, 400.0, tapped=True)],
        rails=[
            Rail("main", winding="plate", rectifier="V5", form="full-wave", reservoir=(16e-6,)),
            Rail("b", parent="main", through_choke=(10.0, 1200.0), reservoir=(16e-6,),
                 bleeder=30e3,
                 draws=[Draw(0.045, 270.0, "tubes", ("V4",)),
                        Draw(0.016, 270.0, "tubes", ("V1", "V2", "V3"))])])


def amplifier():
    """Push-pull parallel, about 180 W."""
    return Circuit(
        "amplifier", "Invented push-pull amplifier", 117.0, 60.0, chassis="earthed",
        tubes=[tube("V1", "12AX7", "heater"), tube("V2", "6SN7GT", "heater"),
               tube("V3", "6L6GC", "heater"), tube("V4", "6L6GC", "heater"),
               tube("V5", "6L6GC", "heater"), tube("V6", "6L6GC", "heater"),
               tube("V7", "5U4G", "rectifier")],
        lamps=[lamp("I1", "47", "heater")],
        primary_ohms=1.9, core_watts=9.0, mag_linear=0.19, mag_ninth=0.17,
        windings=[Winding("heater", 6.3, 0.02), Winding("rectifier", 5.0, 0.035),
                  Winding("plate", 385.0, 90.0, tapped=True)],
        rails=[
            Rail("main", winding="plate", rectifier="V7", form="full-wave", surge=20.0,
                 reservoir=(40e-6,),
                 draws=[Draw(0.215, 410.0, "tubes", ("V3", "V4", "V5", "V6"))]),
            Rail("screen", parent="main", through_choke=(4.0, 120.0), reservoir=(40e-6,),
                 bleeder=82e3,
                 draws=[Draw(0.014, 400.0, "tubes", ("V3", "V4", "V5", "V6"))]),
            Rail("driver", parent="screen", through=10e3, reservoir=(20e-6,),
                 draws=[Draw(0.010, 300.0, "tubes", ("V1", "V2"))])])


def euro_radio():
    """230 V 50 Hz, plate winding stated by its open volts."""
    return Circuit(
        "euro-radio", "Invented 230 V radio", 230.0, 50.0,
        tubes=[tube("V1", "ECH81", "heater"), tube("V2", "EF89", "heater"),
               tube("V3", "EABC80", "heater"), tube("V4", "EL84", "heater"),
               tube("V5", "EM80", "heater"), tube("V6", "EZ80", "heater")],
        lamps=[lamp("I1", "47", "heater"), lamp("I2", "47", "heater")],
        primary_ohms=42.0, core_watts=4.5, mag_linear=0.045, mag_ninth=0.04,
        windings=[Winding("heater", 6.3, 0.06),
                  Winding("plate", 250.0, 330.0, tapped=True, give_open=True)],
        rails=[
            Rail("main", winding="plate", rectifier="V6", form="full-wave", reservoir=(50e-6,),
                 draws=[Draw(0.040, 260.0, "tubes", ("V4",))]),
            Rail("b", parent="main", through=1500.0, reservoir=(50e-6,),
                 draws=[Draw(0.022, 230.0, "tubes", ("V1", "V2", "V3", "V5")),
                        Draw(0.003, 230.0, "resistive")])])


def receiver():
    """Choke input."""
    return Circuit(
        "receiver", "Invented communications receiver", 117.0, 60.0, chassis="earthed",
        tubes=[tube("V%d" % (i + 1), t, "heater") for i, t in enumerate(
            ("6SK7", "6SK7", "6SA7", "6SJ7", "6SK7", "6SK7", "6SQ7", "6SJ7", "6K6GT",
             "6SN7GT"))]
        + [tube("V11", "5V4G", "rectifier"), tube("V12", "0A2")],
        lamps=[lamp("I1", "47", "heater"), lamp("I2", "47", "heater")],
        primary_ohms=5.5, core_watts=7.5, mag_linear=0.13, mag_ninth=0.12,
        windings=[Winding("heater", 6.3, 0.035), Winding("rectifier", 5.0, 0.06),
                  Winding("plate", 320.0, 210.0, tapped=True)],
        rails=[
            Rail("main", winding="plate", rectifier="V11", form="full-wave",
                 choke_input=(12.0, 190.0), reservoir=(16e-6,), bleeder=25e3,
                 draws=[Draw(0.036, 255.0, "tubes", ("V9",)),
                        Draw(0.048, 255.0, "tubes", ("V1", "V2", "V4", "V5", "V6", "V7"))]),
            Rail("steady", parent="main", through=3300.0, regulator="V12",
                 draws=[Draw(0.009, 150.0, "tubes", ("V3", "V10"))])])


def selenium_set():
    """Selenium bridge; rails come up before the tubes."""
    return Circuit(
        "selenium-set", "Invented signal generator with a selenium bridge", 117.0, 60.0,
        tubes=[tube("V1", "6J6", "heater"), tube("V2", "12AT7", "heater"),
               tube("V3", "6AU6", "heater"), tube("V4", "6CB6", "heater"),
               tube("V5", "12AU7", "heater")],
        lamps=[lamp("I1", "47", "heater")],
        primary_ohms=16.0, core_watts=3.2, mag_linear=0.06, mag_ninth=0.055,
        windings=[Winding("heater", 6.3, 0.07), Winding("plate", 150.0, 60.0)],
        rails=[
            Rail("main", winding="plate", rectifier="selenium", plates=6, plate_amps=0.1,
                 form="bridge", surge=22.0, reservoir=(40e-6,), bleeder=47e3),
            Rail("b", parent="main", through=680.0, reservoir=(40e-6,),
                 draws=[Draw(0.045, 150.0, "tubes", ("V1", "V2", "V3", "V4", "V5")),
                        Draw(0.006, 150.0, "resistive")])])


def doubler_amplifier():
    """Stereo pair on a silicon full-wave doubler."""
    return Circuit(
        "doubler-amplifier", "Invented stereo amplifier with a silicon doubler", 120.0, 60.0,
        tubes=[tube("V1", "12AX7", "heater"), tube("V2", "12AX7", "heater"),
               tube("V3", "6BQ5", "heater"), tube("V4", "6BQ5", "heater"),
               tube("V5", "6BQ5", "heater"), tube("V6", "6BQ5", "heater")],
        lamps=[lamp("I1", "47", "heater")],
        primary_ohms=3.6, core_watts=5.5, mag_linear=0.11, mag_ninth=0.11,
        windings=[Winding("heater", 6.3, 0.03), Winding("plate", 131.0, 4.5)],
        rails=[
            Rail("main", winding="plate", rectifier="silicon", form="doubler", surge=4.7,
                 reservoir=(100e-6, 100e-6), bleeder=100e3,
                 draws=[Draw(0.130, 330.0, "tubes", ("V3", "V4", "V5", "V6"))]),
            Rail("b", parent="main", through=2700.0, reservoir=(40e-6,),
                 draws=[Draw(0.016, 290.0, "tubes", ("V1", "V2", "V3", "V4", "V5", "V6"))])])


def solid_state():
    """No heaters."""
    return Circuit(
        "solid-state", "Invented transistor counter", 117.0, 60.0, chassis="earthed",
        tubes=[], lamps=[lamp("I1", "47", "heater")],
        primary_ohms=18.0, core_watts=2.4, mag_linear=0.05, mag_ninth=0.05,
        windings=[Winding("heater", 6.3, 0.15), Winding("low", 20.0, 0.9)],
        rails=[
            Rail("main", winding="low", rectifier="silicon", form="bridge",
                 reservoir=(2000e-6,), draws=[Draw(0.35, 24.0, "constant"),
                                              Draw(0.20, 24.0, "resistive")]),
            Rail("quiet", parent="main", through=22.0, reservoir=(1000e-6,),
                 draws=[Draw(0.15, 20.0, "resistive")])])


def oscilloscope():
    """Three rails, two rectifiers on windings of their own, a series-pass regulator."""
    return Circuit(
        "oscilloscope", "Invented oscilloscope", 117.0, 60.0, chassis="earthed",
        tubes=[tube("V%d" % (i + 1), t, "heater") for i, t in enumerate(
            ("6AU6", "6AU6", "6CB6", "6CB6", "12AU7", "12AU7", "12AT7", "12AT7", "6AU6",
             "12AX7"))]
        + [tube("V11", "6080", "pass"), tube("V12", "5V4G", "rectifier"),
           tube("V13", "6X4", "pass")],
        lamps=[lamp("I1", "47", "heater"), lamp("I2", "47", "heater")],
        primary_ohms=2.6, core_watts=8.0, mag_linear=0.16, mag_ninth=0.15,
        windings=[Winding("heater", 6.3, 0.03), Winding("pass", 6.3, 0.035),
                  Winding("rectifier", 5.0, 0.06), Winding("plate", 330.0, 130.0, tapped=True),
                  Winding("low", 180.0, 250.0, tapped=True)],
        rails=[
            Rail("high", winding="plate", rectifier="V12", form="full-wave", surge=47.0,
                 reservoir=(40e-6,), draws=[Draw(0.020, 340.0, "tubes", ("V3", "V4"))]),
            Rail("regulated", parent="high", regulator="V11", pass_volts=225.0,
                 reservoir=(20e-6,),
                 draws=[Draw(0.070, 225.0, "tubes", ("V1", "V2", "V5", "V6", "V7", "V8")),
                        Draw(0.010, 225.0, "resistive")]),
            Rail("low", winding="low", rectifier="V13", form="full-wave", reservoir=(20e-6,),
                 bleeder=33e3, draws=[Draw(0.028, 190.0, "tubes", ("V9", "V10"))])])


ALL = (oscillator, table_radio, console_radio, amplifier, euro_radio, receiver, selenium_set,
       doubler_amplifier, solid_state, oscilloscope)


def by_name(name):
    for make in ALL:
        circuit = make()
        if circuit.name == name:
            return circuit
    raise KeyError(name)
