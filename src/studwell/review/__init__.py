"""The review of the back-off rule: sweep, mechanisms apart, the smallest back-off with its budget, and a verdict."""
