# shellcheck shell=sh
# A Debian root with nothing in it but what is asked for, to source.
#
#   bare_root [FOLDER]    begins: $root is FOLDER, or a temporary one that goes with the shell
#   bare_fill PACKAGES    makes it, with these packages (divided by commas)
#   inside COMMAND...     runs in it, as root
#
# A script that begins so ends with 0 and says why where the machine cannot make one.

bare_skip() {
  echo "$(basename "$0"): skipped: $1"
  exit 0
}

bare_root() {
  [ "$(id -u)" -eq 0 ] || bare_skip 'needs root'
  command -v mmdebstrap >/dev/null || bare_skip 'needs mmdebstrap'
  # shellcheck source=/dev/null
  bare_suite=$(. /etc/os-release && echo "$VERSION_CODENAME")
  for bare_sources in /etc/apt/sources.list.d/debian.sources /etc/apt/sources.list.d/ubuntu.sources \
    /etc/apt/sources.list ''; do
    [ -s "$bare_sources" ] && break
  done
  [ -n "$bare_sources" ] || bare_skip 'no package sources'
  if [ $# -gt 0 ]; then
    root=$1
  else
    root=$(mktemp -d "${TMPDIR:-/tmp}/setback-bare.XXXXXX")
    trap 'rm -rf "$root"' EXIT
    trap 'exit 1' HUP INT TERM
  fi
}

bare_fill() {
  mmdebstrap --quiet --mode=root --variant=apt --include="$1" "$bare_suite" "$root" - <"$bare_sources"
  # How this machine reaches its package sources holds in there too.
  for setting in /etc/apt/apt.conf.d/*; do
    case $setting in *docker* | *packagekit* | *appstream*) continue ;; esac
    cp "$setting" "$root/etc/apt/apt.conf.d/"
  done
  cp /etc/resolv.conf "$root/etc/resolv.conf"
}

inside() {
  # Mounted only for what runs in there, and gone with its last process.
  # shellcheck disable=SC2016 # expands in the inner shell
  unshare --mount --pid --fork --kill-child sh -c '
    root=$1
    shift
    mount -t proc proc "$root/proc"
    mount --rbind /dev "$root/dev"
    mount -t tmpfs tmpfs "$root/tmp"
    exec chroot "$root" env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root CI=true "$@"' \
    sh "$root" "$@" </dev/null
}
