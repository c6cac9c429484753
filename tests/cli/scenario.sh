#!/bin/sh
# demo/scenario.sh: the whole job on an invented unit, from the first look to the report
. "$(dirname "$0")/lib.sh"

export XDG_CONFIG_HOME="$work/config" XDG_DATA_HOME="$work/data"
checks=$source/tests/report
status=0
MAINSTAIR=$program sh "$source/demo/scenario.sh" "$work/job" >out 2>err || status=$?
ok 'the scenario runs to its end' ended 0
ok 'and says where the report is' complains 'job/report.html'
ok 'nothing of it was refused' sh -c '! grep -q "^mainstair: " err'
cd job || exit 99

valid() { tidy -quiet -errors -utf8 report.html && python3 "$checks/page.py" report.html; }
ok 'its page is valid' valid
ok 'its colours can be told apart' python3 "$checks/contrast.py" report.html
ok 'its tables can be read' python3 "$checks/tables.py" tables 20

says() { tr '\n' ' ' <report.txt | tr -s ' ' | grep -qF -- "$1"; }
row() { grep -q "^$2" "tables/$1.csv"; }
ok 'it is called invented' says 'an invented unit for a demonstration: nothing here was ever measured'
ok 'what was mended' row look 'the mains cord,mended,"new two-wire cord, new strain relief"'
ok 'and what had been found' \
	says 'the mains cord was finding: rubber perished, bare strands at the entry (2026-02-02 18:00); then mended: new two-wire cord'
ok 'of a reading as well' says 'rail screen to chassis was 118 kohm (2026-02-02 20:27); then 131 kohm'
ok 'what nobody looked at' says 'Not looked at, 1 of 16: earlier repairs'
ok 'a weak tube' row tubes 'V3,12AU7,stage,weak,55 %'
ok 'the override with its reason' says 'Overridden: tubes: 1 of 6 not tested: V5. The reason given: no socket for the 6X4'
ok 'an ohm reading that was not taken' says 'Ohms not read, 1 of 12: rail steady, across its filter resistor'
ok 'a section that is like new' row capacitors 'C1A,0.00004,350,350,.*,formed,'
ok 'one that is usable by the older rule only' row capacitors 'C2,.*,usable,'
ok 'one that was replaced' row capacitors 'C1B,.*,replaced,'
ok 'both runs of a section that was formed twice' row capacitor-runs 'C1A,1,.*,200,forming'
ok 'the newest as well' row capacitor-runs 'C1A,2,.*,350,formed'
ok 'and those of the part that was replaced' row capacitor-runs 'C1B,2,.*,"*usable, then replaced'
ok 'the earlier one is drawn' grep -q 'an earlier run' report.html
ok 'the power-up that met the short' says 'Power-up 1: an abort'
ok 'where it met it' row power-1-stages '90,.*,abort,'
ok 'how that ended' row power-1-findings '.*over the abort line.*the line was at zero'
ok 'what that was, and that it was mended' says 'mended: C1B had broken down, 20 ohm to its can'
ok 'the power-up after it' says 'Power-up 2: full line, in band'
in_band() { ! sed 1d tables/power-2-stages.csv | grep -v ',in-band,'; }
ok 'every stage of it in its band' in_band
ok 'calibration as found and as left' row calibration 'P1,1 V range,1.00 V,1.04 V,.*,R41,1.00 V,.*,pass'
ok 'a point within the guard band' row calibration 'P3,.*,conditional pass'
ok 'a point that was not read' says 'Calibration points without a result, 1 of 5: P5'
ok 'the null' row nulls 'hum,8,4,4.2 mV,0.27 mV,.*,reached,'
ok 'a comparison that agrees' row comparison '"1 kHz, 1 V in",.*,agree,'
ok 'one that differs' row comparison '"20 kHz, 1 V in",.*,differ,'
ok 'one that cannot tell' row comparison '"hum, input shorted",.*cannot tell'
drawn() { [ "$(grep -c '<svg role="img"' report.html)" -eq "$1" ]; }
ok 'seven drawings' drawn 7

status=0
MAINSTAIR=$program sh "$source/demo/scenario.sh" "$work/job" >out 2>err || status=$?
ok 'a folder that is not empty is refused' ended 2
finish
