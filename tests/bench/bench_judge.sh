#!/bin/sh
# What `mainstair judge` takes for 100,000 rows: each at another voltage; and as the log of a
# power-up, ten a second.  Wanted: under 1 s.  Informative: it fails only when a profile takes more
# than thirty times that (a machine at the mercy of others proves nothing finer).
#   bench_judge.sh MAINSTAIR PROFILE...
program=$1
shift
work=$(mktemp -d) || exit 99
trap 'rm -rf "$work"' EXIT
python3 - "$program" "$work" "$@" <<'P'
import os, random, resource, subprocess, sys, time

program, work, *profiles = sys.argv[1:]
random.seed(1)

def watts(volts):
    return 30 * (volts / 117) ** 1.6 * random.uniform(0.8, 1.2)

with open(work + "/spread.csv", "w") as f:
    f.write("line_volts,watts\n")
    for i in range(100000):
        volts = random.uniform(10, 125)
        f.write("%.5f,%.3f\n" % (volts, watts(volts)))
with open(work + "/log.csv", "w") as f:
    f.write("seconds,line_volts,watts\n")
    for i in range(100000):
        volts = (15, 30, 50, 70, 90, 105, 117)[min(i // 3000, 6)] + random.gauss(0, 0.15)
        f.write("%.1f,%.1f,%.2f\n" % (i * 0.1, volts, watts(volts)))

def processor():
    use = resource.getrusage(resource.RUSAGE_CHILDREN)
    return use.ru_utime + use.ru_stime

worst = 0
for profile in profiles:
    for kind in ("spread", "log"):
        before, start = processor(), time.monotonic()
        result = subprocess.run([program, "judge", "--format", "csv", profile,
                                 work + "/" + kind + ".csv"], stdout=subprocess.DEVNULL,
                                stderr=subprocess.DEVNULL)
        took = time.monotonic() - start
        worst = max(worst, took)
        print("%-26s %-6s %.3f s, of the processors %.3f s, status %d" % (
            os.path.basename(profile), kind, took, processor() - before, result.returncode))
        if result.returncode not in (0, 1, 3):
            sys.exit(1)
sys.exit(worst > 30)
P
