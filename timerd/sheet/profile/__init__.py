"""YAML text to values, every fault with its line."""
