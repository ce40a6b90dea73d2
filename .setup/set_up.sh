#!/usr/bin/env bash
# Sets up this checkout; `make setup` runs it. Tested on Debian 12, x86-64.
# Expected to work but untested: aarch64 (the lock file covers it) and other
# Linux with Python 3.11+ and R 4.2 to 4.4 that has the R packages below. Tried
# and not enough: Debian 13, which has no r-cran-performance (and R 4.5).
# R goes where Debian puts it; all else stays inside .venv.
set -euo pipefail
cd "$(dirname "$0")/.."

python=${PYTHON:-python3}
venv=$PWD/.venv
r_library=$venv/r-library
log=$PWD/build/set-up.log
r_packages=(lme4 lmerTest emmeans pbkrtest broom broom.mixed performance parameters insight)
debian_packages=(python3 python3-venv r-base-core r-cran-lme4 r-cran-lmertest r-cran-emmeans
  r-cran-pbkrtest r-cran-broom r-cran-broom.mixed r-cran-performance r-cran-parameters
  r-cran-insight)
quarto_pin="quarto-cli==1.10.19 --hash=sha256:e4b14f3aeb38ea536672428a402c413c962bd4ba9d0b9805f416779226eb53e2"

say() { echo "set-up: $*"; }

stop() {
  echo "set-up: $*" >&2
  exit 1
}

# Runs a command with its chatter in the log; shows the log's end if it fails.
quietly() {
  "$@" >>"$log" 2>&1 && return
  tail -n 20 "$log" >&2
  stop "this failed: $*. The lines above say why (all of it: $log). Then run make setup again."
}

has_python() { "$python" -c 'import ensurepip, venv' 2>/dev/null; }

has_r() {
  Rscript -e 'quit(status = !all(nzchar(sapply(commandArgs(TRUE), function(p) system.file(package = p)))))' \
    "${r_packages[@]}" >/dev/null 2>&1
}

install_from_debian() {
  has_python && has_r && return
  local install="apt-get install -y --no-install-recommends ${debian_packages[*]}"
  command -v apt-get >/dev/null ||
    stop "install Python 3.11+ with venv, and R 4.2 to 4.4 with the packages ${r_packages[*]}; then run make setup again."
  if [ "$(id -u)" != 0 ]; then
    echo "Some packages are missing that only root may install. Run this first, then make again:" >&2
    echo "  sudo sh -c 'apt-get update && $install'" >&2
    exit 1
  fi
  say "R and Python from Debian (143 MB to fetch, under a minute)"
  export DEBIAN_FRONTEND=noninteractive
  apt-get -o DPkg::Lock::Timeout=300 update >>"$log" 2>&1 ||
    say "apt-get update complained (see $log); going on with the lists at hand"
  # shellcheck disable=SC2086 # one word per package is meant
  quietly $install -o DPkg::Lock::Timeout=300
  has_python || stop "$python cannot make a virtual environment. Name another: PYTHON=/usr/bin/python3 make setup"
  has_r || stop "R still lacks one of: ${r_packages[*]}. Is another R first on the PATH? ($(command -v Rscript))"
}

check_versions() {
  "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' ||
    stop "$("$python" --version) is too old; 3.11 or later is needed. Name one: PYTHON=python3.11 make setup"
  local r
  r=$(Rscript -e 'cat(as.character(getRversion()))')
  case $r in
    [0-3].* | 4.[01].*) stop "R $r is too old; R 4.2 to 4.4 is needed (Debian 12 has 4.2)." ;;
    4.[234].*) ;;
    *) say "R $r is newer than any this was tested with (4.2 to 4.4); going on." ;;
  esac
}

install_python_packages() {
  say "Python packages into .venv (about half a minute)"
  local pip=("$venv/bin/python" -m pip --disable-pip-version-check install --no-build-isolation)
  "$venv/bin/python" -c 'import pip' 2>/dev/null || quietly "$python" -m venv --clear "$venv"
  # rpy2 comes as source, so what builds it has to be there first. Every
  # download is checked against the lock file, which names all that is needed;
  # ABI mode needs no compiler.
  quietly "${pip[@]}" --require-hashes --only-binary :all: -r <(locked setuptools cffi pycparser)
  RPY2_CFFI_MODE=ABI quietly "${pip[@]}" --require-hashes --only-binary :all: --no-binary rpy2 \
    --no-deps -r requirements.lock
  quietly "${pip[@]}" --no-deps --no-index --editable .
}

# Prints the lock file's entries for the named packages, hashes included.
locked() {
  local name
  for name in "$@"; do sed -n "/^$name==/,/[^\\\\]\$/p" requirements.lock; done
}

loads_report() { Rscript -e 'loadNamespace("report")' >/dev/null 2>&1; }

# pymer4 loads an R package `report` that Debian lacks and that is never called
# here: the real one if R has it, or if it alone (no newer versions of others)
# can be had at once; otherwise the stand-in, in this checkout's own R library.
install_r_report() {
  rm -rf "$r_library"
  mkdir -p "$r_library"
  loads_report && return
  timeout --kill-after=5 30 Rscript -e 'options(timeout = 10)' \
    -e 'install.packages("report", lib = commandArgs(TRUE), dependencies = FALSE)' \
    "$r_library" </dev/null >>"$log" 2>&1 || true
  R_LIBS=$r_library loads_report && return
  say "the R package 'report' is not to be had: a marked stand-in goes into .venv/r-library"
  rm -rf "${r_library:?}"/*
  quietly R CMD INSTALL --library="$r_library" pipeline/estimates/r_stand_in/report
}

check_r_from_python() {
  RPY2_CFFI_MODE=ABI R_LIBS=$r_library quietly "$venv/bin/python" -c 'import gc, pymer4; gc.freeze()'
}

# Quarto is tried once and never needed: its package fetches a program, which
# fails where only package registries are reached.
try_quarto() {
  local stamp=$venv/quarto.stamp
  [ -e "$stamp" ] && return
  say "Quarto, if it can be had (3 minutes at most)"
  if command -v quarto >/dev/null; then
    echo "found: $(command -v quarto) $(quarto --version)" >"$stamp"
  elif timeout --kill-after=5 180 "$venv/bin/python" -m pip --disable-pip-version-check install --no-deps \
    --no-build-isolation --require-hashes -r <(echo "$quarto_pin") >>"$log" 2>&1 &&
    "$venv/bin/quarto" --version >>"$log" 2>&1; then
    echo "installed: .venv/bin/quarto $("$venv/bin/quarto" --version)" >"$stamp"
  else
    echo "not found: pages are drawn by pandoc and typst" >"$stamp"
  fi
  say "Quarto $(cat "$stamp")"
}

mkdir -p build
: >"$log"
install_from_debian
check_versions
install_python_packages
install_r_report
check_r_from_python
try_quarto
