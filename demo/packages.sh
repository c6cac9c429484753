# demo/packages.sh - Debian packages and build folders; read in by demo/start and tests/run.
# Works as root, through sudo and as an ordinary user; asks the network only for what is missing.

build_packages='gcc libc6-dev meson ninja-build pkg-config libncurses-dev libserialport-dev
libiniparser-dev'
# Criterion runs the tests; ngspice is the outside world that the load model is held against;
# tmux and libvterm play the terminal; socat, libmodbus the meter; gsl checks numbers; locales
# supplies one with a decimal comma; tidy checks the report's HTML.
test_packages='libcriterion-dev ngspice tmux libvterm-dev libmodbus-dev libgsl-dev socat python3
locales tidy'

say() { printf '%s\n' "mainstair: $*" >&2; }

# missing_packages NAME...: those that are not installed
missing_packages() {
	for package in "$@"; do
		case $(dpkg-query -W -f '${Status}' "$package" 2>/dev/null) in
		'install ok installed') ;;
		*) printf '%s ' "$package" ;;
		esac
	done
}

# as_root COMMAND...: sudo only where it is needed, and no password prompt without a terminal
as_root() {
	if [ "$(id -u)" -eq 0 ]; then
		"$@"
	elif ! command -v sudo >/dev/null 2>&1; then
		return 1
	elif [ -t 0 ] && [ "${CI:-}" != true ]; then
		sudo "$@"
	else
		sudo -n "$@"
	fi
}

# need_packages NAME...: install what is missing; 1 with a message when that cannot be done
need_packages() {
	if ! command -v dpkg-query >/dev/null 2>&1 || ! command -v apt-get >/dev/null 2>&1; then
		say 'no Debian package tools here: packages are not checked.'
		say "Needed, by their Debian names: $*"
		return 0
	fi
	missing=$(missing_packages "$@")
	[ -n "$missing" ] || return 0
	if ! as_root true; then
		say "these packages are needed: $missing"
		say 'This is not root, and sudo is not here or wants a password. As root:'
		say "apt-get update && apt-get install -y $missing"
		return 1
	fi
	say "installing: $missing"
	apt='env DEBIAN_FRONTEND=noninteractive apt-get -q -o DPkg::Lock::Timeout=300'
	# An update that fails (no network) may still leave lists that are good enough.
	# Names and options are words of their own: splitting is meant.
	# shellcheck disable=SC2086
	as_root $apt update >&2 || say 'the package lists could not be refreshed; trying the old ones.'
	# shellcheck disable=SC2086
	as_root $apt install -y --no-install-recommends $missing >&2 </dev/null || :
	missing=$(missing_packages "$@")
	[ -n "$missing" ] || return 0
	say "these packages are needed and could not be installed: $missing"
	say "As root, with the network up: apt-get update && apt-get install -y $missing"
	return 1
}

# quietly COMMAND...: its output only when it fails
quietly() {
	log=$("$@" 2>&1) || {
		printf '%s\n' "$log" >&2
		say "failed: $*"
		return 1
	}
}

# compile FOLDER TARGET: how far it is, where somebody looks on
compile() {
	case $(ninja -C "$1" -n "$2" 2>&1) in
	*'no work to do'*) return 0 ;;
	esac
	say 'building; the first time takes a minute or two'
	if [ -t 2 ] && [ "${TERM:-dumb}" != dumb ]; then
		(cd "$1" && NINJA_STATUS='%f of %t  ' ninja "$2") >&2
	else
		quietly ninja -C "$1" "$2"
	fi
}

# build_in FOLDER TARGET [MESON OPTION...]: configure, build.  For `all` it is configured again: what
# the tests need may have come since.
build_in() {
	folder=$1
	target=$2
	shift 2
	if [ -e "$folder" ] && [ ! -w "$folder" ]; then
		say "$folder is not writable by $(id -un): built by another user. Remove it (perhaps"
		say 'with sudo), or name another folder: MAINSTAIR_BUILD=/tmp/mainstair-build'
		return 1
	fi
	if [ -f "$folder/build.ninja" ]; then
		if ! grep -qF "\"$top\"" "$folder/meson-info/meson-info.json"; then
			say "$folder was made for another source tree. Remove it."
			return 1
		fi
		set -- --reconfigure "$@"
	else
		say 'configuring'
	fi
	if [ ! -f "$folder/build.ninja" ] || [ "$target" = all ]; then
		quietly meson setup "$@" "$folder" "$top" || return 1
	fi
	compile "$folder" "$target" || return 1
	give_back "$folder"
}

# give_back FOLDER: what root made through sudo belongs to the one who called sudo, so that the
# next run without it can write there
give_back() {
	if [ "$(id -u)" -eq 0 ] && [ "${SUDO_UID:-0}" -ne 0 ]; then
		chown -R "$SUDO_UID:${SUDO_GID:-$SUDO_UID}" "$1"
	fi
}
