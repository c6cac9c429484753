#!/bin/sh
# mainstair simulate
. "$(dirname "$0")/lib.sh"

profile=$source/profiles/bench-oscillator.ini
export MAINSTAIR_DATA="$source/src/data"

# start ARGUMENT...: in the background, orders through the pipe at descriptor 9; $port when it is up
start() {
	rm -f orders out
	mkfifo orders
	# whatever goes wrong here, nothing is left running
	timeout 60 "$program" simulate "$@" "$profile" <orders >out 2>err &
	pid=$!
	exec 9>orders
	tries=0
	while [ ! -s out ] && kill -0 "$pid" 2>/dev/null && [ $tries -lt 200 ]; do
		sleep 0.05
		tries=$((tries + 1))
	done
	port=$(head -n 1 out)
}

order() { printf '%s\n' "$*" >&9; }

# in_time COMMAND...: it comes true within ten seconds
in_time() {
	tries=0
	until "$@"; do
		tries=$((tries + 1))
		[ $tries -lt 200 ] || return 1
		sleep 0.05
	done
}

# stop SIGNAL: $status as the program ended
stop() {
	[ "$1" = none ] || kill -"$1" "$pid"
	exec 9>&-
	status=0
	wait "$pid" || status=$?
}

# listen SECONDS COMMAND...: with the port for standard input.  Through a shell of its own: this one
# may lead its session, and would make the port its terminal.
listen() { sh -c 'port=$1; shift; exec timeout "$@" <"$port"' sh "$port" "$@"; }

# script lines are obeyed at their times, and the last ends it
cat >power.script <<'S'
# a power-up
0 30
30 status
30 90
120 status ; this is no comment
S
ok 'something behind an order is refused' refused simulate --script power.script "$profile"
ok 'with its line' complains 'power.script:5: '
sed -i 's/ ;.*//' power.script
cat >>power.script <<'S'
120 117
240 status
240 fault rail main short
260 status
260 mend
S
run simulate --speed 100 --script power.script "$profile"
ok 'a script runs to its end' ended 0
ok 'and nothing is complained of' silent
ok 'the first line names the port' sh -c 'head -n 1 out | grep -q "^/dev/pts/[0-9][0-9]*$"'
watts() { sed -n "s/^$1 s, .* V \([0-9.]*\) W .*/\1/p" out; }
ok 'about 2 W at 30 V' awk "BEGIN { w = $(watts 30.0)0; exit !(w > 1.5 && w < 3.5) }"
ok 'about 29 W at 117 V' awk "BEGIN { w = $(watts 240.0)0; exit !(w > 26 && w < 32) }"
ok 'a short on a rail shows' awk "BEGIN { exit !($(watts 260.0)0 > 1.5 * $(watts 240.0)0) }"
ok 'the regulator is told' prints ' lit'
cp out once
run simulate --speed 100 --script power.script "$profile"
sed 1d out >again
sed -i 1d once
ok 'the same again, to the digit' cmp once again
run simulate --seed 7 --speed 100 --script power.script "$profile"
ok 'another unit reads otherwise' sh -c 'sed 1d out | { ! cmp -s - once; }'

# text lines
start --variac 50 --link here
ok 'a link leads to the port' test "$(readlink here)" = "$port"
listen 10 head -n 3 >heard
ok 'three numbers a line' sh -c \
	'[ "$(tr -d "\r" <heard | grep -cE "^[0-9.]+,[0-9.]+,[0-9.]+$")" -eq 3 ]'
order 'line mute'
order status
in_time prints ' s, variac'
# what was said before may lie there still
listen 1 cat >/dev/null
listen 1 cat >heard
ok 'a mute meter says nothing' test ! -s heard
order 'line good'
order 'line cut'
ok 'a cut line takes its port along' in_time sh -c '[ ! -e here ] && [ ! -h here ]'
order 'line join'
ok 'and comes back under its link' in_time test -c here
order 'fault rail nowhere short'
order 'jump'
order 51
order 'slew 5'
order status
ok 'a wrong fault is told' in_time complains 'no such rail'
ok 'a wrong order too' in_time complains '"jump" is no order'
ok 'and it runs on' in_time sh -c '[ "$(grep -c " s, variac" out)" -eq 2 ]'
stop TERM
ok 'TERM ends it cleanly' ended 0
ok 'the link is gone' test ! -h here

