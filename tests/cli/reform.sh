#!/bin/sh
# mainstair reform
. "$(dirname "$0")/lib.sh"

golden=$source/tests/golden/reform

# What does not come from the fit: figures of the fit may differ in their last digit from one
# mathematics library to the next.
settled() { grep -E '^(section|[0-9.]+ uF|verdict|within|above|usable|next|series|charge|caution:)' out; }

# The list in $golden/$1.readings, judged as its first lines ask.
judge_golden() {
	rating=$(sed -n 's/^# rating: //p' "$golden/$1.readings")
	set -- "$1" $(sed -n 's/^# options: //p' "$golden/$1.readings" | tr '~' '_')
	name=$1
	shift
	if [ $# -eq 2 ]; then
		run reform "$1" "$(echo "$2" | tr '_' ' ')" "$rating" "$golden/$name.readings"
	else
		run reform "$rating" "$golden/$name.readings"
	fi
	settled >"$name.settled"
}
agrees() {
	[ -z "${GOLDEN_UPDATE:-}" ] || cp "$1.settled" "$golden/$1.expected"
	diff "$golden/$1.expected" "$1.settled"
}

for readings in "$golden"/*.readings; do
	name=$(basename "$readings" .readings)
	judge_golden "$name"
	ok "$name: what was expected" agrees "$name"
	ok "$name: nothing on standard error" silent
	ok "$name: nothing that a terminal would obey" plain_bytes out
	case $name in
	published-run | creeping | large-section) wanted=0 ;;
	rising | over-surge | dual-can) wanted=3 ;;
	*) wanted=1 ;;
	esac
	ok "$name: ends with $wanted" ended "$wanted"
done

# --- limits and options
creeping=$golden/creeping.readings
run reform '20 uF 450 V' "$creeping"
ok 'a creeping section is formed by the older rule' prints 'verdict: formed; limit by older, 1.1 mA'
ok 'and told not to be like new' prints 'not like new by the modern cv-0.01'
ok 'with the rule in full' prints 'k C + 0.3 mA'
ok 'and where it comes from' prints 'JAN-C-62'
ok 'how well that is known' prints '(second hand)'
ok 'and cautions' prints 'Never unattended at rated volts'
run reform --rule cv-0.01 '20 uF 450 V' "$creeping"
ok 'by the modern rule it is not formed' ended 1
ok 'and its plateau is told' prints 'plateau: '
run reform --target 0.2mA '20 uF 450 V' "$creeping"
ok 'nor by a limit of our own just below' ended 1
ok 'which stands among the rules' grep -q '^own  *200 uA' out
run reform --target '220 uA' '20 uF 450 V' "$creeping"
ok 'but by one just above' ended 0
run reform --rule OLDER '525 uF 450 V' "$creeping"
ok 'a large part meets the ceiling of the older rule' prints 'limit by older, 10 mA'
run reform --rule uk-1968 '8 uF 525 V' "$creeping"
ok 'volts that the older rule does not cover' prints 'does not cover this part'
ok 'are refused where it decides' refused reform '8 uF 525 V' "$creeping"

# --- standard input, CSV
status=0
"$program" reform '20 uF 450 V' - <"$creeping" >out 2>err || status=$?
ok 'standard input' ended 0
cat >sane.py <<'P'
import csv, math, sys
rows = list(csv.DictReader(open("out", newline="")))
assert len(rows) == int(sys.argv[1]), rows
for row in rows:
    assert row["verdict"] == sys.argv[2 + rows.index(row)], row["verdict"]
    low, middle, high = (float(row[k] or "inf") for k in
        ("seconds_low", "seconds_to_limit", "seconds_high"))
    assert 0 <= low <= middle <= high, row
    low, middle, high = (float(row[k]) for k in
        ("plateau_ma_low", "plateau_ma", "plateau_ma_high"))
    assert 0 <= low <= middle <= high, row
    assert 0 <= float(row["chance_never"]) <= 1
    for key, text in row.items():
        if key.startswith("limit_"):
            assert float(text) > 0, (key, text)
P
run reform --format csv --rule cv-0.01 --to 350 '20 uF 450 V' "$golden/published-run.readings"
ok 'csv: its columns' first_line_is 'section,microfarads,rated_volts,readings,seconds,volts,milliamps,rule,limit_ma,verdict,reason,seconds_low,seconds_to_limit,seconds_high,chance_never,plateau_ma_low,plateau_ma,plateau_ma_high,exponent,scatter,next,next_volts,limit_older_ma,limit_cv-0.01_ma,limit_cv-0.03_ma,limit_cv-0.002_ma,limit_uk-1968_ma,limit_root-cv_ma,limit_power-cv_ma'
ok 'csv: numbers that agree with each other' python3 sane.py 1 formed
run reform --format csv '50+30 uF 150 V' "$golden/dual-can.readings"
ok 'csv: a row for each section' python3 sane.py 2 formed failing
ok 'csv: the worst of them decides' ended 3
sed 's/,B$/,1/;s/,A$/,2/' "$golden/dual-can.readings" >swapped
run reform --format csv '30+50 uF 150 V' swapped
ok 'in either order' ended 3
grep -v ',B$' "$golden/dual-can.readings" >half
run reform '50+30 uF 150 V' half
ok 'a section without readings is not formed' ended 1
ok 'and told' prints 'section 2: 30 uF 150 V, no readings'

# --- from the first third of the published run, the last
sed '$d' "$golden/published-run.readings" >third
run reform --format csv --to 350 --target 50uA '20 uF 450 V' third
cat >foretold.py <<'P'
import csv
row = next(csv.DictReader(open("out", newline="")))
assert row["verdict"] == "improving", row
assert float(row["seconds_low"]) <= 7200 <= float(row["seconds_high"] or "inf"), row
P
ok 'its end lies within the interval foretold' python3 foretold.py

# --- what is refused
for rating in '' '20 uF' '450 V' 20 '20 450' '20 mfd 450 V' '20 uF 450 V 3' '20,5 uF 450 V' \
	'1+1+1+1+1 uF 5 V' "$(printf '20 uF\033[2J')"; do
	ok "rating '$rating' is refused" refused reform "$rating" "$creeping"
	ok 'in one line' lines_of err 1
	ok 'without control characters' plain_bytes err
done
for bad in '--rule newer' '--rule' '--target 0' '--target -1mA' '--target 5V' '--to 500' '--to 0' \
	'--series 0' '--series 5V' '--series 10%' '--supply -5' '--format xml' '--rules' '-r'; do
	# splitting is meant
	# shellcheck disable=SC2086
	ok "$bad is refused" refused reform $bad '20 uF 450 V' "$creeping"
	ok 'in one line' lines_of err 1
done
ok 'a rule and a target' refused reform --rule older --target 1mA '20 uF 450 V' "$creeping"
ok 'a rating alone is refused' refused reform '20 uF 450 V'
ok 'a third word too' refused reform '20 uF 450 V' "$creeping" "$creeping"
ok 'a missing file' refused reform '20 uF 450 V' none.csv
ok 'by name' complains none.csv
ok 'a folder' refused reform '20 uF 450 V' "$work"
mkfifo pipe.csv
ok 'a pipe does not hang' refused reform '20 uF 450 V' pipe.csv
: >empty
ok 'an empty list' refused reform '20 uF 450 V' empty
printf '1,450,2\n2,450,x\n3,450\n4,450,-1\n' >faulty
ok 'a list with faults' refused reform '20 uF 450 V' faulty
ok 'all of them told' lines_of err 2
ok 'with their lines' complains 'faulty:2: milliamps: '
printf '1,450,2\n2,450,-1\n' >reversed
ok 'a reversed part' refused reform '20 uF 450 V' reversed
ok 'is told' complains 'the wrong way round'
printf '1,450,2\n1,450,1\n' >standing
ok 'time that stands still' refused reform '20 uF 450 V' standing

# --- long lists, other locales
awk 'BEGIN { for (i = 1; i <= 20000; i++) printf "%d,450,%.4f\n", 5 * i, 0.05 + 4 / (1 + i / 20) }' >long
run reform '20 uF 450 V' long
ok 'twenty thousand readings' ended 0
run reform --format csv '20 uF 450 V' "$creeping"
cp out expected
if german true; then
	german "$program" reform --format csv '20 uF 450 V' "$creeping" >out 2>err
	ok 'the same in a locale with decimal commas' cmp out expected
else
	skip 'the same in a locale with decimal commas' 'no such locale can be made here'
fi
LC_ALL=C NO_COLOR=1 TERM=dumb "$program" reform --format csv '20 uF 450 V' "$creeping" >out
ok 'the same in the C locale' cmp out expected
status=0
"$program" reform '20 uF 450 V' "$creeping" >/dev/full 2>err || status=$?
ok 'a full disk is an error' ended 2
run reform --help
ok '--help is no error' ended 0
ok '--help prints how to call it' prints 'usage: mainstair reform'

ok 'a supply that is none' refused reform --supply 1e308 '20 uF 450 V' "$creeping"
ok 'a limit that is none' refused reform --target 1e308 '20 uF 450 V' "$creeping"

finish
