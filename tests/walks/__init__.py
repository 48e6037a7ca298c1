"""Seeded random walks, run short in the suite and long in tests/measure/."""
