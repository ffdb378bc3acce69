"""Write a commented starter case for a thread and a nut: valid as it stands, every figure to be replaced."""

from __future__ import annotations

import math

from studwell.case.model import SCHEMA
from studwell.case.overrides import Origin
from studwell.case.stock import find_nut, find_plain_washer, find_thread, thread_size
from studwell.data import table
from studwell.parts.insert import set_down_range
from studwell.parts.thread import minor_diameter, stress_area

PRELOAD_SHARE = 0.5
"""Preload of the starter case as a share of the proof load of class 8.8. An invented choice."""

NUT_FACTOR = 0.2
"""Torque over preload and diameter, for the starter's torque. Common practice, no source."""


def starter_case(thread: str = "M8", nut: str = "hex") -> str:
    """Return the text of a starter case.

    thread         : str, a thread in stock whose nut and washer are stocked too ("M8", "M10x1.5", "5/16-18 UNC")
    nut            : str, "hex" or "domed"
    returns        : str, TOML that `case_from_text` reads; every dimension is invented from the thread's size
    raises BadCase : thread, nut or washer not in stock
    """
    asked = Origin("starter case", merged={"stud": {"thread": thread}, "nut": {"kind": nut}})
    if nut not in table("nuts"):
        raise asked.bad(("nut", "kind"), "not one of the choices", '"hex" or "domed"', value=nut)
    found = find_thread(thread, ("stud", "thread"), asked)
    size = thread_size(found)
    nut_row = find_nut(nut, size, ("stud", "thread"), asked)
    washer = find_plain_washer(size, ("stud", "thread"), asked)
    d, pitch = found.nominal_diameter, found.pitch
    chamfer, gasket, corner = 0.5, 0.5, 0.3
    tip_length, engaged = _up(1.75 * pitch, 0.1), _up(1.5 * d, 0.5)
    hole = _up(tip_length + engaged + chamfer + 0.2, 0.5)
    barrel, head = _up(5 * d, 1), _up(2.5 * d, 1)
    room = nut_row.usable_thread_depth
    above = nut_row.height + 2 * pitch if room is None else (nut_row.height + room) / 2
    length = _up(hole + gasket + barrel + head + washer.thickness + above - 0.25, 0.5)
    low, high = (float(each) for each in set_down_range(pitch))
    preload = PRELOAD_SHARE * float(table("property_classes")["classes"]["rows"]["8.8"]["proof_stress"])
    preload *= stress_area(found)
    torque = NUT_FACTOR * preload * d / 1000
    text = _TEXT.format(
        schema=SCHEMA,
        thread=found.name,
        size=size,
        nut=nut,
        boss_outer=_mm(_up(3.5 * d, 1)),
        hole=_mm(hole),
        thread_depth=_mm(hole - tip_length + 0.2),
        floor=_mm(_up(0.75 * d, 0.5)),
        chamfer=_mm(chamfer),
        set_down=_mm(min(_down(hole - tip_length - engaged, 0.1), _up(low, 0.1))),
        usual=f"{_two(low)} to {_mm(float(f'{high:.2g}'))}",
        length=_mm(length),
        boss_thread=_mm(_up(tip_length + engaged + 1.5 * pitch, 0.5)),
        nut_thread=_mm(_up(above + d, 0.5)),
        engaged=_mm(engaged),
        tip_diameter=_mm(min(0.7 * d, _down(float(minor_diameter(d, pitch)) - 2.0 * corner, 0.1))),
        corner=_mm(corner),
        tip_length=_mm(tip_length),
        shank=_mm(d),
        layer_outer=_mm(_up(2.75 * d, 0.5)),
        layer_inner=_mm(_up(1.1 * d, 0.1)),
        barrel=_mm(barrel),
        head=_mm(head),
        seating=f"{_two(0.5 * torque)} N*m",
        tightening=f"{_two(torque)} N*m",
        clamp=f"{_two(0.3 * preload / 1000)} kN",
    )
    return "\n".join(_aligned(line) for line in text.split("\n"))


def _aligned(line: str) -> str:
    """Return a line with its comment, if it follows a key, in the comments' own column."""
    key, mark, comment = line.partition(" # ")
    return f"{key.rstrip():<38} # {comment}" if mark and not line.startswith("#") else line


def _up(value: float, step: float) -> float:
    return math.ceil(round(value / step, 6)) * step


def _down(value: float, step: float) -> float:
    return math.floor(round(value / step, 6)) * step


def _mm(value: float) -> str:
    return f"{round(value, 4):g} mm"


def _two(value: float) -> str:
    return f"{float(f'{value:.2g}'):g}"


