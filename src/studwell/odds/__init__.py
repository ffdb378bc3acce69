"""Spread of inputs to the probability of each failure mode, what rules it, and what would narrow it."""
