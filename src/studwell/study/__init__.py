"""Whole studies over a case's setups."""
