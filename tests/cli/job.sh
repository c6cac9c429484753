#!/bin/sh
# mainstair job, mainstair enter, and run on a unit's file, without a terminal
. "$(dirname "$0")/lib.sh"

export XDG_CONFIG_HOME="$work/config" XDG_DATA_HOME="$work/data"
oscillator=$source/profiles/bench-oscillator.ini
at=2026-03-01T18:02:11Z

run job
ok 'no units yet is no error' ended 0
ok 'and none is listed' nothing_printed
ok 'a unit that has no file' refused job no7
ok 'which makes none' sh -c '! find data -type f 2>/dev/null | grep -q .'
ok 'entering makes none either, without a profile' refused enter no7 look plug ok
ok 'nor does it then' sh -c '! find data -name "*.unit" 2>/dev/null | grep -q .'

run enter --profile "$oscillator" --at "$at" no7 look plug ok
ok 'with a profile it begins one' ended 0
ok 'and says what was kept' prints 'the plug: ok'
ok 'in the folder of units' test -s data/mainstair/units/no7.unit
ok 'with the profile in it' grep -q '	profile	bench-oscillator.ini	' data/mainstair/units/no7.unit
ok 'at the time that was said' grep -q '^2026-03-01T18:02:11.000Z	look	' data/mainstair/units/no7.unit
run job
ok 'then it is listed' first_line_is no7
run job no7
ok 'a job hardly begun blocks power' ended 1
ok 'and says by what' prints 'tubes-not-tested:'
ok 'phases stand in a table' prints 'Look it over, unplugged'

run enter no7 look fuse 'finding blown, glass black'
ok 'a finding' ended 0
run job no7 look
ok 'stands on its page' prints 'blown, glass black'
run job no7 look --format csv
ok 'which is to be had as CSV' prints 'the plug,ok,'
run enter no7 look plug "ok =HYPERLINK(1)"
run job no7 look --format csv
ok 'and is calculated by no spreadsheet' prints "the plug,ok,'=HYPERLINK(1)"
ok 'while what is not there stays a dash' prints 'debris,-,'
run job no7 nonsense
ok 'a page that is none' ended 2
ok 'those that are' complains 'look, tubes, ohms'

run enter no7 ohms "across the plug" 17.1
ok 'an ohm reading that is a number of the model' ended 0
run enter no7 ohms 'rail main' 50
ok 'a slip is asked about and not kept: 1' ended 1
ok 'in words' complains 'did you mean'
run enter --yes no7 ohms 'rail main' 50
ok 'unless it is believed' ended 0
run job no7
ok 'a failed reading blocks' prints 'rail main to chassis: '
run enter no7 ohms 'rail main' 50k
ok 'the newer reading stands' ended 0
ok 'nonsense is refused' refused enter no7 ohms 'rail main' 'about right'
ok 'a comma is refused' refused enter no7 ohms 'rail main' '2,5'
ok 'a row that is none' refused enter no7 ohms 'rail nowhere' 50k
ok 'a unit that is none' refused enter nosuch look plug ok
ok 'and where they stand' complains 'lists the units'
ok 'a name that several rows have' refused enter no7 ohms 'winding' 50k
ok 'three operands' refused enter no7 ohms 50k
ok 'a time that is none' refused enter --at noon no7 look plug ok
ok 'a label that is none' refused enter --profile "$oscillator" 'x%y' look plug ok
ok 'a longer line than can be typed' refused enter no7 look plug \
	"finding $(printf '%0400d' 0)"
ok 'control characters are shown escaped' refused enter no7 ohms "$(printf 'x\033[2J')" 50k
ok 'and only so' plain_bytes err

run enter no7 job - '"came from a cellar'
ok 'a note' ended 0
run enter no7 job - 'override tubes-not-tested'
ok 'an override without a reason is refused' ended 2
for key in look-not-done tubes-not-tested ohms-not-read capacitors-not-formed; do
	run enter no7 job - "override $key done on another bench"
	ok "$key is overridden" ended 0
done
run job no7
ok 'what was not named still blocks: the fuse' prints 'glass black'
run run --bench --unit no7 "$oscillator"
ok 'run will not go past it' ended 2
ok 'and says what would' complains '--override'
run enter no7 look fuse 'mended new fuse, right value'
ok 'the fuse is mended' ended 0
run job no7
ok 'nothing blocks any more' ended 0
run run --bench --unit no7 --record power.record "$oscillator"
ok 'then the power-up is done' ended 0
ok 'and kept with its record' grep -q '	power-up	/.*/power.record	full-line	' data/mainstair/units/no7.unit
ok 'what was measured is in the record, so that it is judged alike for ever' \
	grep -q '	measured	.*primary 17.1 ohm' power.record
run job no7
ok 'and stands on the job' prints 'full-line'

