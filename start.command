#!/bin/sh
# macOS: double-click this file. It sets goodlength up the first time, and opens it in the browser.
# Where macOS says that it cannot check this file: right-click it, choose Open, then Open again.
cd "$(dirname "$0")" || exit 1
if [ ! -f scripts/set_up.py ]; then
  echo "goodlength's folder is not whole. Unpack all of it, and double-click start.command inside it."
  exit 1
fi
sh ./start "$@" || {
  echo
  echo "goodlength stopped. What to do stands above; then double-click start.command again."
  exit 1
}
