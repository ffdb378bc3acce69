"""Bodies and interfaces into a reduced joint, and its nonsmooth solution."""
