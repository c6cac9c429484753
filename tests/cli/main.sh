#!/bin/sh
# mainstair itself, and what holds for every command
. "$(dirname "$0")/lib.sh"

run
ok 'no command is bad usage' ended 2
ok 'told on standard error alone' nothing_printed
run --help
ok '--help is no error' ended 0
ok 'nothing on standard error' silent
ok 'it warns of what kills' prints 'Mains and rail voltages kill'
commands=$(sed -n 's/^  \([a-z][a-z]*\) .*/\1/p' out)
knows() { for command in $1; do echo "$commands" | grep -qx "$command" || return 1; done; }
ok 'it lists the commands' knows 'run replay envelope check simulate tubes'
run --version
ok '--version is no error' ended 0
ok 'one line, name and version' grep -qx 'mainstair [0-9][0-9.]*' out

full() { status=0; "$program" "$@" >/dev/full 2>err || status=$?; : >out; }
full --version
ok 'a version that could not be printed is told' ended 2
full --help
ok 'so is a help page' ended 2

ok 'an unknown command is refused' refused frobnicate
ok 'in one line' lines_of err 1
ok 'control characters in it are shown escaped' refused "$(printf 'x\033[2J')"
ok 'and only so' plain_bytes err
ok 'an unknown option is refused' refused --frobnicate

for command in $commands; do
	run "$command" --help
	ok "$command --help is no error" ended 0
	ok "$command --help goes to standard output" prints "mainstair $command"
	ok "$command refuses an unknown option" refused "$command" --frobnicate
	ok "$command refuses an option without its value" refused "$command" --format
	ok "$command shows no control characters" refused "$command" "$(printf -- '--a\033[2J')"
	ok "$command shows them escaped" plain_bytes err
done
for command in run replay envelope check simulate; do
	ok "$command needs its file" refused "$command"
	ok "$command refuses a missing file" refused "$command" none.ini
	# `run` looks for its terminal first
	[ "$command" = run ] || ok "$command names it" complains none.ini
	ok "$command refuses a folder" refused "$command" "$work"
done

# A descriptor that is closed at the start must not become that of a file the program opens.
"$program" enter --profile "$source/profiles/bench-oscillator.ini" ./no1.unit look - '"one' >out
lines=$(wc -l <no1.unit)
"$program" enter ./no1.unit look nonsense ok >out 2>&-
"$program" enter ./no1.unit look - '"two' >&- 2>err
"$program" enter ./no1.unit look - '"three' <&- >&- 2>&-
ok 'with standard output or error closed, only entries go into the file' \
	lines_of no1.unit $((lines + 2))
run job ./no1.unit
ok 'none of it is garbled' silent
"$program" judge "$source/profiles/bench-oscillator.ini" - >out 2>err <&-
ok 'a closed standard input is told' complains 'cannot read standard input'

# A limit on the size of files is told by whoever writes, and ends nothing unsaid.
cp no1.unit before.unit
profile=$source/profiles/bench-oscillator.ini
limited() {
	(ulimit -f 0; "$program" "$@") </dev/null 2>&1 >/dev/null | cat >err
	[ -s err ]
}
ok 'a limit on the size of files is told by a reader of profiles' limited check "$profile"
ok 'in words' complains 'File too large'
ok 'and by a writer of entries' limited enter ./no1.unit look - '"four'
ok 'who leaves the file as it was' cmp no1.unit before.unit

finish
