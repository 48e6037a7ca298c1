"""The hardware. The keeper's modules import nothing else of timerd."""
