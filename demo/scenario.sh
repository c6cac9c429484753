#!/bin/sh
# demo/scenario.sh [FOLDER] - the job on an invented unit, from the first look to the report,
# without a terminal: what was typed over five invented days, two power-ups on the virtual bench
# (the first one meets a shorted section), and the report as a page, as text and as tables.
#
# Everything in it is made up: the instrument, its readings and its faults.
# FOLDER is made, or must be empty (without it: a new one under /tmp); MAINSTAIR names the program.
set -eu
top=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
mainstair=${MAINSTAIR:-$top/build/src/cli/mainstair}
[ -x "$mainstair" ] || {
	echo "scenario: $mainstair is not there; sh demo/start builds it, or set MAINSTAIR" >&2
	exit 2
}
folder=${1:-$(mktemp -d /tmp/mainstair-scenario-XXXXXX)}
mkdir -p "$folder"
[ -z "$(ls -A "$folder")" ] || {
	echo "scenario: $folder is not empty" >&2
	exit 2
}
unit=$folder/shelf-3.unit
profile=$top/demo/scenario.ini

# Each line: UTC | page | row | what is typed there
enter_lines() {
	while IFS='|' read -r at page row line; do
		[ -n "$at" ] || continue
		"$mainstair" enter --yes --profile "$profile" --at "$at" "$unit" "$page" "$row" \
			"$line" >>"$folder/kept" || {
			echo "scenario: not kept: $page, $row: $line" >&2
			exit 1
		}
	done
}

# leakage SECTION DATE HOUR VOLTS FIRST-MA LAST-MA: leakage over six hours that falls by a power
# law to what is left, in milliamps, thinned as a person at a bench would read it
leakage() {
	awk -v section="$1" -v date="$2" -v hour="$3" -v volts="$4" -v first="$5" -v last="$6" '
	BEGIN {
		n = split("1 2 4 8 15 30 60 120 180 270 360", minute, " ")
		printf "%sT%02d:00:00Z|capacitors|%s|on %s V\n", date, hour, section, volts
		for (i = 1; i <= n; i++) {
			t = minute[i]
			wobble = 1 + 0.02 * sin(7 * i)
			printf "%sT%02d:%02d:00Z|capacitors|%s|%sV %.4fmA\n", date,
				hour + int(t / 60), t % 60, section, volts,
				(last + (first - last) / (1 + t / 4) ^ 0.95) * wobble
		}
		printf "%sT%02d:10:00Z|capacitors|%s|off\n", date, hour + 6, section
		printf "%sT%02d:15:00Z|capacitors|%s|discharged\n", date, hour + 6, section
	}'
}

echo 'scenario: look, tubes, ohms' >&2
enter_lines <<'LINES'
2026-02-02T17:55:00Z|job|-|"an invented unit for a demonstration: nothing here was ever measured
2026-02-02T18:00:00Z|look|the mains cord|finding rubber perished, bare strands at the entry
2026-02-02T18:01:00Z|look|the plug|ok
2026-02-02T18:03:00Z|look|the fuse|2 A fast
2026-02-02T18:05:00Z|look|line setting|ok
2026-02-02T18:06:00Z|look|the power switch|ok
2026-02-02T18:08:00Z|look|capacitors on the line side|none
2026-02-02T18:10:00Z|look|the chassis|ok
2026-02-02T18:11:00Z|look|isolation transformer|ok
2026-02-02T18:13:00Z|look|power transformer|ok
2026-02-02T18:15:00Z|look|electrolytics|ok no bulge, no crust
2026-02-02T18:18:00Z|look|burnt|finding R17 brown at one end, reads 60 % high
2026-02-02T18:20:00Z|look|insulation|ok
2026-02-02T18:25:00Z|look|debris|ok dust blown out
2026-02-02T18:27:00Z|look|all 6 tubes|ok
2026-02-02T18:28:00Z|look|lamps|ok
2026-02-02T19:10:00Z|look|the mains cord|mended new two-wire cord, new strain relief
2026-02-02T19:15:00Z|look|the fuse|0.5 A slow
2026-02-02T19:20:00Z|look|burnt|mended R17 replaced, 47k 1 W; nothing else near it
2026-02-02T19:30:00Z|tubes|V1|good 92 %
2026-02-02T19:34:00Z|tubes|V2|good 78 %
2026-02-02T19:38:00Z|tubes|V3|weak 55 % one half
2026-02-02T19:42:00Z|tubes|V4|good 3900 of 4100 umho
2026-02-02T19:50:00Z|tubes|V6|strikes 158 holds 151
2026-02-02T20:00:00Z|ohms|both live pins|OL
2026-02-02T20:03:00Z|ohms|the fuse|0.8
2026-02-02T20:06:00Z|ohms|across the plug|16.4
2026-02-02T20:09:00Z|ohms|winding heater|0.2
2026-02-02T20:12:00Z|ohms|winding plate, end to end|322
2026-02-02T20:14:00Z|ohms|centre tap to one end|158
2026-02-02T20:15:00Z|ohms|centre tap to the other end|164
2026-02-02T20:20:00Z|ohms|rail screen, across|4k9
2026-02-02T20:25:00Z|ohms|rail main to chassis|120k
2026-02-02T20:27:00Z|ohms|rail screen to chassis|118k
2026-02-02T20:29:00Z|ohms|rail steady to chassis|96k
LINES

