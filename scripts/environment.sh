# Shared by ./start and ./check: finds a Python and lets scripts/set_up.py make .venv. POSIX shell.
# Sets $PY, the environment's Python.

unset PYTHONDONTWRITEBYTECODE PYTHONHOME PYTHONPATH
env_dir="${GOODLENGTH_ENV:-$root/.venv}"
PY="$env_dir/bin/python"

say() { printf '%s\n' "$*" >&2; }

# runs_python NAME: whether it is a Python 3 that runs. A Mac's own python3 only asks for its developer tools
# where these are missing, so it is then not run.
runs_python() {
  found=$(command -v "$1" 2>/dev/null) || return 1
  [ "$found" != /usr/bin/python3 ] || [ "$(uname)" != Darwin ] || xcode-select -p >/dev/null 2>&1 || return 1
  "$1" -c "import sys; sys.exit(sys.version_info < (3, ${2:-6}))" >/dev/null 2>&1
}

# find_python: one that goodlength runs on; else an older one, which looks further (scripts/set_up.py) or says
# what to install; else the tool uv fetches one into .python.
find_python() {
  for least in 11 6; do
    for name in "${PYTHON:-}" python3 python3.13 python3.12 python3.11 python3.14 python \
      /Library/Frameworks/Python.framework/Versions/3.1[1-4]/bin/python3 "$root"/.python/*/bin/python3; do
      runs_python "$name" $least || continue
      printf '%s' "$name"
      return 0
    done
  done
  if command -v uv >/dev/null 2>&1; then
    say "No Python was found. Fetching one for goodlength alone (about 30 MB) ..."
    UV_PYTHON_INSTALL_DIR="$root/.python" UV_PYTHON_INSTALL_BIN=0 uv python install 3.13 >&2 || true
    for name in "$root"/.python/*/bin/python3; do
      runs_python "$name" 11 || continue
      printf '%s' "$name"
      return 0
    done
  fi
  say "goodlength needs Python 3.11 to 3.14; no Python was found."
  if [ "$(uname)" = Darwin ]; then
    say "Install Python 3.13 from python.org (Downloads, macOS), then double-click start.command again."
  else
    say "On Debian or Ubuntu: apt-get install python3 python3-venv python3-pip, then run this again."
  fi
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

# fill_environment LOCK: the environment holds the lock's packages; scripts/set_up.py sees to it.
fill_environment() {
  [ -x "$PY" ] && "$PY" "$root/scripts/set_up.py" --ready "$1" >/dev/null 2>&1 && return 0
  python=$(find_python) || return 1
  "$python" "$root/scripts/set_up.py" "$1"
}
