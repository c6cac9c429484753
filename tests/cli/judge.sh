#!/bin/sh
# mainstair judge
. "$(dirname "$0")/lib.sh"

profiles=$source/profiles
oscillator=$profiles/bench-oscillator.ini

# What the program itself expects makes a good reading.
"$program" envelope --format csv --volts 30,50,90,117 "$oscillator" >expected.csv
column() { awk -F, -v at="$1" -v of="$2" 'NR > 1 && $1 == at { print $of }' expected.csv; }
scaled() { awk -v w="$1" -v by="$2" 'BEGIN { printf "%.3f", w * by }'; }
good50=$(column 50 3)
over50=$(awk -v a="$(column 50 4)" -v b="$(column 50 5)" 'BEGIN { printf "%.3f", (a + b) / 2 }')
abort50=$(scaled "$(column 50 5)" 1.01)
under50=$(scaled "$(column 50 2)" 0.99)
good117=$(column 117 3)

# verdicts WORD...: the last column, in the order of the input
verdicts() {
	printf '%s\n' "$@" >wanted
	tail -n +2 out | sed 's/.*,//' >got
	diff wanted got
}

printf 'line_volts,watts\n50,%s\n117,%s\n' "$good50" "$good117" >good.csv
run judge --format csv "$oscillator" good.csv
ok 'all in band ends in 0' ended 0
ok 'and says nothing else' silent
ok 'the columns to the letter' first_line_is \
	'line_volts,watts,watts_low,expected_watts,watts_high,watts_abort,verdict'
ok 'each row its verdict' verdicts in-band in-band

printf 'watts,line_volts\n%s,50\n%s,50\n%s,50\n' "$good50" "$over50" "$under50" >findings.csv
run judge --format csv "$oscillator" findings.csv
ok 'over and under end in 1' ended 1
ok 'columns in any order' verdicts in-band over under

printf 'watts,line_volts\n%s,50\n%s,50\n%s,50\n' "$abort50" "$over50" "$good50" >abort.csv
run judge --format csv "$oscillator" abort.csv
ok 'an abort ends in 3' ended 3
ok 'whatever else there is' verdicts abort over in-band

# The limits are those of `envelope`, whose solves start from each other: to a milliwatt.
limits() {
	tail -n +2 out | head -n 1 | cut -d, -f3-6 | tr , '\n' >got
	awk -F, '$1 == 50 { print $2; print $3; print $4; print $5 }' expected.csv | paste - got |
		awk '{ if ($1 - $2 > 0.001 || $2 - $1 > 0.001) exit 1; n++ } END { exit n != 4 }'
}
ok 'the limits that envelope prints' limits

