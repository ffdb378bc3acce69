"""Checks of thread geometry, areas, limits, inserts and stripping."""

from math import degrees, pi

import numpy as np
from numpy.typing import ArrayLike

from studwell.data import assumption
from studwell.parts.fastener import strip_load, thread_load_left
from studwell.parts.insert import assembled_length, insert_hole, least_drilled_depth
from studwell.parts.limits import least_external_shear_area, least_internal_shear_area, thread_limits
from studwell.parts.strip import hole_areas, loads_per_pitch, stud_areas
from studwell.parts.thread import (
    axial_travel,
    basic_external_shear_area,
    basic_internal_shear_area,
    helix_angle,
    minor_diameter,
    parse_thread,
    pitch_diameter,
    profile_height,
    root_area,
    root_diameter,
    root_radius,
    stress_area,
    tap_drill,
    unified_stress_area,
)
from studwell.verify.registry import Check, Row, check, printed, relative

# Size: H, d2, D1, d3, stress area, area at d3, helix angle (degrees), a quarter turn.
BASIC_SIZES = {
    "M5": ("0.69282", "4.4804", "4.1340", "4.0185", "14.183", "12.683", "3.2530", "0.200"),
    "M6": ("0.86603", "5.3505", "4.9175", "4.7731", "20.123", "17.894", "3.4046", "0.250"),
    "M8": ("1.08253", "7.1881", "6.6468", "6.4664", "36.609", "32.841", "3.1683", "0.3125"),
    "M10": ("1.29904", "9.0257", "8.3762", "8.1597", "57.990", "52.292", "3.0282", "0.375"),
}
M8 = parse_thread("M8")


def _geometry(size: str) -> Check:
    @check(
        f"thread-geometry-{size.lower()}",
        subject="threads",
        title=f"Basic sizes of {size} coarse",
        source="ISO 68-1, ISO 724, ISO 898-1:2013",
        status="computed",
        tolerance="last place",
    )
    def compare() -> list[Row]:
        thread = parse_thread(size)
        d, p = thread.nominal_diameter, thread.pitch
        found: tuple[tuple[str, ArrayLike, str], ...] = (
            ("height of the profile triangle", profile_height(p), "mm"),
            ("pitch diameter", pitch_diameter(d, p), "mm"),
            ("minor diameter of the internal thread", minor_diameter(d, p), "mm"),
            ("root diameter of the external thread", root_diameter(d, p), "mm"),
            ("tensile stress area", stress_area(thread), "mm2"),
            ("area at the root diameter", root_area(d, p), "mm2"),
            ("helix angle", degrees(float(helix_angle(d, p))), "deg"),
            ("travel in a quarter turn", axial_travel(0.25, p), "mm"),
        )
        return [
            printed(name, figure, float(np.asarray(value)), unit)
            for figure, (name, value, unit) in zip(BASIC_SIZES[size], found, strict=True)
        ]

    return compare


geometry_m5, geometry_m6, geometry_m8, geometry_m10 = map(_geometry, BASIC_SIZES)


@check(
    "stress-area-table",
    subject="threads",
    title="Tensile stress areas as the standard prints them",
    source="ISO 898-1:2013, table of stress areas, public reprints",
    status="confirmed",
    tolerance="last place",
)
def stress_area_table() -> list[Row]:
    """Compare with the printed areas of M5 to M10."""
    table = {"M5": "14.2", "M6": "20.1", "M8": "36.6", "M10": "58.0"}
    return [printed(size, area, stress_area(parse_thread(size)), "mm2") for size, area in table.items()]


@check(
    "unified-stress-area-table",
    subject="threads",
    title="Tensile stress areas of inch threads",
    source="ASME B1.1, table of stress areas",
    status="from memory",
    tolerance="last place",
)
def unified_stress_area_table() -> list[Row]:
    """Compare with the printed areas of three coarse threads."""
    table = {"1/4-20": "0.0318", "5/16-18": "0.0524", "1/2-13": "0.1419"}
    rows = []
    for name, area in table.items():
        thread = parse_thread(name)
        ours = float(unified_stress_area(thread.nominal_diameter, thread.pitch)) / 25.4**2
        rows.append(printed(name, area, ours, "in2"))
    return rows


@check(
    "tap-drill",
    subject="threads",
    title="Tap drills of the coarse series",
    source="ISO 2306, coarse series",
    status="confirmed",
    tolerance="0.05 mm, the step of drills",
)
def tap_drills() -> list[Row]:
    """Compare d - P with the printed drills."""
    table = {"M5": 4.2, "M6": 5.0, "M8": 6.8, "M10": 8.5}
    rows = []
    for size, drill in table.items():
        thread = parse_thread(size)
        ours = float(tap_drill(thread.nominal_diameter, thread.pitch))
        rows.append(Row(size, drill, ours, 0.0501, "mm"))
    return rows


