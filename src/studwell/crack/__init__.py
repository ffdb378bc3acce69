"""Cracks put into the bodies of a joint: where they start, what opens them, their stress intensity at every instant."""
