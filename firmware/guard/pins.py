"""The lamp guard's pins and limits. Written by hardware/generate.py from wiring.yaml: change that."""

ASK = (2, 3, 4)
PASS = (6, 7, 8)
HEARTBEAT = 5
MASTER = 9
BUTTON = 10
LED = 11
LONGEST_S = (660, 660, 330)
