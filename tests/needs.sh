#!/usr/bin/env bash
# Installs what the tests need beside Node. The emulated microcontroller is compiled and run, never skipped.
set -euo pipefail

declare -A PACKAGE_OF=(
  [chromium-headless-shell]=chromium-headless-shell
  [socat]=socat
  [avr-gcc]="gcc-avr avr-libc"
  [make]=make
  [gcc]=gcc
  [openssl]=openssl
  [certutil]=libnss3-tools
  [pdftoppm]=poppler-utils
)
# Some tests before a release need its windows, or another browser.
[ "${STRANDWARD_CHECK:-}" != long ] || PACKAGE_OF+=([chromium]=chromium [firefox-esr]=firefox-esr)
missing=()
for program in "${!PACKAGE_OF[@]}"; do
  command -v "$program" >/dev/null 2>&1 || missing+=(${PACKAGE_OF[$program]})
done
# Debian puts it where only root's PATH looks.
[ -x /usr/sbin/mosquitto ] || command -v mosquitto >/dev/null 2>&1 || missing+=(mosquitto)
[ -e /usr/include/simavr/sim_avr.h ] || missing+=(simavr libsimavr-dev libelf-dev)
/usr/bin/python3 -c 'import prometheus_client' 2>/dev/null || missing+=(python3 python3-prometheus-client)
[ -d /usr/lib/avr/include ] || missing+=(avr-libc)
if [ ${#missing[@]} -gt 0 ]; then
  if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    echo "Installing what the tests need from Debian's packages: ${missing[*]}"
    apt-get update -qq
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
  else
    echo "The tests need programs that are not here. Install them and try again: sudo apt-get install ${missing[*]}" >&2
    exit 1
  fi
fi
