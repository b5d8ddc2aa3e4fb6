# Sourced by run and long: a clean copy of the tree in a temporary folder, stages with their times, one Python.

set -euo pipefail
exec </dev/null
unset PYTHONPATH PYTHONHOME VIRTUAL_ENV
export PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_NO_INPUT=1 PIP_ROOT_USER_ACTION=ignore PYTHONUTF8=1

top=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
trap 'exit 130' INT TERM
tree=$work/tree

find_python() {  # $PYTHON, else the first Python 3.11 or later that can make virtual environments
  local name
  for name in ${PYTHON:-} python3 python3.11 python3.12 python3.13 python3.14 python; do
    if "$name" -c 'import ensurepip, sys, venv; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
      command -v "$name"
      return
    fi
  done
  echo "no Python 3.11 or later with venv found; set PYTHON to one" >&2
  return 1
}

copy_tree() {  # what git knows or would add; everything where there is no git
  mkdir "$tree"
  if git -c safe.directory='*' -C "$top" rev-parse --is-inside-work-tree >/dev/null 2>&1; then
    (cd "$top" && git -c safe.directory='*' ls-files -z --cached --others --exclude-standard |
      while IFS= read -r -d '' file; do [[ ! -e $file ]] || printf '%s\0' "$file"; done |
      tar -c --null -T - | tar -x -C "$tree")
  else
    cp -R "$top/." "$tree"
  fi
}

stage() {  # stage NAME COMMAND...: runs it, says how long it took
  local name=$1 start=$SECONDS
  shift
  printf '\n== %s\n' "$name"
  "$@"
  printf -- '-- %s: %d s\n' "$name" $((SECONDS - start))
}

python=$(find_python)
copy_tree
# The documents say `python3`; here that is the one that was found.
mkdir "$work/bin"
for name in python python3; do
  printf '#!/bin/sh\nexec "%s" "$@"\n' "$python" >"$work/bin/$name"
  chmod +x "$work/bin/$name"
done
export PATH=$work/bin:$PATH
echo "Python $(python -c 'import platform; print(platform.python_version())'), $(git -c safe.directory='*' -C "$top" rev-parse --short HEAD 2>/dev/null || echo 'no git')"
