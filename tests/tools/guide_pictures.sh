#!/bin/bash
# Makes the pictures of docs/guide.md anew: the demo job, step by step, in the real window under a
# virtual display.
#   sh tests/tools/guide_pictures.sh FILMQUILT
# Needs Xvfb, xdotool and ImageMagick (sh .ci/set-up tests).
set -eu
filmquilt=$(realpath "$1")
cd "$(dirname "$0")/../.."
to=docs/pictures
mkdir -p "$to"
home=$(mktemp -d)
exec 3<>"$home/display"
Xvfb -displayfd 3 -screen 0 1280x800x24 -nolisten tcp 2>/dev/null &
screen=$!
trap 'kill $window $screen 2>/dev/null; rm -rf "$home"' EXIT
while [ ! -s "$home/display" ]; do sleep 0.2; done
DISPLAY=:$(head -1 "$home/display")
export DISPLAY HOME=$home XDG_DATA_HOME=$home XDG_CONFIG_HOME=$home XDG_STATE_HOME=$home
"$filmquilt" &
window=$!
until xdotool search --name Filmquilt windowfocus 2>/dev/null; do sleep 0.5; done
sleep 8
shot() {
    sleep 2
    import -window root -resize 1000x "$home/shot.png"
    # Few colours keep the pictures small.
    convert "$home/shot.png" -dither None -colors 64 -define png:compression-level=9 "PNG8:$to/$1.png"
}
shot start
xdotool key Escape
step=1
for name in artwork garment film sheets screen print; do
    xdotool key "alt+$step" mousemove 900 790
    shot "$name"
    step=$((step + 1))
done
