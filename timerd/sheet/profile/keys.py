"""The keys that a USB foot switch may send, by the names that Linux has for them, and their codes.

Source: Linux, include/uapi/linux/input-event-codes.h, KEY_* and BTN_* in small letters, `left button` for BTN_LEFT.
"""

from __future__ import annotations

_ROWS = {
    1: "esc 1 2 3 4 5 6 7 8 9 0 minus equal backspace tab q w e r t y u i o p leftbrace rightbrace enter leftctrl",
    30: "a s d f g h j k l semicolon apostrophe grave leftshift backslash z x c v b n m comma dot slash rightshift",
    55: "kpasterisk leftalt space capslock f1 f2 f3 f4 f5 f6 f7 f8 f9 f10 numlock scrolllock",
    71: "kp7 kp8 kp9 kpminus kp4 kp5 kp6 kpplus kp1 kp2 kp3 kp0 kpdot",
    87: "f11 f12",
    96: "kpenter rightctrl kpslash sysrq rightalt",
    102: "home up pageup left right end down pagedown insert delete",
    113: "mute volumedown volumeup",
    125: "leftmeta rightmeta",
    163: "nextsong playpause previoussong stopcd",
    183: "f13 f14 f15 f16 f17 f18 f19 f20 f21 f22 f23 f24",
}
KEYS: dict[str, int] = {name: first + k for first, names in _ROWS.items() for k, name in enumerate(names.split())} | {
    "left button": 0x110,
    "right button": 0x111,
    "middle button": 0x112,
}
"""Each key's name with its code."""
