"""The heart: events in, actions out, by one table of states. No clock, no line, no file.

`machine.Engine` is the machine, `table` the table of states and pedals, `events` what goes in and out, `feet` turns
a pedal's edges into presses, holds and both pedals held.
"""