echo 'scenario: re-forming' >&2
{
	leakage C1A 2026-02-03 8 200 2.4 0.05
	leakage C1A 2026-02-04 8 350 3.1 0.06
	leakage C1B 2026-02-03 8 200 1.9 0.09
	leakage C1B 2026-02-04 8 350 2.8 0.19
	leakage C2 2026-02-04 9 25 0.4 0.002
} | sort -s -t'|' -k1,1 | enter_lines
enter_lines <<'LINES'
2026-02-04T20:00:00Z|job|-|override tubes-not-tested no socket for the 6X4 on this tester: watched at the first stages
LINES

echo 'scenario: a power-up that meets a short, and one that does not' >&2
"$mainstair" run --bench --fault 'rail screen short 20' --record "$folder/first.record" \
	"$profile" >>"$folder/kept" && {
	echo 'scenario: the first power-up should have ended in an abort' >&2
	exit 1
}
enter_lines <<LINES
2026-02-05T18:40:00Z|power|-|$folder/first.record
2026-02-05T19:10:00Z|job|-|mended C1B had broken down, 20 ohm to its can, cold: a new section
2026-02-05T19:30:00Z|capacitors|C1B|replaced
2026-02-05T19:40:00Z|ohms|rail screen to chassis|131k
LINES
"$mainstair" run --bench --record "$folder/second.record" "$profile" >>"$folder/kept"
enter_lines <<LINES
2026-02-06T18:00:00Z|power|-|$folder/second.record
LINES

echo 'scenario: calibration, null, comparison' >&2
enter_lines <<'LINES'
2026-02-06T18:40:00Z|calibrate|P1|found 1.04 V
2026-02-06T18:41:00Z|calibrate|P2|found 0.52 V
2026-02-06T18:42:00Z|calibrate|P3|found 10.1 V
2026-02-06T18:44:00Z|calibrate|P4|found -20.05 dB
2026-02-06T18:50:00Z|calibrate|P1|adjusted 1.00 V
2026-02-06T18:52:00Z|calibrate|P1|left 1.00 V
2026-02-06T18:53:00Z|calibrate|P2|left 0.50 V
2026-02-06T18:54:00Z|calibrate|P3|left 10.2 V
2026-02-06T19:00:00Z|nulls|hum|R22 at 30: 4.2 mV
2026-02-06T19:01:00Z|nulls|hum|R23 at 50: 2.6 mV
2026-02-06T19:02:00Z|nulls|hum|R22 at 38: 1.5 mV
2026-02-06T19:03:00Z|nulls|hum|R23 at 56: 0.84 mV
2026-02-06T19:04:00Z|nulls|hum|R22 at 42: 0.51 mV
2026-02-06T19:05:00Z|nulls|hum|R23 at 58: 0.33 mV
2026-02-06T19:06:00Z|nulls|hum|R22 at 43: 0.29 mV
2026-02-06T19:07:00Z|nulls|hum|R23 at 58.5: 0.27 mV
2026-02-06T19:20:00Z|compare|-|1 kHz, 1 V in: 1.00 V +/- 1.2 %, 0.996 V +/- 0.8 %, an invented bench voltmeter
2026-02-06T19:22:00Z|compare|-|20 kHz, 1 V in: 0.93 V +/- 1.2 %, 0.994 V +/- 0.8 %
2026-02-06T19:24:00Z|compare|-|hum, input shorted: 0.27 mV, 0.2 mV
LINES

"$mainstair" report --at 2026-02-07T09:00:00Z -o "$folder/report.html" "$unit"
"$mainstair" report --at 2026-02-07T09:00:00Z -o "$folder/report.txt" "$unit"
"$mainstair" report --at 2026-02-07T09:00:00Z --format csv -o "$folder/tables/" "$unit"
echo "scenario: $folder/report.html" >&2
