"""Write a commented starter case for a thread and a nut: valid as it stands, every figure to be replaced."""

from __future__ import annotations

import math
import re

from studwell.case.model import SCHEMA
from studwell.case.overrides import Origin
from studwell.case.stock import find_nut, find_plain_washer, find_thread, nut_sizes, thread_size
from studwell.data import assumption, table
from studwell.parts.fastener import property_class
from studwell.parts.insert import insert_length, least_drilled_depth, set_down_range
from studwell.parts.material import stock_material
from studwell.parts.repair import tap_chamfer
from studwell.parts.strip import hole_areas, stud_first_length
from studwell.parts.thread import Thread, minor_diameter, stress_area
from studwell.parts.washer import stock_plain_washer_names
from studwell.units import in_unit, read

PRELOAD_SHARE = 0.5
"""Preload of the starter case as a share of the proof load of its class or grade. An invented choice."""

INCH = 25.4
METRIC_STEPS = (0.05, 0.1, 0.5, 1.0)
INCH_STEPS = (0.005 * INCH, 0.005 * INCH, 0.02 * INCH, INCH / 16)
"""mm to which dimensions are rounded: of depths, of details, of lengths, of castings."""

ENGAGED = 1.75
"""Engaged thread of the starter case in diameters, more where the thread would strip first. An invented choice."""

SPARE_ENGAGED = 1.03
"""Over the length from which the stud breaks before the thread strips in the hot boss. An invented choice."""

BOSS, HOT_BOSS = "a356-t6 sand", 110.0
"""Boss of the starter case and the hottest that its history makes it, degC. Invented choices."""

NUT_FACTOR = 0.2
"""Torque over preload and diameter, for the starter's torque. Common practice, no source."""


def starter_case(thread: str = "M8", nut: str = "hex") -> str:
    """Return the text of a starter case.

    thread         : str, a thread in stock whose nut and washer are stocked too ("M8", "M10x1.5", "5/16-18 UNC"); for an
                     inch thread all of it is in inch units, with a grade of inch bolting
    nut            : str, "hex" or "domed"
    returns        : str, TOML that `case_from_text` reads; every dimension is invented from the thread's size
    raises BadCase : thread, nut or washer not in stock
    """
    asked = Origin("starter case", merged={"stud": {"thread": thread}, "nut": {"kind": nut}})
    if nut not in table("nuts"):
        raise asked.bad(("nut", "kind"), "not one of the choices", '"hex" or "domed"', value=nut)
    found = find_thread(thread, ("stud", "thread"), asked)
    size = thread_size(found)
    _check_stocked(thread, size, nut, asked)
    nut_row = find_nut(nut, size, ("stud", "thread"), asked)
    washer = find_plain_washer(size, ("stud", "thread"), asked)
    d, pitch = found.nominal_diameter, found.pitch
    inch = found.form == "unified"
    finest, fine, medium, coarse = INCH_STEPS if inch else METRIC_STEPS
    chamfer, corner = (0.02 * INCH, 0.012 * INCH) if inch else (0.5, 0.3)
    gasket = 0.5
    grade = "SAE 5" if inch else "8.8"
    # a bottoming tap leaves the hole's last pitches without full thread, with an insert of 1.5 d or without: the tip fills them
    left = tap_chamfer(found, "bottoming")
    tip_length = _up(left, fine)
    low, high = (float(each) for each in set_down_range(pitch))
    set_down = max(_up(low, fine), chamfer)
    hole = least_drilled_depth(found, insert_length(d, 1.5), bottoming_tap=True)
    hole = _up(max(hole, _needed_thread(found, grade) + set_down + tip_length), medium)
    thread_depth = _down(hole - left, finest)
    engaged = _down(hole - tip_length - set_down, medium)
    barrel, head = _up(5 * d, coarse), _up(2.5 * d, coarse)
    room = nut_row.usable_thread_depth
    above = nut_row.height + 2 * pitch if room is None else (nut_row.height + room) / 2
    length = _up(hole + gasket + barrel + head + washer.thickness + above - 0.5 * medium, medium)
    preload = PRELOAD_SHARE * float(table("property_classes")["classes"]["rows"][grade]["proof_stress"])
    preload *= stress_area(found)
    torque = NUT_FACTOR * preload * d
    system = "inch" if inch else "metric"

    def length_of(value: float) -> str:
        return f"{round(value / INCH, 5):g} in" if inch else f"{round(value, 4):g} mm"

    def torque_of(value: float) -> str:
        return f"{_two(in_unit(value, 'torque', system))} {'lbf*ft' if inch else 'N*m'}"

    bounds = [float(in_unit(each, "length", system)) for each in (low, high)]
    text = _TEXT.format(
        schema=SCHEMA,
        thread=found.name,
        size=size,
        nut=nut,
        boss=BOSS,
        boss_outer=length_of(_up(3.5 * d, coarse)),
        hole=length_of(hole),
        thread_depth=length_of(thread_depth),
        floor=length_of(_up(0.75 * d, medium)),
        chamfer=length_of(chamfer),
        set_down=length_of(set_down),
        usual=f"{_two(bounds[0])} to {_two(bounds[1])} {'in' if inch else 'mm'}",
        length=length_of(length),
        boss_thread=length_of(_up(tip_length + engaged + 1.5 * pitch, medium)),
        nut_thread=length_of(_up(above + d, medium)),
        engaged=length_of(engaged),
        tip_diameter=length_of(min(0.7 * d, _down(float(minor_diameter(d, pitch)) - 2.0 * corner, fine))),
        corner=length_of(corner),
        tip_length=length_of(tip_length),
        shank=length_of(d),
        layer_outer=length_of(_up(2.75 * d, medium)),
        layer_inner=length_of(_up(1.1 * d, fine)),
        barrel=length_of(barrel),
        head=length_of(head),
        seating=torque_of(0.5 * torque),
        tightening=torque_of(torque),
        clamp=f"{_two(in_unit(0.3 * preload, 'force', system))} {'lbf' if inch else 'kN'}",
        preload=f"{_two(in_unit(preload, 'force', system))} {'lbf' if inch else 'kN'}",
        grade=grade,
        units=system,
    )
    lines = text.split("\n")
    if inch:
        lines = [line if line.startswith(_EXAMPLES) else _in_inches(line) for line in lines]
    return "\n".join(_aligned(line) for line in lines)


