# Sourced by the scripts beside it: system packages and the Rust toolchain.

# The least Rust that builds the project, from the one place that states it.
least_rust() {
    sed -n 's/^rust-version *= *"\([0-9.]*\)".*/\1/p' "$top/Cargo.toml" | head -n 1
}

# Installs the Debian or Ubuntu packages named that are not there yet. Ends the script with a
# message where that can't be done.
need_packages() {
    local missing=() name
    if ! command -v dpkg-query >/dev/null || ! command -v apt-get >/dev/null; then
        echo "$me: no apt here, so nothing is installed. Where your system calls them otherwise, install what matches: $*" >&2
        return 0
    fi
    for name in "$@"; do
        if [ "$(dpkg-query -W -f '${db:Status-Status}' "$name" 2>/dev/null)" != installed ]; then
            missing+=("$name")
        fi
    done
    [ ${#missing[@]} -gt 0 ] || return 0
    local as_root=()
    if [ "$(id -u)" != 0 ]; then
        if ! command -v sudo >/dev/null; then
            echo "$me: these packages are missing, and there is no sudo to install them with: ${missing[*]}. As root: apt-get install ${missing[*]}" >&2
            exit 1
        fi
        as_root=(sudo)
    fi
    echo "$me: installing ${missing[*]}" >&2
    local log install=(env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends)
    log=$(mktemp)
    # The list on the machine may be good enough; only where it is not does the network have to be.
    if ! "${as_root[@]}" "${install[@]}" "${missing[@]}" >"$log" 2>&1 &&
        ! { "${as_root[@]}" apt-get update -q && "${as_root[@]}" "${install[@]}" "${missing[@]}"; } >"$log" 2>&1; then
        tail -n 5 "$log" >&2
        rm -f "$log"
        echo "$me: could not install ${missing[*]}; the lines above are apt's own" >&2
        exit 1
    fi
    rm -f "$log"
}

# Ends the script in one line where Rust is missing or too old.
need_rust() {
    local least found
    least=$(least_rust)
    if ! command -v cargo >/dev/null && [ -x "${CARGO_HOME:-$HOME/.cargo}/bin/cargo" ]; then
        PATH="${CARGO_HOME:-$HOME/.cargo}/bin:$PATH"
    fi
    if ! command -v cargo >/dev/null || ! command -v rustc >/dev/null; then
        echo "$me: Rust $least or newer is needed: get it with rustup, as https://rustup.rs says (the one in Debian 12 is too old), then start this again" >&2
        exit 1
    fi
    found=$(rustc --version | sed -n 's/^rustc \([0-9.]*\).*/\1/p')
    if [ "$(printf '%s\n%s\n' "$least" "$found" | sort -V | head -n 1)" != "$least" ]; then
        echo "$me: Rust $least or newer is needed, this is ${found:-unknown}: get a newer one with rustup (rustup update), then start this again" >&2
        exit 1
    fi
}

# Ends the script where cargo could not write what it builds.
need_target() {
    local target=${CARGO_TARGET_DIR:-$top/target}
    if ! mkdir -p "$target" 2>/dev/null || [ ! -w "$target" ]; then
        echo "$me: $target can't be written by this user: set CARGO_TARGET_DIR to a folder that can" >&2
        exit 1
    fi
}
