#!/bin/sh
# names.sh TOP - the functions and files that DEVELOPERS.md names are there.  A walk-through that
# leads to a function of last year is worse than none.
set -eu
cd "$1"
bad=0

# in `…`: name() is a function; what ends as a file does is the end of a path, NAME apart
for name in $(grep -o '`[a-z][a-z0-9_]*()`' DEVELOPERS.md | tr -d '`()' | sort -u); do
	grep -rqw -- "$name" src include && continue
	echo "DEVELOPERS.md names $name(), which is nowhere in src or include"
	bad=1
done
files=$(find src include tests demo profiles -type f | sed 's|^|/|')
for path in $(grep -oE '`[A-Za-z0-9_./-]+\.(c|h|py|sh|csv|ini)`' DEVELOPERS.md | tr -d '`' | sort -u); do
	case $path in
	*NAME*) continue ;;
	esac
	echo "$files" | grep -q -- "/$path\$" && continue
	echo "DEVELOPERS.md names $path, which is not there"
	bad=1
done
exit "$bad"
