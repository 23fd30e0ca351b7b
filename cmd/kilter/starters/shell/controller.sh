#!/bin/sh
# A controller to begin with: north follows the site alone, and south helps where that is not enough. It needs mbpoll.
#
#   kilter check calm-start --controller \
#     'sh controller.sh {pace} {clock.host} {clock.port} {grid_meter.port} {grid_meter.unit} {south.port} {south.unit}'
#
# Put your own policy into decide, and your own devices' registers below it. kilter probe reads them.
[ $# -eq 7 ] || { echo "found $# arguments, wanted the seven in braces that stand above, for the bench to fill in"; exit 2; }
pace=$1 host=$2 clock=$3 grid_port=$4 grid_unit=$5 south_port=$6 south_unit=$7
poll=10 # seconds from one poll to the next
charge=0 discharge=0 before=0 told=nothing

# decide sets how much south may charge and discharge in W, at a grid power, positive on import, now and a poll ago.
decide() {
	if [ "$1" -gt 500 ] && [ "$2" -gt 500 ]; then # north alone does not get there
		charge=0 discharge=3600
	elif [ "$1" -lt -500 ] && [ "$2" -lt -500 ]; then
		charge=3600 discharge=0
	fi
}

# at asks the device at a port; mbpoll counts addresses from zero with -0.
at() {
	port=$1
	shift
	mbpoll -m tcp -0 -1 -q -o 10 -p "$port" "$host" "$@" 2>/dev/null
}

# signed takes the register out of what mbpoll prints, which is "[40088]: 	65321 (-215)" where it is negative.
signed() { sed -n 's/.*(\(-[0-9]*\)).*/\1/p; t; s/^\[.*\]:[[:space:]]*\([0-9]*\)$/\1/p'; }

while :; do
	# SunSpec model 203 begins at 40070: W is its point 18, with the scale factor at 22, here 0 or 1.
	watts=$(at "$grid_port" -a "$grid_unit" -t 4 -r 40088 | signed)
	scale=$(at "$grid_port" -a "$grid_unit" -t 4 -r 40092 | signed)
	if [ -n "$watts" ] && [ -n "$scale" ]; then
		[ "$scale" -eq 1 ] && watts=$((watts * 10))
		decide "$watts" "$before"
		before=$watts
		[ "$told" = "$charge $discharge" ] || {
			at "$south_port" -a "$south_unit" -t 4 -r 515 -- "$charge" "$discharge" >/dev/null &&
				told="$charge $discharge" && echo "south may charge $charge W and discharge $discharge W"
		}
	fi # or else it tries again at the next poll
	case $pace in
	stepped) at "$clock" -B -t 4:int -r 0 -- $((poll * 1000)) ;; # the reply comes when so many milliseconds have passed
	follow) at "$clock" -t 3:int -r 0 ;;                        # the next poll itself makes time pass
	real) sleep $poll && at "$clock" -t 3:int -r 0 ;;
	x*) sleep "$(echo "$poll ${pace#x}" | awk '{print $1 / $2}')" && at "$clock" -t 3:int -r 0 ;;
	esac >/dev/null || break
done
echo 'the clock has closed: the scenario is over'
