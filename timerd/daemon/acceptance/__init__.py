"""The acceptance of a bench that was built: each pedal, each light, the safelight, the cut-off, on a 12 V lamp.

Decided:

- **The acceptance has no daemon**: it stops and kills its keeper on purpose, and nothing that it lights is a
  sheet's. A keeper that it has stopped goes on by itself after four seconds, whatever became of the acceptance.
"""
