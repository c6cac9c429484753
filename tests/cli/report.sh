#!/bin/sh
# mainstair report
. "$(dirname "$0")/lib.sh"

export XDG_CONFIG_HOME="$work/config" XDG_DATA_HOME="$work/data"
oscillator=$source/profiles/bench-oscillator.ini
at=2026-03-02T10:00:00Z
checks=$source/tests/report

# An HTML checker that is not ours; what it warns of counts.
valid() {
	command -v tidy >/dev/null || { echo 'tidy is not installed (Debian: tidy)'; return 1; }
	tidy -quiet -errors -utf8 "$1" && python3 "$checks/page.py" "$1"
}

# --- a single power-up
run run --bench --record r "$oscillator"
run report --at "$at" -o r.html r
ok 'a record makes a report' ended 0
ok 'nothing on standard error' silent
ok 'nothing on standard output' nothing_printed
ok 'that is a valid page' valid r.html
ok 'its colours can be told apart' python3 "$checks/contrast.py" r.html
ok 'its power-up is named by what it came to' grep -q '>Power-up 1: full line, in band<' r.html
ok 'a demonstration is called one' grep -q 'VIRTUAL BENCH' r.html
ok 'and it says what it does not tell' grep -q 'Everything before and after this one power-up' r.html
ok 'nothing is left beside it' sh -c '[ "$(ls -A | grep -c mainstair-)" -eq 0 ]'
cp r.html before.html
ok 'a file that is there is refused' refused report -o r.html r
ok 'in words' complains '--force'
ok 'and stays as it was' cmp r.html before.html
run report --force --at "$at" -o r.html r
ok '--force replaces it' ended 0
ok 'the same report again' cmp r.html before.html
ln -s r.html link.html
run report --force --at "$at" -o link.html r
ok 'behind a symbolic link' test -L link.html
cp r kept.record
ok 'a record is never replaced' refused report --force -o kept.record r
ok 'nor touched' cmp -s r kept.record
ok 'a device is refused, forced or not' refused report --force -o /dev/null r
ok 'a folder that is not there' refused report -o none/r.html r
run report --at "$at" r
ok 'without -o to standard output' cmp out before.html
run run --bench --fault 'primary short 40 ohm' --record a "$oscillator"
run report a --format text
ok 'an abort is told' prints 'Power-up 1: an abort'
ok 'and which stages were not reached' prints 'Stages not reached in the last power-up, 7 of 7'
ok 'no control characters' plain_bytes out
run report --table power-1-findings a
ok 'with what was read' prints 'over the abort line'
ok 'and how it ended' prints 'the line was at zero, after'
run run --bench --fault 'rail main short 1000 ohm' --record late "$oscillator"
run report late --format text
ok 'the stage of an abort says so, with its reading' \
	sh -c 'grep -q "^ *90 .* ✖ abort  " out && ! grep -q "never settled" out'
ok 'it was not passed' sh -c '! grep -q "Stages passed without" out'
ok 'but it is told as not settled' \
	prints 'The stage it ended in, without a settled reading, 1 of 7: 90 V'
run report --profile "$source/profiles/solid-state.ini" r --format text
ok 'another profile' prints 'Judged here by another profile'
printf '12.5	reading	1	50' | cat r - >torn
run report torn --format text
ok 'a torn record' ended 0
ok 'is told in the report' prints 'the last line is torn'
sed 's/^started	/started	x/' r >garbled
run report garbled --format text
ok 'a garbled head does not bring it down' test "$status" -le 2

# --- an abort at full line ends the soak before it, and the heading says how it ended
soak_of() { run report --format text "$1" && sed -n '/Soak: /,/^$/p' out; }
soak_of r >soak.good
cat >at_full_line.py <<'P'
import zlib

def line(text):
    return (text + "\t%08x\n" % zlib.crc32(text.encode())).encode()

