#!/bin/sh
# What `mainstair report` and `mainstair replay` take for a record of 300,000 readings: a power-up of
# the virtual bench and then two days at full line, read to a hundredth and to a hundred-thousandth
# of a volt.  Beside it, from the same run, what a band for each reading would have taken, by
# `mainstair envelope`.  Wanted: at most a tenth of that; it fails when that is missed.
#   bench_report.sh MAINSTAIR PROFILE...
program=$1
shift
work=$(mktemp -d) || exit 99
trap 'rm -rf "$work"' EXIT
python3 - "$program" "$work" "$@" <<'P'
import os, random, resource, subprocess, sys, zlib

program, work, *profiles = sys.argv[1:]
readings, bands, most = 300000, 1000, 0.1
random.seed(1)


def processor(*arguments):
    def used():
        use = resource.getrusage(resource.RUSAGE_CHILDREN)
        return use.ru_utime + use.ru_stime

    before = used()
    result = subprocess.run([program, *arguments], stdin=subprocess.DEVNULL,
                            stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    if result.returncode != 0:
        sys.exit("%s: %s" % (arguments[0], result.stderr.decode()))
    return used() - before, result.stdout.decode()


def lengthen(short, path, decimals):
    """The record at `short`, then readings like its last one at volts that wander."""
    with open(short, "rb") as f:
        lines = f.read().splitlines()
    columns = [line.split(b"\t") for line in lines]
    last = [c for c in columns if len(c) > 8 and c[1] == b"reading"][-1]
    seconds, full, watts = float(last[0]), float(last[3]), float(last[4])
    wander = 0
    with open(path, "wb") as f:
        f.write(b"\n".join(line for line in lines if b"\tend\t" not in line) + b"\n")
        for i in range(readings):
            seconds += 0.5
            wander = 0.999 * wander + random.gauss(0, 0.03)
            volts = full + wander + random.gauss(0, 0.1)
            line = b"%.1f\treading\t%s\t%.*f\t%.2f\t-\t-\tin-band\tvirtual bench" % (
                seconds, last[2], decimals, volts, watts * (volts / full) ** 1.6)
            f.write(line + b"\t%08x\n" % zlib.crc32(line))


worst = 0
for profile in profiles:
    name = os.path.join(work, os.path.basename(profile))
    processor("run", "--bench", "--record", name, profile)
    nothing, _ = processor("envelope", "--volts", "117", profile)
    each, _ = processor("envelope", "--volts", "110:120:%g" % (10 / bands), profile)
    each = (each - nothing) / bands
    for decimals in (2, 5):
        record = "%s.%d" % (name, decimals)
        lengthen(name, record, decimals)
        for command in ("report", "replay"):
            took, out = processor(command, record)
            ratio = took / (each * readings)
            worst = max(worst, ratio)
            print("%-22s %d decimals, %s: %.2f s of the processor; a band a reading: %.0f s; "
                  "ratio %.3f (wanted: at most %g)" % (os.path.basename(profile), decimals,
                                                       command, took, each * readings, ratio, most))
        if out.count(" reading ") < readings:
            sys.exit("replay left readings out")
        os.remove(record)
sys.exit(worst > most)
P
