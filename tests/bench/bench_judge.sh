#!/bin/sh
# What `mainstair judge` takes for 100,000 rows, each at another voltage.  Wanted: under 1 s.
# Informative: it fails only when a profile takes more than fifteen times that.
#   bench_judge.sh MAINSTAIR PROFILE...
program=$1
shift
work=$(mktemp -d) || exit 99
trap 'rm -rf "$work"' EXIT
python3 - "$program" "$work/readings.csv" "$@" <<'P'
import random, subprocess, sys, time

program, path, *profiles = sys.argv[1:]
random.seed(1)
with open(path, "w") as f:
    f.write("line_volts,watts,seconds\n")
    for i in range(100000):
        volts = random.uniform(10, 125)
        f.write("%.5f,%.3f,%d\n" % (volts, 30 * (volts / 117) ** 1.6 * random.uniform(0.8, 1.2), i))
worst = 0
for profile in profiles:
    start = time.monotonic()
    result = subprocess.run([program, "judge", "--format", "csv", profile, path],
                            stdout=subprocess.DEVNULL)
    took = time.monotonic() - start
    worst = max(worst, took)
    print("%-28s %.3f s, status %d" % (profile.rsplit("/", 1)[-1], took, result.returncode))
    if result.returncode not in (0, 1, 3):
        sys.exit(1)
sys.exit(worst > 15)
P
