# Shared by ./start and ./check: makes .venv with exactly what the lock names. POSIX shell.
# Sets $PY, the environment's Python. Says what to install where the system's Python cannot do it.

unset PYTHONDONTWRITEBYTECODE PYTHONHOME PYTHONPATH
env_dir="${GOODLENGTH_ENV:-$root/.venv}"
PY="$env_dir/bin/python"

say() { printf '%s\n' "$*" >&2; }

find_python() {
  for name in ${PYTHON:-} python3 python3.11 python3.12 python3.13 python3.14 python; do
    command -v "$name" >/dev/null 2>&1 || continue
    if "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
      printf '%s' "$name"
      return 0
    fi
  done
  say "goodlength needs Python 3.11 or later; none was found."
  say "On Debian or Ubuntu: apt-get install python3 python3-venv python3-pip, then run this again."
  return 1
}

# newest_python: the newest Python that the locks serve and that is newer than $PY's; nothing where none is.
newest_python() {
  for minor in 14 13 12; do
    "$PY" -c "import sys; sys.exit(sys.version_info >= (3, $minor))" || return 0
    for name in "python3.$minor" python3 "${PYENV_ROOT:-$HOME/.pyenv}"/versions/"3.$minor".*/bin/python3; do
      # A shim answers to the name but may run nothing, so the version is asked for, not the name.
      "$name" -c "import sys, venv; sys.exit(sys.version_info[:2] != (3, $minor))" >/dev/null 2>&1 || continue
      printf '%s' "$name"
      return 0
    done
  done
}

pip_by_way_round() {
  # No ensurepip here (Debian keeps it in python3-venv): let the system's own pip fill the environment.
  if "$1" -m venv --without-pip "$env_dir" >&2 && "$1" -m pip --version >/dev/null 2>&1; then
    "$1" -m pip --python "$env_dir" install --quiet --require-hashes --only-binary :all: \
      -r "$root/requirements/pip.lock" >&2 && return 0
  fi
  rm -rf "$env_dir"
  say "Python's venv cannot make an environment with pip here, and no pip was found to help."
  say "On Debian or Ubuntu: apt-get install python3-venv (or python3-pip), then run this again."
  return 1
}

make_environment() {
  [ -x "$PY" ] && "$PY" -m pip --version >/dev/null 2>&1 && return 0
  python=$(find_python) || return 1
  say "Making goodlength's own environment (first time only) ..."
  rm -rf "$env_dir"
  "$python" -m venv "$env_dir" >/dev/null 2>&1 && "$PY" -m pip --version >/dev/null 2>&1 && return 0
  rm -rf "$env_dir"
  pip_by_way_round "$python"
}

# fill_environment LOCK: installs the lock's packages unless this very lock stands already.
fill_environment() {
  stamp="$env_dir/filled-$(basename "$1")"
  now=$(cat "$1" "$root/pyproject.toml" | cksum; printf '%s' "$root")
  [ -f "$stamp" ] && [ "$(cat "$stamp")" = "$now" ] && return 0
  make_environment || return 1
  rm -f "$stamp"
  say "Installing what $(basename "$1") names (a minute or two; hashes are checked) ..."
  "$PY" -m pip install --quiet --disable-pip-version-check --require-hashes --only-binary :all: -r "$1" >&2 &&
    "$PY" -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e "$root" >&2 || {
    say "The packages could not be installed. Look at the lines above: no network, or no space left?"
    say "Nothing is lost; run this again when it is mended."
    return 1
  }
  "$PY" -c "from goodlength.ball import warm; warm()" >&2 || true
  printf '%s' "$now" > "$stamp"
}
