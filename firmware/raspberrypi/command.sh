#!/bin/sh
# timerd for whoever operates this bench: with the home of the bench, unless another one is named.
export TIMERD_HOME="${TIMERD_HOME:-/var/lib/timerd}"
exec /opt/timerd/current/bin/timerd "$@"