events = open("r", "rb").read().split(b"\n")
events = [e + b"\n" for e in events if e and b"\tend\t" not in e]
t = float(events[-1].split(b"\t")[0])
events.append(line(f"{t + 1}\treading\t7\t117\t60\t-\t-\tabort\tvirtual bench"))
events.append(line(f"{t + 1}\tabort-raised\t7\t117\t60\t-\t-\t-\t60 W at 117 V: over the abort line"))
for i, (volts, watts) in enumerate([(90, 45), (70, 30), (35, 10), (0, 0)]):
    events.append(line(f"{t + 2 + i}\treading\t7\t{volts}\t{watts}\t-\t-\tabort\tvirtual bench"))
open("soaked", "wb").write(b"".join(events))
P
python3 at_full_line.py
soak_of soaked >soak.abort
ok 'the reading of an abort is no drift' cmp soak.good soak.abort
ok 'the soak is told' grep -q 'Soak: .* drift' soak.abort
ok 'full line, then an abort' prints 'Power-up 1: full line, then an abort'
run report --table power-1-stages soaked
aborted_stages() { sed 's/\r$//' out | cut -d, -f1,8 | grep ',abort$'; }
ok 'what is read on the way to zero is no abort of the stages there' \
	test "$(aborted_stages)" = '117,abort'

# --- findings and how they ended, from a record written here
cat >write_record.py <<'P'
import zlib

head = open("r", "rb").read().split(b"\n")
head = head[:next(i for i, line in enumerate(head) if line.startswith(b"seconds\t")) + 1]


def event(seconds, kind, stage="-", volts="-", watts="-", verdict="-", note=""):
    line = "\t".join([str(seconds), kind, stage, volts, watts, "-", "-", verdict, note]).encode()
    return line + b"\t%08x" % zlib.crc32(line)


def reading(t):
    over = 270 <= t < 300 or t >= 600
    return event(t, "reading", "1", "20", "1.6" if over else "1.12", "in-band", "typed")


# a reading a second, but for the silence that ends in a blind spell
timed = [(t, reading(t)) for t in range(2, 616) if not 303 <= t < 320]
timed += [
    (0, event(0, "start", note="mainstair")),
    (1, event(1, "cautions")),
    (240, event(240, "rail", "1", "0.1", note="rail main")),
    (241, event(241, "rail", "1", "45", note="rail main")),
    (250, event(250, "look", "1", note="no: a pilot lamp glows")),
    (260, event(260, "look", "1", note="yes: a pilot lamp glows")),
    (265, event(265, "look", "1", note="no: no hum")),
    (310, event(310, "blind", "1", note="no reading for 9.0 s")),
    (330, event(330, "impossible", "-", "900", "-", "unknown", "volts that cannot be")),
    (610, event(610, "stop", "1", note="smoke")),
    (620, event(620, "stop-acknowledged")),
]
events = [line for _, line in sorted(timed, key=lambda pair: pair[0])]
open("f", "wb").write(b"\n".join(head + events) + b"\n")
P
python3 write_record.py
run report --table power-1-findings f
ok 'a record with findings' ended 0
found() { tr -d '\r' <out | grep -qx -- "$1" || { cat out; return 1; }; }
ok 'a look answered no, then yes' \
	found '4 min,"looked, and not so: a pilot lamp glows","answered yes later, after 10 s"'
ok 'a look that stayed no' \
	found '4 min,"looked, and not so: no hum",it stood when the record ended'
ok 'over, and back' \
	found '4 min,"over: 1.6 W at 20 V, and more readings like it","back in its band, after 30 s"'
ok 'no readings for a while' \
	found '5 min,blind: no reading for 9.0 s,"readings came again, after 10 s"'
ok 'over, and then the stop key' \
	found '10 min,"over: 1.6 W at 20 V, and more readings like it","the stop key, after 10 s"'
ok 'the stop key itself' found '10 min,stop key: smoke,"acknowledged: plug out, after 10 s"'
ok 'one that stood' \
	found '10 min,"over: 1.6 W at 20 V, and more readings like it",it stood when the record ended'
