"""A case of our own to break, one line at a time."""

from __future__ import annotations

import pytest

GOOD = """\
[case]
schema = 1
title = "Invented pump"
units = "metric"

[boss]
material = "a356-t6 sand"
outer_diameter = "28 mm"
hole_depth = "15 mm"
thread_depth = "13 mm"
floor_thickness = "6 mm"
hole_end = "flat"
corner_radius = "0.3 mm"
mouth_chamfer = "0.5 mm"

[stud]
thread = "M8x1.25"
property_class = "8.8"
length = "95 mm"
boss_thread_length = "16 mm"
nut_thread_length = "24 mm"
engaged_length = "12 mm"
tip_diameter = "5.5 mm"
tip_length = "2.2 mm"
shank = "full"
shank_diameter = "8 mm"

[[stack]]
name = "gasket"
gasket = "fibre sheet 0.5"
outer_diameter = "24 mm"
inner_diameter = "9 mm"
node = "boss"

[[stack]]
name = "barrel"
material = "a356-t6 sand"
thickness = "60 mm"
outer_diameter = "22 mm"
inner_diameter = "9 mm"
node = "barrel"

[[washer]]
kind = "plain"
size = "M8"

[nut]
kind = "hex"
size = "M8"

[seating]
mode = "bottomed"
torque = "10 N*m"
thread_friction = 0.15
tip_friction = 0.15

[tightening]
torque = "12 lbf*ft"
thread_friction = 0.14
bearing_friction = 0.14

[history]
assembly_temperature = "20 degC"
steps = 10

[[history.point]]
time = "0 min"
label = "assembled"
boss = "20 degC"
barrel = "20 degC"
stud_tip = "20 degC"
stud_top = "20 degC"
nut = "20 degC"

[[history.point]]
time = "10 min"
label = "hot"
boss = "110 degC"
barrel = "180 degC"
stud_tip = "110 degC"
stud_top = "170 degC"
nut = "165 degC"
"""


@pytest.fixture
def good() -> str:
    """The text of a case that is accepted."""
    return GOOD