def _check_stocked(thread: str, size: str, nut: str, asked: Origin) -> None:
    """Refuse a thread whose nut of that kind, or whose washer, is not stocked, and tell what is. Raises BadCase."""
    washers = stock_plain_washer_names()
    fit = {kind: [each for each in nut_sizes(kind) if each in washers] for kind in table("nuts")}
    if size in fit[nut]:
        return
    missing = f"no {nut} nut of {size}" if size not in nut_sizes(nut) else f"no plain washer of {size}"
    allowed = f"with a {nut} nut a thread of {', '.join(fit[nut])}"
    others = [kind for kind, sizes in fit.items() if size in sizes]
    if others:
        allowed += f"; or this thread with a {' or '.join(others)} nut"
    raise asked.bad(("stud", "thread"), f"{missing} in stock", allowed, value=thread, slug="unknown-name")


def _needed_thread(thread: Thread, grade: str) -> float:
    """Engaged thread with the tip on the floor, mm: enough for the stud to break first, backed off a quarter turn too."""
    strongest = stress_area(thread) * property_class(grade, thread.nominal_diameter).ultimate_strength
    strength = stock_material(BOSS).ultimate_strength
    assert strength is not None
    per_length = hole_areas(thread, 1.0).smaller
    first = stud_first_length(strongest, per_length, strength.at(HOT_BOSS), assumption("shear_strength_ratio"))
    return max(ENGAGED * thread.nominal_diameter, SPARE_ENGAGED * float(first) + 0.25 * thread.pitch)


_EXAMPLES = "# Quantities are texts"
_METRIC = re.compile(r'"(-?[\d.]+) (mm|N\*m|kN|degC|MPa)"')
"""A quantity that the text has in metric units whatever the thread is."""

_KINDS = {
    "mm": ("length", "in"),
    "N*m": ("torque", "lbf*ft"),
    "kN": ("force", "lbf"),
    "degC": ("temperature", "degF"),
    "MPa": ("pressure", "psi"),
}


def _in_inches(line: str) -> str:
    """A line of the text with what it has in metric units in inch units, an option's comment in its column."""
    made = _METRIC.sub(_in_inch_units, line)
    option, mark, comment = made.partition(" # ")
    return f"{option.rstrip():<38} # {comment}" if made != line and mark else made


def _in_inch_units(found: re.Match[str]) -> str:
    """The same quantity in inch units: temperatures to a degree, everything else to two digits, being invented."""
    kind, unit = _KINDS[found[2]]
    value = float(in_unit(read(found[0].strip('"'), kind), kind, "inch"))
    return f'"{value:.0f} {unit}"' if kind == "temperature" else f'"{_two(value)} {unit}"'


def _aligned(line: str) -> str:
    """Return a line with its comment, if it follows a key, in the comments' own column."""
    key, mark, comment = line.partition(" # ")
    return f"{key.rstrip():<38} # {comment}" if mark and not line.startswith("#") else line


def _up(value: float, step: float) -> float:
    return math.ceil(round(value / step, 6)) * step


def _down(value: float, step: float) -> float:
    return math.floor(round(value / step, 6)) * step


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
units = "{units}"                       # of the tables on screen: "metric" or "inch"

[boss]                                 # the casting round the hole
material = "{boss}"
outer_diameter = "{boss_outer}"
hole_depth = "{hole}"                  # mouth face to the end of the full drill diameter
thread_depth = "{thread_depth}"              # full thread, from the mouth face
floor_thickness = "{floor}"               # what is left under the lowest point of the hole
hole_end = "flat"                      # "flat", "radiused", or "cone" with cone_angle = "118 deg"
corner_radius = "{corner}"
mouth_chamfer = "{chamfer}"               # or mouth_counterbore_diameter and mouth_counterbore_depth
# insert = {{ length = "1.5 d", set_down = "{set_down}" }}  # a wire thread insert; usual is {usual} down

[stud]
thread = "{thread}"
property_class = "{grade}"
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
torque = "{tightening}"                     # or preload = "{preload}"
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
# zone = "boss"                        # "2 mm": only that near the hole's corner, faster; sound while yielding stays inside
# layers = ["barrel", "head"]          # of the stack, each as a whole; gaskets have their own curves
# creep = false                        # true: they creep at heat too, by data good for orders of magnitude only

# Each setup takes everything above and changes only what it names.

[setup."bottomed"]

[setup."backed off"]
seating = {{ mode = "backed off", back_off = "0.22 turn", counted_from = "first contact" }}
"""
