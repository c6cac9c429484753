#!/bin/sh
# layers.sh ROOT - who includes whom: arrows between folders point down only.
# cli -> app -> {ui, io, bench, report} -> proto -> core -> base; those four never each other.
# Exactly one file includes each outside library that is kept behind a seam.
set -u
cd "${1:?usage: layers.sh ROOT}" || exit 99
bad=0
checked=0

complain() { printf '%s\n' "$*"; bad=1; }

# allowed FOLDER: the folders that it may include, itself among them
allowed() {
	case $1 in
	base) echo base ;;
	core) echo core base ;;
	proto) echo proto core base ;;
	io | ui | bench | report) echo "$1" proto core base ;;
	app) echo app io ui bench report proto core base ;;
	cli) echo cli app io ui bench report proto core base ;;
	esac
}

for folder in base core proto io ui bench report app cli; do
	ok=" $(allowed "$folder") "
	for file in $(find "src/$folder" "include/mainstair/$folder" -name '*.[ch]' 2>/dev/null); do
		checked=$((checked + 1))
		for to in $(sed -n 's/^[[:space:]]*#[[:space:]]*include[[:space:]]*"\(mainstair\/\)\{0,1\}\([a-z]*\)\/[^"]*".*/\2/p' "$file"); do
			case $to in
			base | core | proto | io | ui | bench | report | app | cli) ;;
			*) continue ;; # a folder inside this one
			esac
			case $ok in
			*" $to "*) ;;
			*) complain "$file: $folder may not include $to/" ;;
			esac
		done
	done
done

# one_file PATTERN FILE: only FILE may include a header that matches PATTERN
one_file() {
	for file in $(grep -rlE "^[[:space:]]*#[[:space:]]*include[[:space:]]*<($1)>" src include); do
		[ "$file" = "$2" ] || complain "$file: only $2 includes <$1>"
	done
}
one_file '(ncurses|curses|ncursesw/.*|term)\.h' src/ui/term_curses.c
one_file 'libserialport\.h' src/io/wire_serial.c
one_file 'iniparser(/iniparser)?\.h|(iniparser/)?dictionary\.h' src/io/profile_ini.c

# What works without terminal, clock and file says so by what it includes.
for file in $(grep -rlE '#[[:space:]]*include[[:space:]]*<(time|fcntl|unistd|poll|termios|sys/.*)\.h>' \
	src/base src/core src/proto src/report include); do
	complain "$file: base, core, proto and report know no file, clock or terminal"
done

[ "$checked" -gt 0 ] || complain 'no source files found: wrong folder?'
exit "$bad"
