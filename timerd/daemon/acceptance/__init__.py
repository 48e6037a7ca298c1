"""The acceptance of a bench that was built: each pedal, each light, the safelight, the cut-off, on a 12 V lamp."""
