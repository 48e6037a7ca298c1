#!/usr/bin/env bash
# Makes a Raspberry Pi the computer of a timerd bench: users, programs, services, boot settings. Run it from a clone, as
# root; as often as you like: what is as it should be is left alone. It says what it will change, and asks first.
# Prints, benches, papers and the book in /var/lib/timerd are never touched, by an uninstall neither.
set -euo pipefail
umask 022 # root may have one that would keep timerd's users out of their own programs

usage() {
    cat <<'TEXT'
usage: install.sh --bench BENCH [--usb-pedal VVVV:PPPP]... [--dry-run] [--yes]
       install.sh --uninstall [--dry-run] [--yes]

  --bench BENCH          the bench to serve, by its name; asked for once, kept after that
  --usb-pedal VVVV:PPPP  a USB foot switch, by the two numbers that lsusb tells; may be said again for another one
  --no-boot              leave config.txt and cmdline.txt as they are
  --dry-run              only say what would be changed
  --yes                  do not ask
  --uninstall            take everything away but /var/lib/timerd, the users and your choices in /etc/timerd
  --root DIR             try it on a folder that stands for the system's root: no package of the system is installed,
                         no service started, and what is made there runs from there only
TEXT
}

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
clone=$(cd "$here/../.." && pwd)
root="" bench="" uninstall=no dry=no yes=no boot_settings=yes
usb=()

die() {
    echo "install.sh: $*" >&2
    exit 1
}

value() { # OPTION ARGUMENTS-LEFT
    [ "$2" -ge 2 ] || die "$1: say which"
}

while [ $# -gt 0 ]; do
    case $1 in
        --bench) value "$1" $# && bench=$2 && shift ;;
        --usb-pedal) value "$1" $# && usb+=("$2") && shift ;;
        --root)
            value "$1" $#
            [ -d "$2" ] || die "--root: there is no folder '$2'"
            root=$(realpath -- "$2") && shift
            ;;
        --no-boot) boot_settings=no ;;
        --dry-run) dry=yes ;;
        --yes) yes=yes ;;
        --uninstall) uninstall=yes ;;
        -h | --help) usage && exit 0 ;;
        *) usage >&2 && die "what is '$1'?" ;;
    esac
    shift
done
[ "$root" != / ] || root=""
cd / # a module that lies where this was called is nobody's

# -- what there is, and where ------------------------------------------------------------------------------------------

etc=$root/etc/timerd
owned=$etc/installed # every file that was put there, and every word of the kernel's command line: a line each
programs=$root/opt/timerd
units=(timerd.service timerd-panel.service)
served="timerd serves Raspberry Pi OS, and Debian 12, in their 64-bit form"
begin="# timerd: from here"
end="# timerd: to here"

if [ -d "$root/boot/firmware" ]; then boot=$root/boot/firmware; else boot=$root/boot; fi

was_owned() { # KIND THING
    [ -f "$owned" ] && grep -Fxq -- "$1 $2" "$owned"
}

# -- saying and doing --------------------------------------------------------------------------------------------------

# Everything is gone through twice: first it is only said, then done, by the same lines.
doing=no
changes=0
kept=()

change() { # WORDS: says it; true when it is to be done
    changes=$((changes + 1))
    echo "  $*"
    [ $doing = yes ]
}

own() { # KIND THING
    kept+=("$1 $2")
}

place() { # MODE PATH: what comes on standard input becomes that file, whole, if it is not so already
    local text there
    text=$(cat && echo .) # command substitution would drop the last newlines
    own file "$2"
    there=$(cat "$root$2" 2>/dev/null && echo .) || there=""
    if [ "$text" = "$there" ] && [ "$(stat -c %a "$root$2")" = "$1" ]; then return; fi
    if change "write $2"; then
        mkdir -p "$(dirname "$root$2")"
        printf %s "${text%.}" >"$root$2.new"
        chmod "$1" "$root$2.new"
        mv -T "$root$2.new" "$root$2"
    fi
}

boot_file() { # PATH TEXT: whole and on the disk before it takes the old one's place: without it nothing starts any more
    if [ -z "$2" ] && [ "$1" != "${1#"$root"/etc/default/}" ]; then # it was ours alone
        rm -f -- "$1"
        return
    fi
    mkdir -p "$(dirname "$1")"
    printf '%s\n' "$2" >"$1.new"
    sync "$1.new"
    mv -T "$1.new" "$1"
}

