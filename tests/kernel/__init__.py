"""A Linux kernel with a simulated GPIO chip, as a process (User-Mode Linux): the keeper on the real character device.

`build.py` builds it, `machine.py` boots it, `guest.py` is its first process, and it runs the tests in `inside/`.
"""
