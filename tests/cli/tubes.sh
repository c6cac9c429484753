#!/bin/sh
# mainstair tubes
. "$(dirname "$0")/lib.sh"

run tubes 6X4
ok 'a type by its name' ended 0
ok 'nothing on standard error' silent
ok 'its heater' prints '6.3 V 0.6 A'
ok 'its rating' prints 'dc 70 mA, 2 plates, drops 22 V at 70 mA a plate'
ok 'and where the figures come from' prints read
ok 'one type and a head' lines_of out 2

run tubes ecc83
ok 'another name, letter case ignored' prints 12AX7
ok 'both strappings' prints '12.6 V 0.15 A  6.3 V 0.3 A'

run tubes 80
second_is_80() { [ "$(sed -n '2s/ .*//p' out)" = 80 ]; }
ok 'the exact name comes first' second_is_80

run tubes '6*7gt'
seven() { [ -s out ] && ! sed 1d out | grep -qvi '^6.*7GT\|6[^ ]*7GT'; }
ok 'a glob' seven
run tubes 47
ok 'lamps too' prints '6.3 V 0.15 A'
run tubes NE-2
ok 'neon lamps' prints 'holds 65 V, strikes by 90 V'
run tubes
many() { [ "$(wc -l <out)" -gt 900 ]; }
ok 'everything without a pattern' many
ok 'no line ends in blanks' sh -c '! grep -q " $" out'

run tubes 12AXX7
ok 'nothing fits: 1' ended 1
ok 'and nothing is printed' nothing_printed
ok 'near names are told' complains 'near it: 12AX7'
run tubes "$(printf 'a\033[31mb')"
ok 'control characters come out escaped' complains 'a\x1b[31mb'
ok 'and only so' plain_bytes err

run tubes --format csv 5Y3
ok 'csv: its head' first_line_is 'type,aliases,kind,heating,volts,amps,alt_volts,alt_amps,max_dc_amps,plates,drop_volts,drop_amps,strike_volts,hold_volts,min_amps,max_amps,typical_amps,figures,note'
ok 'csv: base units' prints 'rectifier,direct,5,2,,,0.125,2,50,0.125,'
run tubes --format=csv
cat >columns.py <<'P'
import csv
rows = list(csv.reader(open("out", newline="")))
assert len(rows) > 900 and {len(row) for row in rows} == {19}, {len(row) for row in rows}
P
ok 'csv: every row has every column' python3 columns.py

for bad in --colour -x --format --help=me; do
	ok "$bad is refused" refused tubes "$bad"
done
ok 'an unknown format is refused' refused tubes --format xml
ok 'two patterns are refused' refused tubes 6X4 6X5
ok 'an empty pattern is refused' refused tubes ''
ok 'one line tells it' lines_of err 1
run tubes --help
ok '--help is no error' ended 0
ok '--help prints how to call it' prints 'usage: mainstair tubes'

if german true; then
	german "$program" tubes --format csv 6X4 >out 2>err
	ok 'a decimal point in a locale with commas' prints ',6.3,0.6,'
else
	skip 'a decimal point in a locale with commas' 'no such locale can be made here'
fi
LC_ALL=C "$program" tubes >out 2>err
NO_COLOR=1 TERM=dumb "$program" tubes >out2 2>>err
ok 'no colours, whatever the terminal' cmp out out2
ok 'and nothing that a terminal would obey' plain_bytes out

status=0
"$program" tubes >/dev/full 2>err || status=$?
ok 'a full disk is told' complains 'No space left'
ok 'and is an error' ended 2
status=0
"$program" tubes >&- 2>err || status=$?
ok 'a closed standard output is an error' ended 2
{ "$program" tubes 2>err; echo $? >ended_with; } | head -n 1 >out
ok 'a reader that goes away gets what it wanted' lines_of out 1
ok 'and no noise' silent

run tubes '#47'
ok 'a lamp by its number as restorers write it' prints '6.3 V 0.15 A'

MAINSTAIR_DATA=$work/none
export MAINSTAIR_DATA
ok 'missing data files are told' refused tubes
ok 'with their path' complains "$work/none/tubes.csv"
mkdir none
printf 'type,kind\n' >none/tubes.csv
ok 'a broken table is refused' refused tubes
ok 'with its line' complains 'tubes.csv: tube table, line 1'
mkfifo none/lamps.csv
cp "$source/src/data/tubes.csv" none/
ok 'a pipe in place of a table does not hang' refused tubes
unset MAINSTAIR_DATA

# Installed: bin/ beside share/mainstair/, moved to where it likes.
mkdir -p prefix/bin prefix/share/mainstair
cp "$program" prefix/bin/mainstair
cp "$source"/src/data/*.csv prefix/share/mainstair/
program=$work/prefix/bin/mainstair
run tubes 6X4
ok 'an installed program finds its data' ended 0
rm prefix/share/mainstair/lamps.csv
ok 'and never the source tree instead' refused tubes 6X4

finish
