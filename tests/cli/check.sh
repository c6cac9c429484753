#!/bin/sh
# mainstair check
. "$(dirname "$0")/lib.sh"

profiles=$source/profiles

run check "$profiles"/*.ini
ok 'all shipped profiles are right' ended 0
ok 'nothing on standard error' silent
each_told() {
	for profile in "$profiles"/*.ini; do
		grep -qF "$profile: " out || return 1
	done
}
ok 'each is told' each_told
ok 'nothing that a terminal would obey' plain_bytes out

run check "$profiles/bench-oscillator.ini"
ok 'what is expected' prints 'expected at 117 V: '
ok 'the nameplate beside it' prints 'nameplate: '
ok 'how a centre-tapped heater was strapped' prints 'strapped for 6.3 V'
ok 'what to measure' prints 'to narrow the band at 117 V'
# gains fall from rank to rank
falling() {
	sed -n '/at 117 V (now/,/to narrow the band at [^1]/s/^ *[0-9]\. .*: \([0-9]*\) % narrower.*/\1/p' \
		out | awk 'NR > 1 && $1 > last { exit 1 } { last = $1 } END { exit NR == 0 }'
}
ok 'the most telling first' falling

# Three readings with an ohmmeter and a wattmeter narrow the band.
cat >silent.ini <<'P'
[instrument]
name       = Test set
line_volts = 117
[tubes]
V1 = 6SN7GT
V2 = 6X5GT
[rail main]
winding   = plate
rectifier = V2
form      = full-wave
reservoir = 20 uF
draw      = 30 mA at 250 V by V1
[winding plate]
volts = 250-0-250
P
cp silent.ini measured.ini
cat >>measured.ini <<'P'
ohms = 400 ohm +/- 1%
[transformer]
primary    = 25 ohm +/- 1%
idle_watts = 2.0 +/- 2%
P
width() { sed -n 's/.*at 117 V (now \([0-9.]*\) W wide.*/\1/p' out; }
run check silent.ini
ok 'a profile with little in it works' ended 0
ok 'and says what was estimated' prints 'primary ohms'
wide=$(width)
run check measured.ini
ok 'so does one with measured values' ended 0
ok 'which has a narrower band' awk "BEGIN { exit !(${wide:-0} > $(width)0 / 10 && $(width)0 > 0) }"

# the example of the README, as it stands there
awk '/^The same radio with what/ { f = 1 } /^Its band at full line/ { exit } f && sub(/^    /, "")' \
	"$source/README.md" >readme.ini
run check readme.ini
ok 'the example of the README is right' ended 0
ok 'with the band that it is said to have' prints 'healthy from 27.2 W to 42.4 W'
ok 'and its plate agrees' prints 'within the band: agrees'
ok 'what to measure ends in a line to type' prints 'type in run, with your number: measured rail plates '
ok 'and in a key to write' prints 'or write into the profile: [transformer] idle_watts = '

# nothing that is written is dropped: a winding for plates without a rail on it feeds the assumed one,
# and what is of no use is told
printf '[instrument]\nname = X\nline_volts = 117\n[tubes]\nV1 = 6AQ5\nV2 = 6X4\nV3 = 0A2\n[lamps]\nI1 = #47\n[winding plate]\nvolts = 250-0-250\nohms = 420\n[capacitors]\nC1 = 20+20 uF 350 V\n' >winding.ini
run check winding.ini
ok 'a winding without a rail works' ended 0
ok 'and is used' prints 'winding plate: taken to feed the assumed rail'
ok 'so is a capacitor' prints 'C1A is taken as its reservoir'
ok 'and no other winding is invented' prints '2 windings, 1 rail'
ok 'what is of no use is told' prints 'V3 (0A2): what it takes; name it in its rail: `regulator = V3`'

# nameplate against model: told, never an error
sed 's/^line_volts.*/&\nnameplate_watts = 500/' silent.ini >plate.ini
run check plate.ini
ok 'a nameplate far off is no error' ended 0
ok 'but told' prints 'above the band'
sed 's/^line_volts.*/&\nnameplate_watts = 5/' silent.ini >plate.ini
run check plate.ini
ok 'below as above' prints 'below the band'

printf '[instrument]\nname = X\nline_volts = 117\ncolour = red\n[tubes]\nV1 = 6X4\nV1 = 6X5\n[lamps]\nI1 = 47 on nowhere\n' >bad.ini
run check bad.ini silent.ini
ok 'one bad profile: 2' ended 2
ok 'every fault of it' test "$(grep -c '^mainstair: bad.ini:' err)" -ge 3
ok 'each with its line' sh -c 'grep -q "bad.ini:4:" err && grep -q "bad.ini:7:" err && grep -q "bad.ini:9:" err'
ok 'and the good one all the same' prints 'silent.ini: Test set'

printf '[instrument]\nname = a\033[2Jb\nline_volts = 117\n[tubes]\nV1 = 6X4\n' >control.ini
run check control.ini
ok 'control characters never come out' plain_bytes out
ok 'nor in a complaint' plain_bytes err

ok 'no profile is refused' refused check
ok 'an unknown option is refused' refused check --fast "$profiles/bench-oscillator.ini"
ok 'a missing profile is refused' refused check none.ini
ok 'a record is refused' refused check "$source/tests/golden/record/version-1.record"
ok 'as what it is, in one line' lines_of err 1
ok 'with the command for it' complains 'the record of a power-up, no profile: see mainstair replay'
"$program" enter --profile "$source/profiles/table-radio.ini" ./no1.unit look - '"one' >out
ok "a unit's file is refused" refused check no1.unit
ok 'as what it is' complains "a unit's file, no profile: see mainstair job"
run check --help
ok '--help is no error' ended 0

finish