run report --table power-1-volts f
ok 'volts of a rail, and whether they are right' \
	sh -c 'grep -q "^4 min,20,rail main,0.1,.*,in-band" out && grep -q "^4 min,20,rail main,45,.*,over" out'
run report --format text f
ok 'in the text as well' prints 'Rails and heaters, read with a voltmeter'
ok 'what it came to' prints 'Power-up 1: the stop key'
ok 'that it was not closed' prints 'the record breaks off'
ok 'what was not believed' prints '1 reading that cannot be'
ok 'typed readings are no demonstration' sh -c '! grep -q "VIRTUAL BENCH" out'

# --- a record with more readings than are drawn, written here: a walk up of two stages, then hours
cat >write_long.py <<'P'
import zlib

head = open("r", "rb").read().split(b"\n")
head = head[:next(i for i, line in enumerate(head) if line.startswith(b"seconds\t")) + 1]


def event(seconds, kind, stage="-", volts="-", watts="-", note=""):
    line = "\t".join([str(seconds), kind, stage, volts, watts, "-", "-", "in-band", note]).encode()
    return line + b"\t%08x" % zlib.crc32(line)


lines = [event(0, "start", note="mainstair"), event(1, "cautions")]
for t in range(2, 20002):
    stage, volts, watts = (1, 20, 1.12) if t < 60 else (2, 35, 2.66) if t < 120 else (3, 50, 4.77)
    watts += {12345: -0.3, 13333: 0.3, 15000: 0.9}.get(t, 0)
    volts += {14000: 0.2, 14001: -0.2}.get(t, 0)
    lines.append(event(t, "reading", str(stage), "%.1f" % volts, "%.2f" % watts, "modbus"))
open("long", "wb").write(b"\n".join(head + lines) + b"\n")
P
python3 write_long.py
run report --at "$at" -o long.html long
ok 'a long record' ended 0
ok 'its page is valid' valid long.html
ok 'says that not all is drawn' grep -q 'Drawn are [0-9]* of 20000 readings: of each stretch' long.html
run report --table power-1-readings long
drawn() { tr -d '\r' <out | grep -q "^$1," || { tail -n 3 out; return 1; }; }
ok 'the lowest watts are drawn' drawn 12345,50,4.47
ok 'and the highest' drawn 13333,50,5.07
ok 'the highest volts' drawn 14000,50.2
ok 'and the lowest' drawn 14001,49.8
ok 'the only one that was over' sh -c 'tr -d "\r" <out | grep -q "^15000,50,5.67,.*,over$"'
ok 'the first stages' drawn '[0-9]*,35'
ok 'and the last reading' drawn 20001,50
ok 'and no more than is promised' sh -c '[ $(wc -l <out) -gt 1000 ] && [ $(wc -l <out) -le 4001 ]'

# --- a power-up that was laid over another
run run --bench --fault 'rail screen load 1.6' --like r --record beside "$oscillator"
run report --at "$at" -o beside.html beside
ok 'a power-up laid over another' ended 0
ok 'has a valid page' valid beside.html
ok 'whose colours can be told apart' python3 "$checks/contrast.py" beside.html
ok 'with both edges of it' sh -c \
	'[ "$(grep -o "<path class=\"like\" d=\"M[0-9.,]*L" beside.html | wc -l)" -eq 2 ]'