# An abort blocks until somebody says what it was.
run enter no7 job - 'mended it was nothing'
ok 'nothing waits to be mended' ended 2
ok 'and where things are' complains 'on that page'
run run --bench --unit no7 --fault 'turn 200 W' --record short.record "$oscillator"
ok 'a power-up that ends in an abort' ended 3
run job no7
ok 'blocks power' ended 1
ok 'by its key' prints 'aborted: power-up 2 ended in an abort'
ok 'and says what is to be typed' prints 'mended, what it was, and what'
run run --bench --unit no7 "$oscillator"
ok 'run does not go past it' ended 2
ok 'an override without a reason is none' refused enter no7 job - 'override aborted'
ok 'mended without words is none' refused enter no7 power - mended
run enter no7 power - 'mended, the transformer had shorted turns, another one fitted'
ok 'what it was, and what was done' ended 0
ok 'which is kept' grep -q '	mended	aborted	.*shorted turns' data/mainstair/units/no7.unit
run job no7
ok 'then nothing blocks' ended 0
ok 'and the abort is not forgotten' prints 'mended: the transformer had shorted turns'
run report no7 --format text
ok 'nor in the report' sh -c "tr -s ' \n' ' ' <out | grep -q 'what it was, mended.*shorted turns'"
ok 'where nothing is all well' sh -c "! grep -q 'speaks against power' out"

run run --bench --unit other --override 'a trial' "$oscillator"
ok 'a reason goes past all of it' ended 0
ok 'and is kept' grep -q '	override	tubes-not-tested	.*a trial' data/mainstair/units/other.unit
ok 'nor one that would be cut' refused run --bench --unit other \
	--override "$(printf '%0512d' 0)" "$oscillator"
ok 'no reason is none' refused run --bench --unit other --override '' "$oscillator"

run enter no7 power - power.record
ok 'a power-up of its own is taken in afterwards' ended 0
kept_twice() { [ "$(grep -c '	power-up	/.*/power.record	full-line	117' data/mainstair/units/no7.unit)" -eq 2 ]; }
ok 'and judged to have ended alike' kept_twice
ok 'what is no record is refused' refused enter no7 power - "$oscillator"

# Sections under volts, or charged, are said where the job is looked at.
run enter no7 capacitors C1A 'on 300'
run enter no7 capacitors C1A '88V 0.4mA'
run enter no7 capacitors C1B 'on 250'
run enter no7 capacitors C1B '240V 0.2mA'
run enter no7 capacitors C1B off
run job no7
ok 'a section on the supply, one that holds its charge' \
	prints 'Under volts or charged: C1A on the supply at 88 V; C1B holds 240 V.'
run enter no7 capacitors C1A off
run enter no7 capacitors C1A discharged
run enter no7 capacitors C1B discharged
run job no7
ok 'discharged' sh -c '! grep -q "or charged" out'

printf '2026-03-01T18:02:11.000Z	tube	V1	go' >>data/mainstair/units/no7.unit
run job no7
ok 'a torn last line is told' complains 'never finished'
ok 'and no more' ended 0
run enter no7 tubes V1 good
ok 'it can be added to' ended 0
run job no7 tubes
ok 'and read' prints 'good'
ok 'the torn line stays what it is' complains 'garbled'

# --- two at once
book=data/mainstair/units/no7.unit
# the lock, as another mainstair would have it, until somebody writes to ./release
mkfifo release
hold() {
	rm -f held
	flock "$book" sh -c 'touch held; read -r word <release' &
	while [ ! -e held ]; do sleep 0.05; done
}
hold
{ sleep 1; echo go >release; } &
run enter no7 tubes V2 'good while another was at it'
ok 'a line waits for another mainstair' ended 0
wait
ok 'and is kept' grep -q '	tube	V2	.*while another was at it' "$book"
hold
cp "$book" before
run enter no7 tubes V3 good
ok 'but not for ever' ended 2
ok 'and says so' complains 'another mainstair has had it open for 5 s; end that one first'
ok 'nothing is kept' cmp "$book" before
run job no7 tubes
ok 'reading needs no turn' ended 0
echo go >release
wait
before=$(grep -c '	tube	V4	' "$book")
for i in 1 2 3 4; do
	"$program" enter no7 tubes V4 "good number $i" >at_once.$i 2>&1 </dev/null &
	eval "turn$i=$!"
done
turns=0
for i in 1 2 3 4; do
	eval "wait \$turn$i" && turns=$((turns + 1))
done
ok 'four at once all take their turn' test "$turns" -eq 4
ok 'and all are kept' test "$(grep -c '	tube	V4	' "$book")" -eq $((before + 4))
for i in 1 2; do
	"$program" enter --profile "$oscillator" begun tubes "V$i" good >begun.$i 2>&1 </dev/null &
	eval "turn$i=$!"
done
turns=0
for i in 1 2; do
	eval "wait \$turn$i" && turns=$((turns + 1))
done
ok 'two that begin the same file' test "$turns" -eq 2
ok 'begin it once' test "$(grep -c '^label' data/mainstair/units/begun.unit)" -eq 1
ok 'and both are kept' test "$(grep -c '	tube	V[12]	good' data/mainstair/units/begun.unit)" -eq 2

echo 'hello' >not.unit
ok 'a file that is none' refused job ./not.unit
ok 'a folder' refused job ./
mkdir -p x.unit
ok 'a folder with that name' refused job x.unit
finish