@check(
    "insert-hole",
    subject="threads",
    title="Tapped hole for a wire insert",
    source="ASME B18.29.2M, basic sizes",
    status="from memory",
    tolerance="last place",
)
def insert_holes() -> list[Row]:
    """Compare minor, pitch and major diameters of the oversize thread."""
    table = {
        "M5": ("5.1732", "5.5196", "6.0392"),
        "M6": ("6.2165", "6.6495", "7.2990"),
        "M8": ("8.2706", "8.8119", "9.6238"),
        "M10": ("10.3248", "10.9743", "11.9486"),
    }
    rows = []
    for size, figures in table.items():
        thread = parse_thread(size)
        hole = insert_hole(thread.nominal_diameter, thread.pitch)
        values = (hole.minor_diameter, hole.pitch_diameter, hole.major_diameter)
        for name, figure, value in zip(("minor", "pitch", "major"), figures, values, strict=True):
            rows.append(printed(f"{size}, {name} diameter", figure, float(value), "mm"))
    return rows


@check(
    "insert-depth",
    subject="threads",
    title="Depth to drill and assembled length of an insert, M8, 12 mm long",
    source="ASME metric insert hole data, public reprint of the rules",
    status="confirmed",
    tolerance="last place",
)
def insert_depths() -> list[Row]:
    """Compare both tap rules and the assembled length."""
    shortest, longest = assembled_length(12.0, M8.pitch)
    return [
        printed("least depth, bottoming tap", "17.0", least_drilled_depth(M8, 12.0, True), "mm"),
        printed("least depth, plug tap", "23.5", least_drilled_depth(M8, 12.0, False), "mm"),
        printed("assembled length, shortest", "11.06", float(shortest), "mm"),
        Row("assembled length, longest", 11.375, float(longest), 1e-9, "mm"),
    ]


@check(
    "thread-limits-m8",
    subject="threads",
    title="Limits of size of M8 6g/6H",
    source="ISO 965-1 and ISO 965-2",
    status="from memory",
    tolerance="last place",
)
def limits_m8() -> list[Row]:
    """Compare the eight limits of the mating pair."""
    limits = thread_limits(M8)
    table = {
        "external major": (("7.760", "7.972"), limits.external_major),
        "external pitch": (("7.042", "7.160"), limits.external_pitch),
        "internal minor": (("6.647", "6.912"), limits.internal_minor),
        "internal pitch": (("7.188", "7.348"), limits.internal_pitch),
    }
    return [
        printed(f"{name} diameter, {end}", figure, value, "mm")
        for name, (figures, values) in table.items()
        for end, figure, value in zip(("smallest", "largest"), figures, values, strict=True)
    ]


@check(
    "shear-area-ratios",
    subject="threads",
    title="Shear areas at basic sizes are 3/4 pi D1 Le and 7/8 pi d Le",
    source="FED-STD-H28 equations at basic sizes",
    status="computed",
    tolerance="1e-12; areas 0.01 mm2",
)
def shear_area_ratios() -> list[Row]:
    """Compare the ratios for three pitches and the areas of four engagements."""
    rows = []
    for size in ("M6", "M8", "M10"):
        thread = parse_thread(size)
        d, p = thread.nominal_diameter, thread.pitch
        outer = float(basic_external_shear_area(d, p, 10.0)) / (pi * float(minor_diameter(d, p)) * 10.0)
        inner = float(basic_internal_shear_area(d, p, 10.0)) / (pi * d * 10.0)
        rows.append(Row(f"{size}, external ratio", 0.75, outer, 1e-12, "1"))
        rows.append(Row(f"{size}, internal ratio", 0.875, inner, 1e-12, "1"))
    areas = (
        ("M6", 12.0, 139.04, 197.92),
        ("M8", 8.0, 125.29, 175.93),
        ("M8", 12.0, 187.94, 263.89),
        ("M8", 16.0, 250.58, 351.86),
        ("M10", 15.0, 296.04, 412.33),
    )
    for size, length, outer_area, inner_area in areas:
        thread = parse_thread(size)
        d, p = thread.nominal_diameter, thread.pitch
        name = f"{size}, {length:g} mm engaged"
        rows.append(Row(f"{name}, external", outer_area, float(basic_external_shear_area(d, p, length)), 0.01, "mm2"))
        rows.append(Row(f"{name}, internal", inner_area, float(basic_internal_shear_area(d, p, length)), 0.01, "mm2"))
    return rows


@check(
    "least-shear-area",
    subject="threads",
    title="Least shear areas of M8 6g/6H, 12 mm engaged",
    source="FED-STD-H28; ASME B1.1 appendix B; limits of ISO 965-2",
    status="computed",
    tolerance="0.03 %: the hand figures start from limits rounded to 0.001 mm",
)
def least_shear_areas() -> list[Row]:
    """Compare with the equations worked by hand for the limits of M8."""
    return [
        relative("external", 145.93, least_external_shear_area(M8, 12.0), 3e-4, "mm2"),
        relative("internal", 201.94, least_internal_shear_area(M8, 12.0), 1e-4, "mm2"),
    ]