# Volts of rails count too: watts in band, and a rail that reads next to nothing.
printf 'line_volts,watts,rail_main_volts\n117,%s,3\n' "$good117" >rail.csv
run judge --format csv "$oscillator" rail.csv
ok 'a rail under its limits is a finding' ended 1
ok 'the verdict is of the watts' verdicts in-band
ok 'and the rail is named on standard error' complains 'rail main reads 3.0 V at 117.0 V: under, '
ok 'with what fits' complains 'rail main dead'
run judge "$oscillator" rail.csv
ok 'in a table it stands in the foot' prints 'rail main reads 3.0 V at 117.0 V: under, '
main117=$("$program" envelope --format csv --volts 117 "$oscillator" | awk -F, '
	NR == 1 { for (i = 1; i <= NF; i++) if ($i == "rail_main_volts") at = i } NR == 2 { print $at }')
printf 'line_volts,watts,rail_main_volts\n117,%s,%s\n' "$good117" "$main117" >rail.csv
run judge --format csv "$oscillator" rail.csv
ok 'one that is well is none' ended 0
ok 'and nothing is said' silent

# What is in the input is carried along untouched.
printf '\357\273\277note,watts,line_volts,verdict,watts_low,expected_verdict,seconds\r\n"a, ""b""",%s W, "50" ,x,y,z,\r\n\r\n' \
	"$good50" >odd.csv
run judge --format csv "$oscillator" odd.csv
ok 'quotes, units, blanks, CRLF, a mark at the start' ended 0
ok 'own names step aside until they are free' first_line_is \
	'note,watts,line_volts,verdict,watts_low,expected_verdict,seconds,expected_watts_low,expected_watts,watts_high,watts_abort,expected_expected_verdict'
ok 'other cells as they were' prints "\"a, \"\"b\"\"\",$good50 W, \"50\" ,x,y,z,,"

"$program" judge --format csv "$oscillator" - <good.csv >piped 2>err
ok '- reads standard input' sh -c "[ $? -eq 0 ] && [ -s piped ]"
run judge --format csv "$oscillator" good.csv
ok 'and prints the same' cmp out piped
cp out again.csv
run judge --format csv "$oscillator" again.csv
ok 'its own output can be judged again' ended 0
ok 'without a name twice' sh -c '[ -z "$(head -n 1 out | tr , "\n" | sort | uniq -d)" ]'

# Amps: the fuse.
printf 'line_volts,watts,amps\n50,%s,0.3\n50,%s,\n' "$good50" "$good50" >amps.csv
run judge --format csv "$oscillator" amps.csv
ok 'amps below the fuse, or none' ended 0
printf 'line_volts,watts,amps\n50,%s,9\n' "$good50" >amps.csv
run judge --format csv "$oscillator" amps.csv
ok 'fuse amps crossed is an abort' ended 3

# Rails.
printf 'line_volts,watts,rail_main_volts\n50,%s,x\n' "$good50" >rail.csv
ok 'a rail that is no number is refused' refused judge "$oscillator" rail.csv
printf 'line_volts,watts,rail_mian_volts\n50,%s,100\n' "$good50" >rail.csv
run judge "$oscillator" rail.csv
ok 'a rail that the profile lacks is carried along' ended 0
ok 'and told' complains 'no rail mian'

# For people.
run judge "$oscillator" findings.csv
ok 'a table ends in the same status' ended 1
ok 'with a count in its foot' prints '3 readings: 1 in band, 1 under, 1 over, 0 abort'
ok 'and heads over its columns' prints 'ABORT W  VERDICT'

# What fits, and what does not: one reading of a good set too high, then one of them an abort.
at() { echo "$1,$(scaled "$(column "$1" 3)" "$2")"; }
{ echo line_volts,watts; at 30 1; at 50 1; at 90 1.23; at 117 1; } >misread.csv
run judge "$oscillator" misread.csv
ok 'a single one that is over' prints '1 over, 0 abort'
ok 'is no fault, but to be read again' prints \
	'none of the known faults fits all of these readings well; take the one at 90 V again'
ok 'and no odds are given' sh -c '! grep -q " to 1 " out'
{ echo line_volts,watts; at 30 1; at 50 1; at 90 3; at 117 1; } >misread.csv
run judge "$oscillator" misread.csv
ok 'where it is an abort' ended 3
ok 'that stands' prints 'the abort stands'
ok 'and nobody is sent back' sh -c '! grep -q again out'
printf 'line_volts,watts,amps\n50,%s,9\n' "$good50" >amps.csv
run judge "$oscillator" amps.csv
ok 'good watts at too many amps' ended 3
ok 'healthy stands first with a word' prints 'but what is out of band stands'

# Nothing is judged while anything is wrong.
printf 'line_volts,watts\n50,%s\n50,5,2\nx,1\n,1\n50,"5,2"\n50,-3\n500,5\n' "$good50" >bad.csv
ok 'faults end in 2 and nothing is printed' refused judge --format csv "$oscillator" bad.csv
ok 'with line and column' complains 'bad.csv:4: line_volts: '
ok 'a comma too many' complains 'bad.csv:3: 3 cells'
ok 'an empty cell' complains 'bad.csv:5: line_volts: empty'
ok 'a decimal comma' complains 'bad.csv:6: watts: '
printf 'line_volts,watts\n50,-3\n500,5\n50,5\n' >bad.csv
ok 'what cannot be is refused too' refused judge --format csv "$oscillator" bad.csv
ok 'negative watts' complains 'bad.csv:2: watts: -3.00 W is below zero'
ok 'volts beyond the unit' complains 'bad.csv:3: line_volts: 500.00 V'

printf 'volts,watts\n50,5\n' >head.csv
ok 'a column that is missing' refused judge "$oscillator" head.csv
ok 'is named' complains 'no column line_volts'
: >empty.csv
ok 'an empty file' refused judge "$oscillator" empty.csv
printf 'line_volts,watts\n' >none.csv
ok 'no readings' refused judge "$oscillator" none.csv
ok 'a missing file' refused judge "$oscillator" nowhere.csv
ok 'a folder' refused judge "$oscillator" "$work"
ok 'a device' refused judge "$oscillator" /dev/zero
ok 'a missing profile' refused judge nowhere.ini good.csv
ok 'a profile that is a list of readings' refused judge good.csv good.csv
ok 'one operand' refused judge "$oscillator"
ok 'three operands' refused judge "$oscillator" good.csv good.csv
ok 'an unknown format' refused judge --format xml "$oscillator" good.csv
ok 'an unknown option' refused judge --wrong "$oscillator" good.csv
head -c 100000 /dev/urandom >noise.csv
ok 'noise' refused judge "$oscillator" noise.csv
ok 'of which no byte reaches the terminal' plain_bytes err
run judge --help
ok '--help' ended 0
ok 'names the statuses' prints '3 an abort'

full() { "$program" judge --format csv "$oscillator" good.csv >/dev/full 2>err; [ $? -eq 2 ]; }
ok 'a full disk is told' full
comma() { german "$program" judge --format csv "$oscillator" good.csv >comma; cmp comma piped; }
if german true; then
	ok 'the same digits in a locale with decimal commas' comma
else
	skip 'the same digits in a locale with decimal commas' 'no such locale can be made'
fi

# A hundred thousand rows, each voltage another: the same verdicts as one by one.
python3 - "$good50" <<'P'
import random, sys
random.seed(1)
with open("many.csv", "w") as f:
    f.write("line_volts,watts\n")
    for i in range(100000):
        volts = random.uniform(40, 60)
        f.write("%.6f,%.3f\n" % (volts, float(sys.argv[1]) * (volts / 50) ** 1.6 * random.uniform(0.8, 1.3)))
P
run judge --format csv "$oscillator" many.csv
ok 'a hundred thousand rows' lines_of out 100001
sed -n '1p;500p;5000p;50000p;77777p;99999p;33333p;12345p' out | cut -d, -f1,2 >some.csv
sed -n '500p;5000p;50000p;77777p;99999p;33333p;12345p' out | sed 's/.*,//' | sort >many-verdicts
run judge --format csv "$oscillator" some.csv
tail -n +2 out | sed 's/.*,//' | sort >some-verdicts
ok 'judged as each would be alone' cmp many-verdicts some-verdicts
finish
