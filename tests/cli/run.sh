#!/bin/sh
# mainstair run, without a terminal
. "$(dirname "$0")/lib.sh"

profiles=$source/profiles
radio=$profiles/table-radio.ini
export XDG_CONFIG_HOME="$work/config" XDG_DATA_HOME="$work/data"

run run --bench --record healthy.record "$radio"
ok 'a healthy unit on the virtual bench ends in 0' ended 0
ok 'nothing on standard error' silent
ok 'it says that nothing is measured' prints 'a demonstration, nothing is measured'
ok 'the last stage is reached' prints 'Full line reached, in band.'
ok 'how it drifts there' prints ' W/h over the last'
ok 'a row a stage, a head, a name, an end, the soak and the record' lines_of out 11
ok 'where the record is' prints 'record: healthy.record'
ok 'the record is there' test -s healthy.record
ok 'the record says what each stage ruled out' grep -q '	note	.*ruled out at .* V: a short across the mains side' healthy.record
ok 'no control characters' plain_bytes out

head -c 200 healthy.record >before
run run --bench --record healthy.record "$radio"
ok 'a record is never overwritten' ended 2
ok 'and why' complains 'healthy.record'
same_head() { head -c 200 healthy.record | cmp -s - before; }
ok 'it stays as it was' same_head

run run --bench --fault 'primary short 40 ohm' "$profiles/bench-oscillator.ini"
ok 'a short across the mains is an abort: 3' ended 3
ok 'at which volts' prints 'ABORT at'
ok 'without --record none is kept' sh -c '! find data -type f 2>/dev/null | grep -q .'

run run --bench --fault 'rail main short' "$profiles/bench-oscillator.ini"
ok 'a dead short behind a tube rectifier is an abort' ended 3
ok 'and a verdict of a moment names the band of that moment' \
	prints 'V the heaters were still warming up: in band then was '

run run --bench --fault 'open V5' "$profiles/push-pull-amplifier.ini"
ok 'an open output tube is a finding: 1' ended 1
ok 'and no step up from there' prints 'no step up from there'

refused_run() { refused run "$@"; }
ok 'no profile' refused_run
ok 'two profiles' refused_run --bench "$radio" "$radio"
ok 'a profile that is not there' refused_run --bench nowhere.ini
ok 'a fault that is none' refused_run --bench --fault 'flux compressor' "$radio"
ok 'a fault without the virtual bench' refused_run --fault 'open V1' "$radio"
ok 'a speed that is none' refused_run --bench --speed fast "$radio"
ok 'a speed beyond reason' refused_run --bench --speed 1e9 "$radio"
ok 'with the bounds' complains '--speed 1e9: from 0.1 to 50 is expected'
ok 'an option that is none' refused_run --bnech "$radio"
ok 'a meter and the virtual bench' refused_run --bench --meter modbus:/dev/ttyUSB0 "$radio"
ok 'a meter that is none' refused_run --meter smoke:signals "$radio"
ok 'no terminal and no bench' refused_run "$radio"
ok 'in one line' lines_of err 1
ok 'that says what would do' complains 'run --bench'
ok 'a record in a folder that is not there' refused_run --bench --record no/where/r "$radio"

run run --help
ok 'help' ended 0
ok 'on standard output' prints 'usage: mainstair run'
ok 'with the bounds of a number' prints '(1); 0.1 to 50'
ok 'no line of it wider than a terminal' awk 'length > 80 { exit 1 }' out

"$program" run --bench "$radio" 2>err </dev/null | head -n 1 >out
ok 'a reader that goes away is no trouble' silent

if german "$program" run --bench "$radio" >out 2>err </dev/null; then
	ok 'decimal points in a locale of commas' prints '33.0'
else
	skip 'decimal points in a locale of commas' 'no such locale'
fi
finish