@check(
    "strip-load",
    subject="threads",
    title="Load that strips 12 mm of M8 out of aluminium, by tensile strength",
    source="FED-STD-H28 area; shear strength 0.6 of tensile, Alexander 1977",
    status="computed",
    tolerance="0.02 %",
)
def strip_loads() -> list[Row]:
    """Compare four tensile strengths."""
    area, ratio = least_internal_shear_area(M8, 12.0), assumption("shear_strength_ratio")
    table = {180: 21810, 230: 27868, 280: 33926, 310: 37561}
    return [
        relative(f"tensile strength {strength} MPa", load, float(strip_load(area, strength, ratio)), 2e-4, "N")
        for strength, load in table.items()
    ]


@check(
    "engagement-for-stud-first",
    subject="threads",
    title="Engagement at which the stud breaks before a hole of 230 MPa aluminium strips, M8",
    source="FED-STD-H28 area; ISO 898-1 tensile strengths; shear strength 0.6 of tensile, Alexander 1977",
    status="computed",
    tolerance="0.1 %",
)
def engagement_for_stud_first() -> list[Row]:
    """Compare the length for classes 8.8 and 10.9."""
    per_length = float(strip_load(least_internal_shear_area(M8, 1.0), 230.0, assumption("shear_strength_ratio")))
    return [
        relative(f"class {name}", length, stress_area(M8) * strength / per_length, 1e-3, "mm")
        for name, strength, length in (("8.8", 800.0, 12.61), ("10.9", 1040.0, 16.39))
    ]


@check(
    "insert-gain",
    subject="threads",
    title="Shear area of an insert's hole over that of a plain M8 hole",
    source="basic sizes of ASME B18.29.2M and FED-STD-H28",
    status="computed",
    tolerance="last place",
)
def insert_gain() -> list[Row]:
    """Compare areas at basic sizes over 12 mm."""
    hole = insert_hole(M8.nominal_diameter, M8.pitch)
    larger = float(basic_internal_shear_area(float(hole.major_diameter), M8.pitch, 12.0))
    plain = float(basic_internal_shear_area(M8.nominal_diameter, M8.pitch, 12.0))
    return [
        printed("area of the insert's hole", "317.46", larger, "mm2"),
        printed("gain", "1.2030", larger / plain, "1"),
    ]


@check(
    "pitch-loads",
    subject="threads",
    title="The list 34, 23, 16, 11, 9, 7 % out of loads on short lengths of thread, cut into pitches",
    source="sinh law of Goodier 1940 and Sopwith 1948 at a spread of 2.4347",
    status="computed",
    tolerance="last place",
)
def pitch_loads() -> list[Row]:
    """Compare six pitches of a load that is given on 90 uneven lengths."""
    edges = 7.5 * np.linspace(0.0, 1.0, 91) ** 1.3
    cuts = np.unique(np.concatenate([edges, 1.25 * np.arange(1, 6)]))
    left = np.asarray(thread_load_left((cuts[-1] - cuts) / cuts[-1], 2.4347))
    shares = 100.0 * loads_per_pitch(cuts, np.diff(left), 1.25).shares
    table = ("34.00", "22.98", "15.80", "11.26", "8.59", "7.36")
    return [
        printed(f"pitch {n}", figure, float(share), "%")
        for n, (figure, share) in enumerate(zip(table, shares, strict=True), 1)
    ]


@check(
    "stripping-sides",
    subject="threads",
    title="Both sides of M8 class 8.8 in 230 MPa aluminium, 12 mm engaged: which strips, and at what load",
    source="FED-STD-H28 areas by basic and by 6g/6H sizes; shear strength 0.6 of tensile, Alexander 1977",
    status="computed",
    tolerance="0.05 %: the hand figures start from limits rounded to 0.001 mm",
)
def stripping_sides() -> list[Row]:
    """Compare four loads: hole and stud, basic and limit sizes."""
    ratio = assumption("shear_strength_ratio")
    hole, stud = hole_areas(M8, 12.0), stud_areas(M8, 12.0)
    loads = (
        ("hole, basic sizes", 36417.0, hole.basic, 230.0),
        ("hole, limit sizes", 27868.0, hole.limits, 230.0),
        ("stud, basic sizes", 90211.0, stud.basic, 800.0),
        ("stud, limit sizes", 70046.0, stud.limits, 800.0),
    )
    return [
        relative(name, load, float(strip_load(area or 0.0, strength, ratio)), 5e-4, "N")
        for name, load, area, strength in loads
    ]


@check(
    "root-radius",
    subject="threads",
    title="Root radius of M8",
    source="ISO 68-1, H/6",
    status="computed",
    tolerance="last place",
)
def root_radii() -> list[Row]:
    """Compare 0.14434 P."""
    return [printed("root radius", "0.1804", float(root_radius(M8.pitch)), "mm")]