start
order quit
stop none
ok 'quit ends it' ended 0
start
stop INT
ok 'so does INT' ended 0
start
stop HUP
ok 'and HUP' ended 0
start
exec 9>&-
sleep 0.5
ok 'the end of its orders does not' kill -0 "$pid"
listen 10 head -n 1 >heard
ok 'and it still serves' grep -q , heard
stop TERM

# SCPI and Modbus, asked by another language's hands
cat >ask.py <<'P'
import os, select, struct, sys, time

def talk(fd, request, wanted):
    os.write(fd, request)
    answer, until = b"", time.monotonic() + 5
    while len(answer) < wanted and time.monotonic() < until:
        if select.select([fd], [], [], 0.2)[0]:
            answer += os.read(fd, 256)
        elif wanted == 1 and answer.endswith(b"\n"):
            break
        if wanted == 1 and answer.endswith(b"\n"):
            break
    return answer

def crc(data):
    c = 0xFFFF
    for byte in data:
        c ^= byte
        for _ in range(8):
            c = c >> 1 ^ 0xA001 if c & 1 else c >> 1
    return struct.pack("<H", c)

def scpi(fd):
    return float(talk(fd, b"MEAS:VOLT:AC?\n", 1)), float(talk(fd, b":measure:power:ac?\n", 1))

def modbus(fd):
    request = bytes([3, 4, 0, 0, 0, 6])
    answer = talk(fd, request + crc(request), 17)
    if len(answer) != 17 or crc(answer[:-2]) != answer[-2:]:
        sys.exit("no good answer: %r" % answer)
    volts, amps, watts = struct.unpack(">fff", answer[3:15])
    return volts, watts

fd = os.open(sys.argv[2], os.O_RDWR | os.O_NOCTTY)
until = time.monotonic() + 5
while True: # the meter has nothing to tell before its first reading
    volts, watts = {"scpi": scpi, "modbus": modbus}[sys.argv[1]](fd)
    if 49 < volts < 51 and 3 < watts < 60:
        break
    if time.monotonic() > until:
        sys.exit("%.1f V %.2f W" % (volts, watts))
    time.sleep(0.05)
if sys.argv[1] == "scpi":
    print(talk(fd, b"*IDN?\n", 1).decode().strip())
P
start --protocol scpi --variac 50
ok 'SCPI queries are answered' python3 ask.py scpi "$port"
stop TERM
start --protocol modbus --unit 3 --variac 50
ok 'Modbus registers are read' python3 ask.py modbus "$port"
order 'line check'
order status
in_time prints ' s, variac'
ok 'with a bad check sum they are not' sh -c "! python3 ask.py modbus '$port'"
stop TERM

# what is refused
echo precious >file
ok 'a file is no place for a link' refused simulate --link file "$profile"
ok 'and is left alone' grep -q precious file
ln -s nowhere old
start --link old
ok 'an old link is replaced' test "$(readlink old)" = "$port"
stop TERM
ok 'no profile' refused simulate
ok 'two profiles' refused simulate "$profile" "$profile"
ok 'a missing profile' refused simulate none.ini
ok 'an unknown option' refused simulate --fast "$profile"
ok 'a fault that makes no sense' refused simulate --fault 'rail main melted' "$profile"
ok 'an unknown protocol' refused simulate --protocol pigeon "$profile"
ok 'a speed beyond all' refused simulate --speed 1000 "$profile"
ok 'a seed that is none' refused simulate --seed 1.5 "$profile"
ok 'a unit that is none' refused simulate --unit 0 "$profile"
ok 'a script that is not there' refused simulate --script none "$profile"
: >empty.script
ok 'a script without orders' refused simulate --script empty.script "$profile"
ok 'a script without an end' refused simulate --script /dev/zero "$profile"
mkfifo pipe.script
ok 'a script that is a pipe' refused simulate --script pipe.script "$profile"
printf '1 50\n2 \0005\n' >zero.script
ok 'a zero byte in a script' refused simulate --script zero.script "$profile"
ok 'with its line' complains 'zero.script:2: '
printf '10 50\n5 60\n' >back.script
ok 'seconds that go back' refused simulate --script back.script "$profile"
printf '1 fault open V99\n' >fault.script
ok 'a fault in a script that this unit cannot have' refused simulate --script fault.script "$profile"
run simulate --help
ok '--help is no error' ended 0
ok 'and lists the faults' prints 'rail NAME leak OHMS'
ok 'and the orders' prints 'line freeze'
ok 'and the registers' prints '4 watts'

finish
