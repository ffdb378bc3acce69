"""Published and closed-form checks by subject; one registry serves both pytest and the command line.

A check module is one named in CHECK_MODULES. To add checks, write a module here and add its name; a test
compares the list with the disk.
"""

CHECK_MODULES = (
    "threads",
    "inserts",
    "fasteners",
    "tightening",
    "stiffness",
    "springs",
    "settling",
    "materials",
    "workshop",
    "fracture",
    "crack_fe",
    "crack_directions",
    "crack_criteria",
    "elasticity",
    "conduction",
    "plasticity",
    "cycle_jumps",
    "contact",
    "pocket",
    "joint",
    "engagement",
    "floor",
    "odds",
    "review",
)