ok 'named in the legend' grep -q 'as the one laid under' beside.html
run report --table power-1-like beside
ok 'a table of it' first_line_is "$(printf 'stage (V),volts (V),watts (W),low (W),expected (W),high (W),compared\r')"
ok 'alike while the rail is asleep' sh -c 'grep -q "^20,20.*,agree" out'
ok 'and not when it has woken' sh -c 'grep -q "^117,.*,differ" out'
ok 'none where nothing was laid under' refused report --table power-1-like late
mkdir moved && cp r beside moved/ && mv r r.away
run report --format text moved/beside
ok 'both moved together' prints 'Beside the power-up laid under it'
run report --format text beside
ok 'one that is gone is no error' ended 0
ok 'but told' prints 'It was laid over an earlier power-up, r, whose record cannot be read'
ok 'and the rest of it is there' prints 'Stages, each with its last settled reading'
printf 'mainstair record 1\n' >r
run report --format text beside
ok 'one that is none' prints 'whose record cannot be read'
mv r.away r

# --- readings behind the end, which nothing judges: two records in one file, or somebody's own lines
cp r behind
python3 - <<'P'
import zlib

line = b"9000\treading\t6\t5000000000\t1.5\t-\t-\tin-band\ttyped"
with open("behind", "ab") as f:
    f.write(line + b"\t%08x\n" % zlib.crc32(line))
P
run report --at "$at" --format csv --table power-1-readings behind
ok 'a reading behind the end is none of the power-up' sh -c '[ -s out ] && ! grep -q 5000000000 out'
run report --at "$at" --format csv --table power-1-events behind
ok 'but an event that is told' prints '9000,reading,5000000000,1.5,typed'
run compare behind r
ok 'and compared with nothing' sh -c '! grep -q 5000000000 out'

# --- a unit, with texts that mean harm
hostile='<script>alert(1)</script>]]>"'"'"'&amp;--><!--'
keep() { "$program" enter --yes --at "$1" no7 "$2" "$3" "$4" >/dev/null; }
"$program" enter --profile "$oscillator" --at 2026-03-01T09:00:00Z no7 look plug \
	"finding $hostile" >/dev/null
ok 'a note that is a script' test $? -eq 0
keep 2026-03-01T09:01:00Z job - '"=HYPERLINK("http://x","y")'
keep 2026-03-01T09:02:00Z tubes V1 'good =1+1'
keep 2026-03-01T09:03:00Z ohms 'across the plug' OL
keep 2026-03-01T09:04:00Z capacitors C1A '450V 0.3mA'
keep 2026-03-01T09:05:00Z power - "$work/r"
# what the program itself would not let in
cat >spoil.py <<'P'
import zlib

line = ("2026-03-01T09:06:00.000Z\tnote\tlook\t\t-\t-\t-\t-\t"
        "it \\x1b[2J\\xe2\\x80\\xae\\xff spoils").encode()
with open("data/mainstair/units/no7.unit", "ab") as f:
    f.write(line + b"\t%08x\n" % zlib.crc32(line))
P
python3 spoil.py
cp data/mainstair/units/no7.unit unit.before
run report --at "$at" -o u.html no7
ok 'a unit by its label' ended 0
ok 'nothing on standard error either' silent
ok 'its page is valid' valid u.html
ok 'no script in it' sh -c '! grep -qi "<script" u.html'
ok 'the text is there all the same' grep -q '&lt;script&gt;alert(1)&lt;/script&gt;]]&gt;' u.html
ok 'no control characters in it' plain_bytes u.html
ok 'they are shown' grep -qF 'it \x1b[2J\xe2\x80\xae\xff' u.html
ok 'the unit file is as it was' cmp data/mainstair/units/no7.unit unit.before
run report --at "$at" ./data/mainstair/units/no7.unit
ok 'a unit by its path' cmp out u.html
for section in unit not-checked cautions look tubes ohms capacitors power calibration nulls \
	comparison notes; do
	ok "it has the section $section" grep -q "<h2 id=\"$section\">" u.html
done
ok 'tubes that nobody tested are named' grep -q 'Tubes not tested, 6 of 7: V2; V3; V4; V5; V6; V7' u.html
ok 'an open primary keeps it unplugged' grep -q 'Keep it unplugged: .*plug' u.html

# --- an abort in a unit's file, slips, and a figure that is none
keep 2026-03-01T10:00:00Z power - "$work/late"
cat >slip.py <<'P'
import zlib


