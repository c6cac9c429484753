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
run report --profile "$source/profiles/solid-state.ini" r --format text
ok 'another profile' prints 'Judged here by another profile'
printf '12.5	reading	1	50' | cat r - >torn
run report torn --format text
ok 'a torn record' ended 0
ok 'is told in the report' prints 'the last line is torn'
sed 's/^started	/started	x/' r >garbled
run report garbled --format text
ok 'a garbled head does not bring it down' test "$status" -le 2

# --- a unit, with texts that mean harm
hostile='<script>alert(1)</script>]]>"'"'"'&amp;--><!--'
keep() { "$program" enter --yes --at "$1" no7 "$2" "$3" "$4" >/dev/null; }
"$program" enter --profile "$oscillator" --at 2026-03-01T09:00:00Z no7 look plug \
	"finding $hostile" >/dev/null
ok 'a note that is a script' test $? -eq 0
keep 2026-03-01T09:01:00Z job - "\"=HYPERLINK(\"http://x\",\"y\"), and $(printf '\033[2J\342\200\256\377') in it"
keep 2026-03-01T09:02:00Z tubes V1 'good =1+1'
keep 2026-03-01T09:03:00Z ohms 'across the plug' OL
keep 2026-03-01T09:04:00Z capacitors C1A '450V 0.3mA'
keep 2026-03-01T09:05:00Z power - "$work/r"
cp data/mainstair/units/no7.unit unit.before
run report --at "$at" -o u.html no7
ok 'a unit by its label' ended 0
ok 'nothing on standard error either' silent
ok 'its page is valid' valid u.html
ok 'no script in it' sh -c '! grep -qi "<script" u.html'
ok 'the text is there all the same' grep -q '&lt;script&gt;alert(1)&lt;/script&gt;]]&gt;' u.html
ok 'no control characters in it' plain_bytes u.html
ok 'the unit file is as it was' cmp data/mainstair/units/no7.unit unit.before
run report --at "$at" ./data/mainstair/units/no7.unit
ok 'a unit by its path' cmp out u.html
for section in unit not-checked cautions look tubes ohms capacitors power calibration nulls \
	comparison notes; do
	ok "it has the section $section" grep -q "<h2 id=\"$section\">" u.html
done
ok 'tubes that nobody tested are named' grep -q 'Tubes not tested, 6 of 7: V2; V3; V4; V5; V6; V7' u.html
ok 'an open primary keeps it unplugged' grep -q 'Keep it unplugged: .*plug' u.html

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
