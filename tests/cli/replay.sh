#!/bin/sh
# mainstair replay, without a terminal
. "$(dirname "$0")/lib.sh"

profiles=$source/profiles
oscillator=$profiles/bench-oscillator.ini
export XDG_CONFIG_HOME="$work/config" XDG_DATA_HOME="$work/data"

run run --bench --fault 'primary short 40 ohm' --record r "$oscillator"
events=$(grep -c '	' r)
run replay r
ok 'a record is printed' ended 0
ok 'nothing on standard error' silent
ok 'with the name of the unit' first_line_is "Demonstration bench oscillator, started $(sed -n 's/^started	//p' r)"
ok 'its abort' prints 'abort-raised'
then_is_now() { awk '$2 == "reading" && $7 != $8 { bad = 1 } END { exit bad }' out; }
ok 'the same profile judges as it did' then_is_now
ok 'no control characters' plain_bytes out
ok 'an event a line' sh -c "[ \$(wc -l <out) -gt 10 ] && [ \$(wc -l <out) -lt $events ]"

run run --bench --record healthy "$oscillator"
run replay --profile "$profiles/solid-state.ini" healthy
ok 'under another profile' ended 0
ok 'verdicts differ, then and now' sh -c '! awk "\$2 == \"reading\" && \$7 != \$8 { bad = 1 } END { exit bad }" out'

run run --bench --fault 'rail screen load 1.6' --like healthy --record beside "$oscillator"
sed -n '/^Laid under/,/^[^L ]*[0-9].*differ$/p' out | grep -v '^record' >walked
ok 'a record names what was laid under it' \
	grep -q "	note	-	.*	laid under: $(realpath healthy)	" beside
run replay --like healthy beside
ok 'a replay with another power-up under it' ended 0
ok 'names it' prints 'Laid under: Demonstration bench oscillator, '
ok 'and tells the same of each stage as the run' sh -c \
	'grep -c differ walked >n; grep -F -x -f walked out | grep -c differ | cmp - n && [ "$(cat n)" -ge 2 ]'
ok 'what aborted before anything settled is not laid under' refused replay --like r healthy
run replay --like healthy r
ok 'and the other way round' prints 'VOLTS  LOW W'
ok 'a power-up that is not there is not laid under' refused replay --like nowhere healthy

cp r torn
printf '12.5	reading	1	50' >>torn
cp torn torn.before
run replay torn
ok 'a torn last line is no error' ended 0
ok 'but told' complains 'the last line is torn'
ok 'and never mended in place' cmp -s torn torn.before

cp r hostile
sed 's/reading	-	/reading	9	/' hostile >garbled
run replay garbled
ok 'garbled lines are passed over' ended 0
ok 'and counted' complains 'garbled'

refused_replay() { refused replay "$@"; }
ok 'no record' refused_replay
ok 'two records' refused_replay r r
ok 'a record that is not there' refused_replay nowhere
ok 'a folder' refused_replay .
ok 'a profile is no record' refused_replay "$oscillator"
ok 'an empty file' refused_replay /dev/null
ok 'a profile that is not there' refused_replay --profile nowhere.ini r
ok 'a speed that is none' refused_replay --speed fast r
ok 'an option that is none' refused_replay --back r

run replay --help
ok 'help' ended 0
"$program" replay r 2>err | head -n 1 >out
ok 'a reader that goes away is no trouble' silent
finish