remove() { # PATH
    if [ -e "$root$1" ] || [ -L "$root$1" ]; then
        if change "remove $1"; then rm -rf -- "${root:-/.}/${1#/}"; fi
    fi
}

live() { # COMMAND...: for the running system alone
    [ -n "$root" ] || "$@"
}

as_timerd() { # COMMAND...: what others may have written, or answer, is not root's to read
    if [ -z "$root" ] && [ "$(id -u)" = 0 ]; then
        TIMERD_HOME=/var/lib/timerd runuser -u timerd -- "$@"
    else
        TIMERD_HOME=${TIMERD_HOME:-/var/lib/timerd} "$@"
    fi
}

# -- a sheet under way -------------------------------------------------------------------------------------------------

sheet_under_way() {
    local told
    [ -x "$programs/current/bin/timerd" ] || return 1
    told=$(as_timerd timeout 10 "$programs/current/bin/timerd" status --json 2>/dev/null) || return 1 # nobody serves
    case $told in
        *'"state": "idle"'* | *'"state": "done"'* | *'"state": "fault"'*) return 1 ;;
    esac
}

# -- the parts ---------------------------------------------------------------------------------------------------------

system_packages() {
    local package wanted=(python3-venv espeak-ng libgbm1 libdrm2) missing=()
    if system_lgpio; then wanted+=(python3-lgpio); fi
    if [ -n "$root" ]; then
        echo "  (with --root no package is installed; needed there: ${wanted[*]})"
        return
    fi
    for package in "${wanted[@]}"; do
        dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q "ok installed" || missing+=("$package")
    done
    [ ${#missing[@]} -gt 0 ] || return 0
    [ $doing = yes ] || can_be_had "${missing[@]}"
    if change "install the system's packages ${missing[*]}"; then
        apt-get update -q && apt-get install -y -q --no-install-recommends "${missing[@]}"
    fi
}

can_be_had() { # PACKAGES...: by the lists that the system has now; nothing is changed by asking
    local said name
    if said=$(LC_ALL=C apt-get install --simulate --no-install-recommends "$@" 2>&1); then return; fi
    said=$(sed -n 's/^E: //p' <<<"$said" | head -n 1)
    name=$(sed -n 's/^PRETTY_NAME="\(.*\)"$/\1/p' /etc/os-release 2>/dev/null) || name=""
    die "${name:-this system}: $said: $served. Are its lists of packages old? sudo apt-get update"
}

python_minor() { # of Python 3
    python3 -I -c 'import sys; print(sys.version_info.minor)'
}

system_lgpio() { # the package index has no build of it for Python 3.13 and later
    [ "$(python_minor)" -ge 13 ]
}

environment() {
    local version digest name link
    version=$(sed -n 's/^__version__ = "\(.*\)"$/\1/p' "$clone/timerd/__init__.py")
    digest=$({
        python3 --version
        cd "$clone"
        find timerd profiles pyproject.toml firmware/raspberrypi/python.lock -type f ! -name '*.pyc' -print0 |
            LC_ALL=C sort -z | xargs -0 sha256sum
    } | sha256sum | cut -c 1-12)
    name=$version-$digest
    if [ ! -e "$programs/$name/complete" ]; then
        if change "make /opt/timerd/$name: Python's packages by the list of hashes, and timerd"; then
            build "$programs/$name"
        fi
    fi
    if [ $doing = yes ]; then # before anything is served by it
        check_bench "$programs/$name/bin/timerd" || die "this timerd does not take the bench '$bench'"
    fi
    link=$(readlink "$programs/current" 2>/dev/null) || link=""
    if [ "$link" != "$name" ]; then
        if change "let /opt/timerd/current be $name${link:+ (was $link)}"; then
            ln -sfn "$name" "$programs/current.new"
            mv -T "$programs/current.new" "$programs/current"
        fi
    fi
    current=$name
}

check_bench() { # TIMERD
    case $bench_file in
        "$clone"/*) "$1" check "$bench_file" >/dev/null ;; # as trusted as this installer
        *) as_timerd "$1" check "$bench_file" >/dev/null ;;
    esac
}

build() { # DIRECTORY
    local options=()
    if system_lgpio; then options=(--system-site-packages); fi
    rm -rf "$1"
    mkdir -p "$programs"
    python3 -I -m venv "${options[@]}" "$1"
    local pip=("$1/bin/python" -I -m pip install -q --disable-pip-version-check)
    "${pip[@]}" --require-hashes --only-binary :all: -r "$here/python.lock"
    "${pip[@]}" --no-index --no-deps --no-build-isolation "$clone"
    # In place of pip's: nothing in the environment, nor a folder of the user's, has a module of it.
    printf '#!/bin/sh\nexec %q -IB -m timerd "$@"\n' "$1/bin/python" >"$1/bin/timerd"
    chmod 755 "$1/bin/timerd"
    "$1/bin/timerd" --version >/dev/null
    touch "$1/complete"
}

old_environments() {
    local path
    for path in "$programs"/*-*; do
        [ -d "$path" ] && [ "$path" != "$programs/$current" ] && remove "${path#"$root"}"
    done
    return 0
}

the_bench() {
    local file chosen own along
    chosen=$(sed -n 's/^BENCH=//p' "$etc/bench" 2>/dev/null) || chosen=""
    bench=${bench:-$chosen}
    own=/var/lib/timerd/profiles/benches
    along=$(cd "$clone/profiles/benches" && echo *.yaml)
    along=${along//.yaml/}
    [ -n "$bench" ] || die "--bench: which bench is this? There come along: $along"
    [[ $bench =~ ^[a-z0-9-]{1,80}$ ]] ||
        die "--bench: a name is small letters, digits and hyphens; put the bench's file into $own"
    for file in "$root$own/$bench.yaml" "$clone/profiles/benches/$bench.yaml"; do
        if [ -f "$file" ]; then bench_file=$file && return; fi
    done
    die "--bench: there is no bench '$bench' in $own; there come along: $along"
}

usb_pedals() {
    local pedal
    if [ ${#usb[@]} -eq 0 ] && [ -f "$etc/usb-pedals" ]; then mapfile -t usb <"$etc/usb-pedals"; fi
    for pedal in "${usb[@]}"; do
        [[ $pedal =~ ^[0-9a-f]{4}:[0-9a-f]{4}$ ]] ||
            die "--usb-pedal: four and four digits as lsusb tells them, as in 1a2b:3c4d; found '$pedal'"
    done
}

choices() { # kept by an uninstall: they are the printer's own
    if [ "$(cat "$etc/bench" 2>/dev/null)" != "BENCH=$bench" ]; then
        if change "serve the bench '$bench' (/etc/timerd/bench)"; then
            mkdir -p "$etc" && echo "BENCH=$bench" >"$etc/bench"
        fi
    fi
    if [ ${#usb[@]} -gt 0 ] && [ "$(cat "$etc/usb-pedals" 2>/dev/null)" != "$(printf '%s\n' "${usb[@]}")" ]; then
        if change "take the USB foot switches ${usb[*]} (/etc/timerd/usb-pedals)"; then
            mkdir -p "$etc" && printf '%s\n' "${usb[@]}" >"$etc/usb-pedals"
        fi
    fi
}

rules() {
    local pedal
    grep -v '^#PEDAL' "$here/udev.rules"
    for pedal in "${usb[@]}"; do
        sed -n 's/^#PEDAL //p' "$here/udev.rules" | sed "s/VENDOR/${pedal%:*}/; s/PRODUCT/${pedal#*:}/"
    done
}

files() {
    local unit
    for unit in "${units[@]}"; do place 644 "/etc/systemd/system/$unit" <"$here/$unit"; done
    place 644 /etc/systemd/system.conf.d/timerd.conf <"$here/watchdog.conf"
    place 644 /etc/udev/rules.d/70-timerd.rules < <(rules)
    place 755 /usr/local/bin/timerd <"$here/command.sh"
}

users() {
    local who lacking=no
    place 644 /etc/sysusers.d/timerd.conf <"$here/sysusers.conf"
    place 644 /etc/tmpfiles.d/timerd.conf <"$here/tmpfiles.conf"
    for who in timerd timerd-panel; do grep -q "^$who:" "$root/etc/passwd" 2>/dev/null || lacking=yes; done
    if [ $lacking = yes ] && change "make the users and groups timerd and timerd-panel"; then
        systemd-sysusers --root="${root:-/}" timerd.conf
    fi
    if [ ! -d "$root/var/lib/timerd/profiles" ] && change "make /var/lib/timerd for the book and your profiles"; then
        systemd-tmpfiles --root="${root:-/}" --create timerd.conf
    fi
}

services() {
    local unit
    for unit in "${units[@]}"; do
        if [ ! -L "$root/etc/systemd/system/multi-user.target.wants/$unit" ]; then
            if change "start $unit whenever the computer starts"; then
                systemctl --root="${root:-/}" enable --quiet "$unit"
            fi
        fi
    done
    # All may be in place and nothing be served: after an installation that was interrupted, or refused its lines.
    live systemctl is-active --quiet timerd.service || change "start timerd.service now" || true
}

hook=/etc/kernel/postinst.d/z50-raspi-firmware # Debian's: with each kernel it writes the boot files anew, from these:
hook_config=/etc/default/raspi-firmware-custom
hook_words=/etc/default/raspi-extra-cmdline

boot_files() { # install | uninstall
    if grep -qs raspi-firmware-custom "$root$hook" || [ "$1" = uninstall ]; then
        config_txt "$1" "$hook_config" "what is written into config.txt with each kernel"
        cmdline_txt "$1" "$hook_words" "what is written into cmdline.txt with each kernel"
    fi
    if [ ! -f "$boot/config.txt" ]; then
        echo "  (there is no config.txt in ${boot#"$root"}: is this a Raspberry Pi? Its settings are left out)"
        return
    fi
    config_txt "$1" "${boot#"$root"}/config.txt" \
        "lines at rest from power-up, strict release, watchdog, no splash, lamps on the board off"
    [ ! -f "$boot/cmdline.txt" ] ||
        cmdline_txt "$1" "${boot#"$root"}/cmdline.txt" "strict release; a console that is silent, and red where it is not"
}

config_txt() { # install | uninstall, PATH, WORDS
    local text words=$3 there block=""
    there=$(cat "$root$2" 2>/dev/null) || there=""
    [ "$(grep -c "^$begin" <<<"$there")" = "$(grep -c "^$end" <<<"$there")" ] ||
        die "$2: one of the marks '$begin' and '$end' is gone: put it back, or take both away"
    text=$(sed "/^$begin/,/^$end/d" <<<"$there")
    if [ "$1" = install ]; then
        block=$(echo "$begin, by install.sh; put nothing of your own in here" && cat "$here/config.txt" && echo "$end")
        text+=${text:+$'\n'}$block
    else
        words="our part out"
    fi
    # Where it stands whole between what others wrote there, as Debian's hook does, it stands well.
    if [ -n "$block" ] && [[ $there == *"$block"* ]] && [ -f "$root$hook" ]; then return; fi
    if [ "$text" != "$there" ] && change "change $2: $words"; then boot_file "$root$2" "$text"; fi
}

cmdline_txt() { # install | uninstall, PATH, WORDS
    local word text words=$3 kind=word there=() wanted out=()
    [ "$2" != "$hook_words" ] || kind=extra
    [ ! -f "$root$2" ] || [ "$(grep -c . "$root$2")" -le 1 ] ||
        die "$2: it has several lines, and the firmware reads one: mend it, or say --no-boot"
    if [ -f "$root$2" ]; then read -r -a there <"$root$2" || true; fi # the one line that is read may lack its end
    read -r -a wanted <"$here/cmdline.txt"
    for word in "${there[@]}"; do
        was_owned $kind "$word" || out+=("$word") # ours are put on anew, at the end
    done
    if [ "$1" = install ]; then
        for word in "${wanted[@]}" "timerd.lines=$(lines_of "$here/config.txt")"; do
            case " ${out[*]} " in
                *" $word "*) ;;
                *) out+=("$word") && own $kind "$word" ;;
            esac
        done
    else
        words="our part out"
    fi
    text=${out[*]}
    if [ "$text" != "${there[*]}" ] && change "change $2: $words"; then boot_file "$root$2" "$text"; fi
}

lines_of() { # CONFIG.TXT: the kernel takes no notice of this word; bench check sees by it which lines were booted with
    sed -n "s/^gpio=//p" "$1" | sha256sum | cut -c 1-8
}

what_is_no_longer_ours() { # files of an older version that this one does not have
    local kind thing mine
    [ -f "$owned" ] || return 0
    mine=$(printf '%s\n' "${kept[@]}")
    while read -r kind thing; do
        if [ "$kind" = file ] && ! grep -Fxq -- "file $thing" <<<"$mine"; then remove "$thing"; fi
    done <"$owned"
}

remember() { # THINGS...: what is ours, one a line
    mkdir -p "$etc"
    printf '%s\n' "$@" | LC_ALL=C sort -u >"$owned.new"
    mv -T "$owned.new" "$owned"
}

# -- all of it ---------------------------------------------------------------------------------------------------------

install_all() {
    local planned=("${kept[@]}")
    kept=()
    system_packages
    if [ $doing = yes ]; then # before anything is put there: so that it is known whose it is, whatever interrupts this
        mapfile -t before < <(cat "$owned" 2>/dev/null)
        remember "${before[@]}" "${planned[@]}"
    fi
    users
    environment
    choices
    files
    if [ $boot_settings = yes ]; then
        boot_files install
    elif [ -f "$owned" ]; then
        mapfile -t -O ${#kept[@]} kept < <(grep -E '^(word|extra) ' "$owned")
    fi
    what_is_no_longer_ours
    if [ $doing = yes ]; then remember "${kept[@]}"; fi
    services
    if [ $doing = yes ]; then start_anew; fi
    old_environments # the service is off it by now
}

start_anew() {
    live systemctl daemon-reload
    if ! { live udevadm control --reload && live udevadm trigger --subsystem-match=gpio --subsystem-match=input; }; then
        echo "  (udev does not answer: its rules, for pins and foot switches, hold from the next start on)"
    fi
    if sheet_under_way; then
        die "a sheet was begun meanwhile. What is new is served from the next start on: run this again after that sheet"
    fi
    live systemctl restart timerd.service ||
        die "all is in place, but the bench is not served: systemctl status timerd says why"
    live systemctl restart --no-block timerd-panel.service # without a screen it never comes up
}

uninstall_all() {
    local unit kind thing
    for unit in "${units[@]}"; do
        if [ -e "$root/etc/systemd/system/$unit" ] && change "stop $unit, for good"; then
            live systemctl stop "$unit"
            systemctl --root="${root:-/}" disable --quiet "$unit"
        fi
    done
    boot_files uninstall
    if [ -f "$owned" ]; then
        while read -r kind thing; do
            if [ "$kind" = file ]; then remove "$thing" && remove "$thing.new"; fi
        done <"$owned"
    fi
    for thing in "${boot#"$root"}"/{config,cmdline}.txt "$hook_config" "$hook_words"; do
        remove "$thing.new" # of an installation that was interrupted
    done
    remove /opt/timerd
    remove /var/cache/timerd-panel
    remove /etc/timerd/installed
    remove /etc/timerd/installed.new
    if [ $doing = yes ] && [ $changes -gt 0 ]; then
        live systemctl daemon-reload
        live udevadm control --reload || true # there may be no udev
    fi
}

[ -n "$root" ] || [ $dry = yes ] || [ "$(id -u)" = 0 ] || die "root alone may do this: sudo $0 ..."
case $(uname -m) in
    aarch64 | x86_64) ;;
    *) die "this system is $(uname -m): Python's packages are locked for 64 bits: install the 64-bit system" ;;
esac
[ "$(python_minor)" -ge 11 ] || die "this system's Python is older than 3.11: $served"
if sheet_under_way; then die "a sheet is under way: finish it, or give it up; nothing was changed"; fi
if [ $uninstall = no ]; then
    the_bench
    usb_pedals
    work=install_all
else
    work=uninstall_all
fi

echo "this would change:"
$work
if [ $changes = 0 ]; then
    echo "  nothing: all is as it should be"
    exit 0
fi
[ $dry = no ] || exit 0
if [ $yes = no ]; then
    read -r -p "Go on? [y/N] " answer || answer=""
    case $answer in y | Y | yes) ;; *) echo "nothing was changed" && exit 1 ;; esac
fi
echo "changing:"
trap 'live sync' EXIT # the next thing may be the plug
doing=yes changes=0
$work
if [ $uninstall = yes ]; then
    echo "done. Kept: /var/lib/timerd (your profiles and the book), the users timerd and timerd-panel, /etc/timerd"
else
    echo "done. Now: sudo adduser YOU timerd (to operate it), start the computer anew, and say  timerd bench check"
fi
