"""What the lamp guard's board runs from power-up on: pins in, the rules of guard.py, pins out, for ever."""

import time

import machine
import pins
from guard import STARTED_AGAIN, Guard

WATCHDOG_MS = 100
"""The board starts anew, all its pins let go, if the loop has not come round for this long."""


def run():
    """Never returns: an error darkens everything, and then the watchdog starts the board anew, in a fault."""
    outputs = [machine.Pin(number, machine.Pin.OUT, value=0) for number in pins.PASS]
    master = machine.Pin(pins.MASTER, machine.Pin.OUT, value=0)
    led = machine.Pin(pins.LED, machine.Pin.OUT, value=0)
    asks = [machine.Pin(number, machine.Pin.IN, machine.Pin.PULL_DOWN) for number in pins.ASK]
    heartbeat = machine.Pin(pins.HEARTBEAT, machine.Pin.IN, machine.Pin.PULL_DOWN)
    button = machine.Pin(pins.BUTTON, machine.Pin.IN, machine.Pin.PULL_UP)
    again = machine.reset_cause() == machine.WDT_RESET
    guard = Guard([seconds * 1_000_000 for seconds in pins.LONGEST_S], STARTED_AGAIN if again else 0)
    watchdog = machine.WDT(timeout=WATCHDOG_MS)
    lights = range(len(asks))
    before = time.ticks_us()
    try:
        while True:
            now = time.ticks_us()
            asked = 0
            for i in lights:
                if asks[i].value():
                    asked |= 1 << i
            guard.step(time.ticks_diff(now, before), asked, heartbeat.value(), button.value() == 0)
            before = now
            for i in lights:
                outputs[i].value(guard.passed >> i & 1)
            master.value(1 if guard.master else 0)
            led.value(1 if guard.led else 0)
            watchdog.feed()
    finally:
        for output in outputs:
            output.value(0)
        master.value(0)


run()