def entry(kind, subject, word, n1, note):
    line = "\t".join(["2026-03-01T10:01:00.000Z", kind, subject, word, n1, "-", "-", "-", note])
    return line.encode() + b"\t%08x\n" % zlib.crc32(line.encode())


with open("data/mainstair/units/no7.unit", "ab") as f:
    f.write(entry("dropped", "tubes", "", "-", "V9 goodd") + entry("dropped", "ohms", "", "-", "x"))
    f.write(entry("tube", "V2", "good", "1e22", "a slip") + entry("tube", "V3", "good", "inf", ""))
P
python3 slip.py
run report --at "$at" --format text no7
ok 'an abort is a finding of the job' \
	sh -c "grep -q '▲ last: abort, up to 90.1 V: find out' out"
ok 'slips are counted' prints '2 typed lines were asked about or not believed'
ok 'and not listed' sh -c '! grep -q goodd out'
ok 'no number is told at length' sh -c '! grep -q 00000000000000000 out'
ok 'nor as none' sh -c '! grep -qw nan out'
run report --table logbook no7
ok 'the slips are in the logbook' prints 'V9 goodd'
run report --at "$at" -o tabs/ no7
ok 'a folder for a page is refused' ended 2
ok 'and what it is for' complains 'that is for --format csv'
ok 'it is not made' test ! -e tabs

# --- tables
run report --at "$at" --format csv -o tables/ no7
ok 'tables, a file each' ended 0
ok 'which a spreadsheet can read' python3 "$checks/tables.py" tables 15
ok 'no formula among them' grep -q "'=HYPERLINK" tables/logbook.csv
ok 'what is there is refused' refused report --format csv -o tables no7
run report --force --format csv -o tables no7
ok 'or replaced' ended 0
run report --table progress no7
ok 'one table' first_line_is "$(printf 'phase,done,of,findings,state\r')"
run report --format csv no7
ok 'all as one list' sh -c 'head -n 1 out | grep -q "table,row,column,unit,value"'
cp out all.csv
mkdir one && mv all.csv one/
ok 'that can be read as well' python3 "$checks/tables.py" one 1
ok 'a table that is none' refused report --table nonsense no7
ok 'those that are' complains 'progress, look, '
ok 'a table is no page' refused report --format html --table look no7

# --- a record that has gone
rm r
run report --format text no7
ok 'a record that is gone is not fatal' ended 0
ok 'but told on standard error' complains 'power-up of no7'
ok 'and in the report' prints 'Its record cannot be read'
ok 'and among what was not checked' prints 'A power-up whose record cannot be read: r'

# --- other locales
run report --at "$at" --format csv no7
cp out expected
if german true; then
	german "$program" report --at "$at" --format csv no7 >out 2>err
	ok 'the same in a locale with decimal commas' cmp out expected
else
	skip 'the same in a locale with decimal commas' 'no such locale can be made here'
fi
LC_ALL=C TERM=dumb "$program" report --at "$at" --format csv no7 >out 2>err
ok 'the same in the C locale' cmp out expected

# --- what is refused
ok 'no unit' refused report
ok 'two units' refused report no7 no8
ok 'a unit that is not there' refused report no8
ok 'a profile is no unit' refused report "$oscillator"
ok 'a format that is none' refused report --format pdf no7
ok 'a time that is none' refused report --at noon no7
ok 'a time before any clock here' refused report --at 1969-12-31T23:59:59Z no7
ok 'with a reason' complains 'since 1970'
ok 'an option that is none' refused report --loud no7
status=0
"$program" report no7 >/dev/full 2>err || status=$?
ok 'a full disk is an error' ended 2
"$program" report no7 2>err | head -n 1 >out
ok 'a reader that goes away is no trouble' sh -c '! grep -v "power-up of no7" err'
run report --help
ok 'help' ended 0
ok 'says how to call it' prints 'usage: mainstair report'
finish
