#!/bin/sh
# san_wrap.sh TEST... - run one test of a sanitizer build: `meson test --wrapper`.
# Criterion runs each test in a process of its own and, once the test's body has passed,
# ignores how that process ends: a leak report would pass unseen.  So the reports go to files,
# and a test that left one has failed.  Programs that a test starts report the same way.
set -u
dir=$(mktemp -d) || exit 99
trap 'rm -rf "$dir"' EXIT
ASAN_OPTIONS="log_path=$dir/san:detect_leaks=1:abort_on_error=0:${ASAN_OPTIONS:-}" \
UBSAN_OPTIONS="log_path=$dir/san:halt_on_error=1:print_stacktrace=1:${UBSAN_OPTIONS:-}" \
	"$@"
status=$?
for file in "$dir"/*; do
	[ -e "$file" ] || continue
	cat "$file" >&2
	[ "$status" -ne 0 ] || status=66
done
exit "$status"
