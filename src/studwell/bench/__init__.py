"""Measured times, memory and ratios on this machine, beside their targets."""
