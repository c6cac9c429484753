#!/bin/sh
# mainstair compare
. "$(dirname "$0")/lib.sh"

export XDG_CONFIG_HOME="$work/config" XDG_DATA_HOME="$work/data"
shows() { grep -qe "$1" out; }
oscillator=$source/profiles/bench-oscillator.ini

# --- lists of values
cat >a.csv <<'END'
quantity,value,uncertainty
output,10.13 V,0.05 V
gain,-20 dB,0.1 dB
"dial, upper",1010 Hz,
hum,3 mV,50 %
only here,1 V,1 %
END
cat >b.csv <<'END'
quantity,value,uncertainty
output,10.00 V,0.12 V
Gain,-20.5 dB,0.1 dB
"dial, upper",1000 Hz,1 Hz
hum,3.1 mV,10 %
END
run compare a.csv b.csv
ok 'something differs' ended 1
ok 'nothing on standard error' silent
ok 'a difference as large as the uncertainty agrees' shows '^output .* 1.00 *agree$'
ok 'a level of half a decibel apart differs' shows '^gain .*3.54 *differ$'
ok 'no uncertainty: cannot tell, and why' shows '^dial, upper.*cannot tell: how well'
ok 'too coarse: cannot tell, and why' shows '^hum .*cannot tell: a difference that matters'
ok 'in one list only: cannot tell' shows '^only here.*cannot tell: one of the two'
ok 'counted' shows '^1 agree, 1 differ, 3 cannot be told\.$'
run compare --format csv a.csv b.csv
ok 'csv has its head' shows '^quantity,unit,a,a_uncertainty,b,b_uncertainty,difference,diff'
ok 'csv has its numbers' shows '^output,V,10.13,0.05,10,0.12,0.13,0.13,1,agree,$'
ok 'csv quotes a comma' shows '^"dial, upper",Hz,1010,,1000,1,10,,,cannot tell,'
ok 'the same status' ended 1
printf 'quantity,value,uncertainty\n=1+1,3 V,1 %%\n' >formula.csv
run compare --format csv formula.csv formula.csv
ok 'a name is calculated by no spreadsheet' shows "^'=1+1,V,3,"
grep -v gain a.csv >c.csv
run compare c.csv b.csv
ok 'nothing differs, something cannot be told' ended 4
printf 'quantity,value,uncertainty\nhum,3 mV,50 %%\n' >d.csv
printf 'quantity,value,uncertainty\nhum,3.1 mV,10 %%\n' >e.csv
run compare d.csv e.csv
ok 'a coarse agreement is no agreement' ended 4
run compare --matters '90 %' d.csv e.csv
ok 'unless so large a difference would not matter' ended 0
"$program" compare - e.csv <d.csv >out 2>err
ok 'standard input' grep -q hum out
ok 'its list alone is wrong' refused compare a.csv /dev/null
printf 'quantity,value\nx,1 V\n' >f.csv
printf 'quantity,value\nx,1 Hz\n' >g.csv
ok 'two units of one quantity' refused compare f.csv g.csv
ok 'in words' complains 'x is in V in the one, in Hz in the other'
printf 'quantity,value\nx,1,5 V\ny,\n' >h.csv
ok 'a decimal comma and an empty value' refused compare h.csv g.csv
ok 'each with its line' complains 'h.csv:2: 3 cells'
ok 'and its own words' complains 'h.csv:3: value:'
run compare --format csv a.csv b.csv
german "$program" compare --format csv a.csv b.csv >de 2>err
ok 'the same in a locale with decimal commas' cmp de out

