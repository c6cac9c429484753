# tests/cli/lib.sh - for scripts that run the program and say what came of it, as TAP.
# A script is called with the program, the source tree and the helper folder:
#   NAME.sh MAINSTAIR SOURCE
# and ends with `finish`.  Each works in a fresh folder of its own.

set -u
program=$(realpath "$1") || exit 99
source=$(realpath "$2") || exit 99
lib=$source/tests/lib
count=0
failures=0

work=$(mktemp -d) || exit 99
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 99
unset NO_COLOR LINES COLUMNS MAINSTAIR_DATA

# run ARGUMENT...: the program, its output in ./out, its complaints in ./err, $status
run() {
	status=0
	"$program" "$@" >out 2>err </dev/null || status=$?
}

# ok DESCRIPTION COMMAND...: one result; COMMAND succeeds or not
ok() {
	description=$1
	shift
	count=$((count + 1))
	if "$@" >said 2>&1; then
		echo "ok $count - $description"
	else
		failures=$((failures + 1))
		echo "not ok $count - $description"
		{
			echo "failed: $*"
			cat said
			echo "status ${status:-none}; standard output:"
			head -n 30 out
			echo "standard error:"
			head -n 30 err
		} 2>/dev/null | sed 's/^/# /'
	fi
}

# skip DESCRIPTION REASON
skip() {
	count=$((count + 1))
	echo "ok $count - $1 # SKIP $2"
}

# What `ok` is mostly asked:
ended() { [ "$status" -eq "$1" ]; }
prints() { grep -qF -- "$1" out; }
complains() { grep -qF -- "$1" err; }
silent() { [ ! -s err ]; }
nothing_printed() { [ ! -s out ]; }
first_line_is() { [ "$(head -n 1 out)" = "$1" ]; }
lines_of() { [ "$(wc -l <"$1")" -eq "$2" ]; }

# refused ARGUMENT...: ends in 2, says why in lines that begin with its name, prints nothing else
refused() {
	run "$@"
	ended 2 && nothing_printed && [ -s err ] && ! grep -qv '^mainstair: ' err
}

# no byte that a terminal would obey, line ends and tabs apart
plain_bytes() { ! LC_ALL=C grep -q "$(printf '[\001-\010\013-\037\177]')" "$1"; }

# german COMMAND...: with a locale whose decimal sign is a comma; 1 if none can be had
german() {
	if [ ! -d "$work/locales/de_DE.UTF-8" ]; then
		mkdir -p "$work/locales"
		localedef -i de_DE -f UTF-8 "$work/locales/de_DE.UTF-8" >/dev/null 2>&1
		[ "$(LOCPATH=$work/locales LC_ALL=de_DE.UTF-8 locale decimal_point)" = , ] ||
			return 1
	fi
	LOCPATH=$work/locales LC_ALL=de_DE.UTF-8 "$@"
}

finish() {
	echo "1..$count"
	[ "$failures" -eq 0 ]
	exit
}
