#!/usr/bin/env bash
# Sets up this checkout; `make setup` runs it. README says on which systems it was run and on which it should work.
# R goes where the system puts it; all else stays inside .venv.
set -euo pipefail
cd "$(dirname "$0")/.."

python=${PYTHON:-python3}
venv=$PWD/.venv
log=$PWD/build/set-up.log
oldest_python=3.11
oldest_r=4.2
r_packages=(lme4 lmerTest)
debian_packages=(python3 python3-venv r-base-core r-cran-lme4 r-cran-lmertest)

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

have() { command -v "$1" >/dev/null; }

# is_older 4.1.2 4.2: by the first two numbers.
is_older() {
  local IFS=. found oldest
  read -ra found <<<"$1"
  read -ra oldest <<<"$2"
  ((found[0] < oldest[0] || (found[0] == oldest[0] && ${found[1]:-0} < oldest[1])))
}

python_version() { "$python" -c 'import sys; print("%d.%d.%d" % sys.version_info[:3])'; }
r_version() { Rscript -e 'cat(as.character(getRversion()))'; }
has_python() { "$python" -c 'import ensurepip, venv' 2>/dev/null; }

has_r() {
  have Rscript &&
    Rscript -e 'quit(status = !all(nzchar(sapply(commandArgs(TRUE), function(p) system.file(package = p)))))' \
      "${r_packages[@]}" >/dev/null 2>&1
}

goes_without_r() { [ -n "${WITHOUT_R:-}" ]; }

# What is here and too old is refused before anything is fetched.
refuse_old_versions() {
  if have "$python"; then
    ! is_older "$(python_version)" "$oldest_python" ||
      stop "Python $(python_version) is too old; $oldest_python or later is needed. If you have one, name it: PYTHON=python3.12 make setup"
  fi
  if have Rscript && ! goes_without_r; then
    ! is_older "$(r_version)" "$oldest_r" ||
      stop "R $(r_version) is too old; $oldest_r or later is needed. To go on without R: WITHOUT_R=yes make setup"
  fi
}

is_complete() { has_python && { goes_without_r || has_r; }; }

install_from_apt() {
  goes_without_r && debian_packages=(python3 python3-venv)
  local install="apt-get install -y --no-install-recommends ${debian_packages[*]}"
  if [ "$(id -u)" != 0 ]; then
    echo "Some packages are missing that only root may install. Run this first, then make again:" >&2
    echo "  sudo sh -c 'apt-get update && $install'" >&2
    goes_without_r || echo "Or go on without R (its lme4 then does not fit the models): WITHOUT_R=yes make setup" >&2
    exit 1
  fi
  say "packages from apt; this takes longest where R is among them"
  export DEBIAN_FRONTEND=noninteractive
  apt-get -o DPkg::Lock::Timeout=300 update >>"$log" 2>&1 ||
    say "apt-get update complained (see $log); going on with the lists at hand"
  refuse_old_candidates
  # shellcheck disable=SC2086 # one word per package is meant
  quietly $install -o DPkg::Lock::Timeout=300
  has_python || stop "$python cannot make a virtual environment. Name another: PYTHON=/usr/bin/python3 make setup"
  is_complete || stop "R still lacks one of: ${r_packages[*]}. Is another R first on the PATH? ($(command -v Rscript))"
}

candidate() { apt-cache policy "$1" | sed -n 's/^ *Candidate: \([^( ].*\)/\1/p'; }

# What apt would install, looked at before it does.
refuse_old_candidates() {
  local package version lacking=()
  for package in "${debian_packages[@]}"; do
    version=$(candidate "$package")
    [ -n "$version" ] || lacking+=("$package")
    case $package:$version in
      *:) ;;
      python3:*) ! is_older "$version" "$oldest_python" || stop "this system has Python $version; $oldest_python or later is needed" ;;
      r-base-core:*) ! is_older "$version" "$oldest_r" || stop "this system has R $version; $oldest_r or later is needed" ;;
    esac
  done
  [ ${#lacking[@]} = 0 ] ||
    stop "apt does not know: ${lacking[*]}. On Ubuntu they are in the universe section: add-apt-repository universe. Then run make setup again."
}

# Systems without apt: Python must be here; R may come from anywhere, or be missing.
say_what_is_missing() {
  has_python || stop "Python $oldest_python or later with its venv module is needed. Install it, then run make setup again."
  if have Rscript; then
    say "R lacks some of these packages: ${r_packages[*]}. In R: install.packages(c($(printf '"%s", ' "${r_packages[@]}" | sed 's/, $//')))"
  else
    say "R was not found. README has the lines that install it on macOS and with conda."
  fi
  say "Until R has them, the program's own code fits the mixed models. Going on without R."
}

install_python_packages() {
  say "Python packages into .venv (about half a minute)"
  local pip=("$venv/bin/python" -m pip --disable-pip-version-check install --no-build-isolation)
  "$venv/bin/python" -c 'import pip' 2>/dev/null || quietly "$python" -m venv --clear "$venv"
  # rpy2 comes as source, so what builds it has to be there first. Every download is checked against the lock file,
  # which names all that is needed; ABI mode needs no compiler and no R.
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

check_r_from_python() {
  FIT_BY=lme4 quietly "$venv/bin/python" -c \
    'from pipeline.verbs.finding_r import make_r_findable; make_r_findable(); from pipeline.estimates.engines import mixed; mixed.versions()'
}

mkdir -p build
: >"$log"
refuse_old_versions
if ! is_complete; then
  if have apt-get; then install_from_apt; else say_what_is_missing; fi
fi
install_python_packages
if has_r && ! goes_without_r; then check_r_from_python; fi
