"""What travels between the processes, typed in both directions. The lowest room: the standard library alone."""