_TEXT = """\
# A stud in a blind hole: starter case. Every figure is invented from the thread's size:
# replace each with your own measurement before you trust a result.
# Quantities are texts with a unit: "8 mm", "5/16 in", "12 lbf*ft", "10 N*m", "110 degC", "0.22 turn".
# `studwell stock` lists the materials, threads, nuts, washers, springs and gaskets by name; docs/keys.md lists every key.

[case]
schema = {schema}
title = "Starter case, {thread}"
notes = "Invented figures."
units = "metric"                       # of the tables on screen: "metric" or "inch"

[boss]                                 # the casting round the hole
material = "a356-t6 sand"
outer_diameter = "{boss_outer}"
hole_depth = "{hole}"                  # mouth face to the end of the full drill diameter
thread_depth = "{thread_depth}"              # full thread, from the mouth face
floor_thickness = "{floor}"               # what is left under the lowest point of the hole
hole_end = "flat"                      # "flat", "radiused", or "cone" with cone_angle = "118 deg"
corner_radius = "{corner}"
mouth_chamfer = "{chamfer}"               # or mouth_counterbore_diameter and mouth_counterbore_depth
# insert = {{ length = "1.5 d", set_down = "{set_down}" }}  # a wire thread insert; usual is {usual} down, in a deeper hole

[stud]
thread = "{thread}"
property_class = "8.8"
length = "{length}"
boss_thread_length = "{boss_thread}"         # from the tip, chamfer included
nut_thread_length = "{nut_thread}"
engaged_length = "{engaged}"               # full threads in the boss when the tip is on the floor
tip_diameter = "{tip_diameter}"
tip_length = "{tip_length}"                # chamfered point below the first full thread
shank = "full"                         # or "waisted", thinner than the thread's root
shank_diameter = "{shank}"
thread_model = "layer"                 # "layer" (threads give a little), "grooves" (meshed teeth, slower), "bonded" (rigid)
# nut_thread_model = "layer"           # of the nut's thread, where it is not modelled as the boss's is

[[stack]]                              # from the boss upwards, everything below the washers
name = "base gasket"
gasket = "fibre sheet 0.5"
outer_diameter = "{layer_outer}"             # of the ring that carries the load round this stud
inner_diameter = "{layer_inner}"
node = "boss"                          # whose temperature it follows

[[stack]]
name = "barrel"
material = "a356-t6 sand"
thickness = "{barrel}"
outer_diameter = "{layer_outer}"
inner_diameter = "{layer_inner}"
node = "barrel"

[[stack]]
name = "head"
material = "a356-t6 sand"
thickness = "{head}"
outer_diameter = "{layer_outer}"
inner_diameter = "{layer_inner}"
node = "head"

[[washer]]                             # from the stack upwards, everything below the nut
kind = "plain"                         # or "spring", with parallel and series
size = "{size}"

[nut]
kind = "{nut}"                           # "hex" or "domed"
size = "{size}"

[seating]                              # how the stud was put into its hole
mode = "bottomed"                      # or "backed off", with back_off = "0.22 turn" and counted_from
torque = "{seating}"
thread_friction = 0.15
tip_friction = 0.15
lock_torque = "0 N*m"                  # or threadlocker = "medium", cured = true, threadlocker_fill = 0.8

[tightening]                           # how the nut was tightened
torque = "{tightening}"                     # or preload = "9 kN"
thread_friction = 0.14
bearing_friction = 0.14

[pocket]                               # the closed space under the tip
contents = "empty"                     # or "vented", "oil", "water", "uncured threadlocker", "own fluid"; a liquid needs
# fill = 1.0                           # share of the pocket, 0 to 1
# fill_at = "as fitted"                # or "first contact": in when the tip first touches, before any backing off
# seal = "sealed"                      # or "leaking" with leak_time = "10 min", or "vented"

[history]                              # temperatures in time, straight lines between the points
assembly_temperature = "20 degC"
steps = 60

[[history.point]]
time = "0 min"
label = "assembled"
boss = "20 degC"
barrel = "20 degC"
head = "20 degC"
stud_tip = "20 degC"
stud_top = "20 degC"
nut = "20 degC"

[[history.point]]
time = "10 min"
label = "hot"
boss = "110 degC"
barrel = "180 degC"
head = "180 degC"
stud_tip = "110 degC"
stud_top = "170 degC"
nut = "165 degC"

[[history.point]]
time = "90 min"
label = "cold soak"
boss = "-15 degC"
barrel = "-15 degC"
head = "-15 degC"
stud_tip = "-15 degC"
stud_top = "-15 degC"
nut = "-15 degC"

[limits]
minimum_clamp = "{clamp}"

# [repair]                             # tolerances: without them a breakthrough is unknown, a false seat judged as drawn
# drill_depth_tolerance = "0.5 mm"     # by which a hole drilled by hand may end too deep
# tap = "bottoming"                    # or "plug"
# stud_length_tolerance = "0.5 mm"
# stack_tolerance = "0.3 mm"
# least_floor = "3 mm"                 # what must remain under the hole

# [review]                             # `studwell backoff`: the rule under review, in place of the data's figures
# rule = "0.22 turn"                   # a bit less than a quarter turn: common practice, no source
# chip = "0.05 mm"                     # what may lie under the tip

# [crack]                              # without it no flaw is judged, and how often heat comes back is not known
# flaw = "0.5 mm"                      # a starting flaw at the worst place: porosity, a scratch
# inspection_size = "1 mm"             # what an inspection is sure to find
# cycles = 1000                        # how often the history comes back
# surface_factor = 0.8                 # of the boss's fatigue strength
# residual_stress = "20 MPa"           # in the boss's surface, tension positive
# failure_probability = 0.001          # that the weakest link of the casting may not exceed
# stud_thread = "rolled before heat treatment"  # or "rolled after heat treatment"

# [inelastic]                          # without it all bodies stay elastic but the stud's shank
# zone = "2 mm"                        # of the boss round the hole's corner; "boss": all of it, several times the time
# layers = ["barrel", "head"]          # of the stack, each as a whole; gaskets have their own curves
# creep = false                        # true: they creep at heat too, by data good for orders of magnitude only

# Each setup takes everything above and changes only what it names.

[setup."bottomed"]

[setup."backed off"]
seating = {{ mode = "backed off", back_off = "0.22 turn", counted_from = "first contact" }}
"""