# --- power-ups
run run --bench --record healthy.record "$oscillator"
run run --bench --fault 'rail screen load 1.6' --record loaded.record "$oscillator"
run compare healthy.record healthy.record
ok 'a power-up agrees with itself' ended 0
ok 'at every stage' shows '^7 agree, 0 differ'
run compare loaded.record healthy.record
ok 'more load on a rail differs' ended 1
ok 'not where the rail sleeps' shows '^watts at 20.0 V .*agree$'
ok 'but at full line' shows '^watts at 117.[0-9] V .*differ$'
run compare --format csv loaded.record healthy.record
ok 'as csv too' shows '^watts at 20.0 V,W,1.1'
run run --bench --fault 'rail screen load 1.6' --like healthy.record "$oscillator"
ok 'laid under a run: the model still says in band' ended 0
ok 'what it lies over is named' shows '^Laid under: Demonstration bench oscillator, 20'
ok 'asleep it is alike' shows '^ *20.0 .*agree$'
ok 'awake it is not' shows '^ *117.[0-9] .*differ$'
ok 'a record that is none' refused run --bench --like a.csv "$oscillator"
head -40 healthy.record >early.record
ok 'nothing had settled' refused compare early.record healthy.record
ok 'a record and a list are not of a kind' refused compare healthy.record a.csv
ok 'told' complains 'two of a kind'

# --- units
enter() {
	"$program" enter --yes --at 2026-03-01T10:00:00Z "$@" >/dev/null 2>err || cat err
}
for unit in one two; do
	enter --profile "$oscillator" ./$unit.unit calibrate P1 '201'
	enter ./$unit.unit calibrate P5 '10.0'
	enter ./$unit.unit ohms 'live pins, switch on' '17.1'
done
enter ./two.unit calibrate P5 '9.2'
enter ./one.unit calibrate P3 '2.00'
run compare ./one.unit ./two.unit
ok 'two units: what their sheets came to' ended 1
ok 'a point that agrees' shows '^P1 dial .*agree$'
ok 'one that differs' shows '^P5 output meter .*differ$'
ok 'one that only one has' shows '^P3 dial .*cannot tell: one of the two'
ok 'their ohms only when asked' sh -c '! grep -q ohm out'
run compare --ohms '1 %' ./one.unit ./two.unit
ok 'then they are there' shows 'live pins, switch on .*ohm .*agree$'
enter ./one.unit nulls hum 'R22 at 40: 3.2 mV'
run compare ./one.unit ./two.unit
ok 'a null that only one has' shows '^null hum, lowest .*cannot tell: one of the two'
enter ./one.unit nulls hum 'R23 at 12: 1.02 mV'
enter ./two.unit nulls hum 'R22 at 44: 2.5 mV'
enter ./two.unit nulls hum 'R23 at 17: 1.00 mV'
run compare ./one.unit ./two.unit
ok 'lowest readings of a null' shows '^null hum, lowest  *1.02.* mV .* 1.* mV .*cannot tell: how well'
ok 'and where the controls stood' shows '^null hum, R22 at  *40 .* 44 .*not judged: where'
run compare --nulls '3 %' ./one.unit ./two.unit
ok 'with an accuracy they can be told' shows '^null hum, lowest .*agree$'
enter ./two.unit nulls hum 'R22 at 45: 0.5 mV'
run compare --nulls '3 %' --format csv ./one.unit ./two.unit
ok 'one that differs' shows '^"*null hum, lowest"*,V,0.00102,.*,differ,'
ok 'positions in the list as well' shows '^"*null hum, R22 at"*,,40,,45,.*,not judged,'
ok 'a share of nulls that is none' refused compare --nulls wide ./one.unit ./two.unit
"$program" enter ./one.unit power - "$PWD/healthy.record" >out 2>err
"$program" enter ./two.unit power - "$PWD/loaded.record" >out 2>err
run compare ./one.unit ./two.unit
ok 'and their power-ups' shows '^watts at 117.[0-9] V .*differ$'
ok 'a unit that is not there' refused compare ./one.unit nosuchlabel

# --- usage
ok 'one operand' refused compare a.csv
ok 'three' refused compare a.csv b.csv c.csv
ok 'an option that is none' refused compare --like a.csv b.csv
ok 'a share that is none' refused compare --matters '300 %' a.csv b.csv
ok 'a format that is none' refused compare --format xml a.csv b.csv
run compare --help
ok 'help' ended 0
ok 'names its statuses' prints '4 nothing differs'
finish
