#!/bin/sh
# mainstair envelope
. "$(dirname "$0")/lib.sh"

profiles=$source/profiles
oscillator=$profiles/bench-oscillator.ini

run envelope --format csv "$oscillator"
ok 'the stages of the plan' ended 0
ok 'nothing on standard error' silent
ok 'the columns to the letter' first_line_is 'line_volts,watts_low,watts,watts_high,watts_abort,va,amps,power_factor,heater_heater_volts,rail_main_volts,rail_main_ma,rail_screen_volts,rail_screen_ma,rail_steady_volts,rail_steady_ma'
ends_at_117() { [ "$(tail -n 1 out | cut -d, -f1)" = 117 ]; }
ok 'up to the nameplate' ends_at_117

run envelope --format csv "$profiles/table-radio.ini"
ok 'a series string has no heater windings' sh -c '! head -n 1 out | grep -q heater_'
ok 'but rails' prints ',rail_'

cat >sane.py <<'P'
import csv, math
rows = list(csv.DictReader(open("out", newline="")))
assert rows, "no rows"
for row in rows:
    # a rail through which next to nothing flows has no volts
    assert all(text or (name.startswith("rail_") and name.endswith("_volts") and
               float(row[name[:-5] + "ma"]) <= 1) for name, text in row.items()), row
    value = {name: float(text) for name, text in row.items() if text}
    assert all(math.isfinite(x) for x in value.values()), row
    assert 0 <= value["watts_low"] <= value["watts"] <= value["watts_high"], row
    # the fuse may draw the abort line down, at next to no volts even below the meter's own error
    assert value["watts_high"] <= value["watts_abort"] or value["line_volts"] < 2, row
    assert value["watts"] <= value["va"] * (1 + 1e-3) + 1e-3, row
    assert abs(value["va"] - value["line_volts"] * value["amps"]) <= 1e-3 * value["va"] + 2e-3, row
    if value["va"] > 0.1:
        assert abs(value["power_factor"] - value["watts"] / value["va"]) <= 2e-3, row
watts = [float(row["watts"]) for row in rows]
volts = [float(row["line_volts"]) for row in rows]
assert volts != sorted(volts) or watts == sorted(watts), watts
P
for profile in "$profiles"/*.ini; do
	name=$(basename "$profile" .ini)
	run envelope --format csv "$profile"
	ok "$name: its stages" ended 0
	ok "$name: numbers that agree with each other" python3 sane.py
done

volts_are() { [ "$(sed 1d out | cut -d, -f1 | tr '\n' ' ')" = "$1 " ]; }
run envelope --format csv --volts 117,50,50.5 "$oscillator"
ok 'a list, in the order typed' volts_are '117 50 50.5'
run envelope --format csv --volts 10:50:10 "$oscillator"
ok 'a range' volts_are '10 20 30 40 50'
run envelope --format csv --volts 10:25:10,100 "$oscillator"
ok 'a range that does not end on a step, and a list' volts_are '10 20 100'
run envelope --format csv --volts 0:1:0.1 "$oscillator"
ok 'a range with a step that binary cannot hold' lines_of out 12
ok 'numbers that agree, down to no volts at all' python3 sane.py
run envelope --volts='50 V' --format=csv "$oscillator"
ok 'volts with their unit' volts_are 50

run envelope "$oscillator"
ok 'a table' ended 0
ok 'the name above it' first_line_is 'Demonstration bench oscillator, 117 V 60 Hz; settled values; ?: hardly any current flows there, so nobody knows its volts'
ok 'its head' prints 'LOW W'

# a string set with all cathodes cold: what its rail stands at nobody knows
cat >string.ini <<'P'
[instrument]
name       = String set
line_volts = 230
supply     = series-string
[tubes]
V1 = UCH81
V2 = UBF89
V3 = UCL82
V4 = UY85
[rail main]
winding = line
rectifier = V4
reservoir = 50 uF
P
run envelope --volts 60,70,230 string.ini
ok 'volts that nobody knows are not told' sh -c 'test "$(grep -c "[?]  *0.0$" out)" = 2'
ok 'and it is said why' first_line_is 'String set, 230 V 50 Hz; settled values; ?: hardly any current flows there, so nobody knows its volts'
run envelope --volts 70 --format csv string.ini
ok 'nor in CSV' sh -c 'tail -n 1 out | grep -q ",,0[.0-9]*$"'

for list in '' , 50, ,50 10,,20 x 5,x 1,5e 10:20 10:20:0 10:20:-1 20:10:1 10:20:1:1 -5 1e9 nan \
	0:100:0.001 50A : ::; do
	ok "--volts '$list' is refused" refused envelope "--volts=$list" "$oscillator"
	ok 'in one line' lines_of err 1
done
for bad in --volt5 -v --volts --format --format=xml; do
	ok "$bad is refused" refused envelope "$oscillator" "$bad"
done
ok 'no profile is refused' refused envelope
ok 'two profiles are refused' refused envelope "$oscillator" "$oscillator"
run envelope --help
ok '--help is no error' ended 0

ok 'a missing profile is refused' refused envelope "$work/none.ini"
ok 'by name' complains none.ini
ok 'a folder is refused' refused envelope "$work"
mkfifo pipe.ini
ok 'a pipe does not hang' refused envelope pipe.ini
printf '[instrument]\nname = X\nline_volts = 117\ncolour = red\n[tubes]\nV1 = 6X44\n' >bad.ini
ok 'a profile with a fault is refused' refused envelope bad.ini
ok 'with file and line' complains 'mainstair: bad.ini:4: '

run envelope --format csv --volts 50.5 "$oscillator"
cp out expected
if german true; then
	german "$program" envelope --format csv --volts 50.5 "$oscillator" >out 2>err
	ok 'the same in a locale with decimal commas' cmp out expected
else
	skip 'the same in a locale with decimal commas' 'no such locale can be made here'
fi
LC_ALL=C NO_COLOR=1 TERM=dumb "$program" envelope --format csv --volts 50.5 "$oscillator" >out
ok 'the same in the C locale' cmp out expected
status=0
"$program" envelope "$oscillator" >/dev/full 2>err || status=$?
ok 'a full disk is an error' ended 2

finish
