#!/bin/sh
# mainstair ports: the list, and the probe of a meter that the virtual bench plays
. "$(dirname "$0")/lib.sh"

profile=$source/profiles/bench-oscillator.ini
export MAINSTAIR_DATA="$source/src/data"
# nobody's own bench file may get in the way
export XDG_CONFIG_HOME="$work/config"

# start ARGUMENT...: the virtual bench at $work/meter, orders through descriptor 9
start() {
	rm -f orders bench.out meter
	mkfifo orders
	timeout 120 "$program" simulate --link "$work/meter" --variac 117 "$@" "$profile" \
		<orders >bench.out 2>bench.err &
	pid=$!
	exec 9>orders
	tries=0
	while [ ! -s bench.out ] && [ $tries -lt 200 ]; do
		sleep 0.05
		tries=$((tries + 1))
	done
}

order() {
	printf '%s\n' "$*" >&9
	sleep 0.3
}

stop() {
	exec 9>&-
	kill "$pid" 2>/dev/null
	wait "$pid" 2>/dev/null
}

run ports
ok 'the list ends in 0, or in 1 where there is no port' eval 'ended 0 || ended 1'
ok 'a list names ports by their path' eval '[ $status -eq 1 ] || grep -q "^/dev/" out'

ok 'an operand is refused' refused ports /dev/ttyS0
ok '--meter goes with --probe' refused ports --meter modbus:/dev/ttyS0
ok 'an unknown option is refused' refused ports --prob3
ok 'no meter, nothing to probe' refused ports --probe
ok 'and says how to name one' complains 'no [meter] in bench.ini and no --meter'
ok 'a bad spec is refused' refused ports --probe --meter modbus:/dev/ttyS0,fast
ok 'seconds are a time' refused ports --probe --seconds soon
run ports --help
ok 'help' eval 'ended 0 && prints "usage: mainstair ports"'

run ports --probe --meter modbus:/dev/ttyNOTHERE
ok 'a port that is not there: 1' ended 1
ok 'and is said not to be' prints 'there is no port /dev/ttyNOTHERE'

# Modbus
start --protocol modbus
run ports --probe --meter "modbus:$work/meter,9600,8N1,1"
ok 'a modbus meter answers' ended 0
ok 'with volts, amps, watts, VA, power factor and hertz' \
	grep -Eq '^  11[67].* V, 0\.[0-9]* A, [0-9.]* W, [0-9.]* VA, power factor [0-9.]*, 60 Hz$' out
ok 'and the bytes they came in' grep -Eq '^    raw: 01 04 18 42 ' out
ok 'it makes sense' prints 'Readings come and make sense'
ok 'the default registers are owned up to' prints "mainstair's own default"
run ports --probe --meter "$source/profiles/bench/modbus.ini" --meter "modbus:$work/meter"
ok 'the template reads it, too' eval 'ended 0 && prints "make sense"'
run ports --probe --seconds 2 --meter "modbus:$work/meter,9600,8N1,9"
ok 'another unit: silence' eval 'ended 1 && prints "Silence: not one byte came"'

sed 's/abcd/cdab/' "$source/profiles/bench/modbus.ini" >order.ini
run ports --probe --meter order.ini --meter "modbus:$work/meter"
ok 'a wrong word order is suspected' eval 'ended 1 && prints "try abcd in the register lines"'
sed 's/^volts  .*= input.*/volts = input 100 u16/' "$source/profiles/bench/modbus.ini" >address.ini
run ports --probe --meter address.ini --meter "modbus:$work/meter"
ok 'readings without volts are not good enough' ended 1
ok 'the address is named' prints 'register 0x0064'
sed '/^volts  .*= input/d' "$source/profiles/bench/modbus.ini" >address.ini
run ports --probe --meter address.ini --meter "modbus:$work/meter"
ok 'neither is a map without them' eval 'ended 1 && prints "without volts"'
sed 's/= input 0x00/= input 0x10/' "$source/profiles/bench/modbus.ini" >address.ini
run ports --probe --meter address.ini --meter "modbus:$work/meter"
ok 'a wrong address is told' eval 'ended 1 && prints "has no such register"'
ok 'with the exception' prints 'exception 2 (illegal data address)'
sed 's/float32 abcd/u16 x 10/' "$source/profiles/bench/modbus.ini" >type.ini
run ports --probe --meter type.ini --meter "modbus:$work/meter"
ok 'absurd numbers are told' eval 'ended 1 && prints "they cannot be"'
order line check
run ports --probe --seconds 2 --meter "modbus:$work/meter"
ok 'CRC errors are told' eval 'ended 1 && prints "CRC errors"'
stop

# SCPI
start --protocol scpi
run ports --probe --meter "scpi:$work/meter"
ok 'an SCPI meter answers' eval 'ended 0 && prints "make sense"'
ok 'raw numbers as they came' grep -Eq '^    raw: \+1\.1[67][0-9]*E\+02 \| ' out
sed 's/MEASure:POWer:AC?/MEASure:NONSENSE?/' "$source/profiles/bench/scpi.ini" >query.ini
run ports --probe --seconds 4 --meter query.ini --meter "scpi:$work/meter"
ok 'an unknown query is told in the words of the meter' \
	eval 'ended 1 && prints "\"Undefined header\" (after MEASure:NONSENSE?)"'
run ports --probe --seconds 2 --meter "modbus:$work/meter"
ok 'Modbus to an SCPI meter: no reading' ended 1
stop

# text
start --protocol text
run ports --probe --meter "text:$work/meter"
ok 'a text meter is read' eval 'ended 0 && prints "make sense"'
ok 'the raw line is shown' grep -Eq '^    raw: 11[67][.0-9]*,0[.0-9]*,[0-9.]*$' out
cat >fields.ini <<'I'
[meter]
protocol = text
fields = watts, amps, volts, -
I
run ports --probe --seconds 2 --meter fields.ini --meter "text:$work/meter"
ok 'other fields than described are told' eval 'ended 1 && prints "3 fields instead of 4"'
sed -i 's/, -$//' fields.ini
run ports --probe --meter fields.ini --meter "text:$work/meter"
ok 'fields in the wrong order make no sense' ended 1
run ports --probe --seconds 2 --meter "modbus:$work/meter"
ok 'text where Modbus was expected is told' eval 'ended 1 && prints "text, not Modbus"'
flock "$(realpath meter)" sleep 2 &
other=$!
sleep 0.5
run ports --probe --meter "text:$work/meter"
ok 'a port in use is told' eval 'ended 1 && prints "in use by another program"'
wait "$other"
stop
ok 'nothing printed that a terminal would obey' plain_bytes out

finish
