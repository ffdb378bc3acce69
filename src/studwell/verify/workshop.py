"""Checks of the arithmetic behind the workshop's figures: turns, heat, drills, and oil under a stud."""

from math import pi

import numpy as np

from studwell.parts.insert import hole_excess
from studwell.parts.members import differential_growth
from studwell.parts.pocket import air_cushion_rise, cylinder_give, heated_pocket_pressure, sphere_give
from studwell.parts.repair import floor_left, hole_drill, needed_depths, point_depth
from studwell.parts.thread import axial_travel, minor_diameter, parse_thread, pitch_diameter, turns_for_travel
from studwell.parts.threadlocker import bond_torque
from studwell.verify.registry import Check, Row, check, printed, relative

DIFFERENCE, HEATING = 10e-6, 150.0  # 1/K between aluminium and steel; K


def _turn_check(size: str, quarter: str, ratio: str, degrees: str) -> Check:
    @check(
        f"quarter-turn-{size.lower()}",
        subject="workshop",
        title=f"A quarter turn of {size} against the differential growth of 10 to 30 mm, 150 K",
        source="pitch of ISO 261; linear thermal expansion",
        status="computed",
        tolerance="last place",
    )
    def compare() -> list[Row]:
        pitch = parse_thread(size).pitch
        growth = differential_growth(DIFFERENCE, np.array([10.0, 15.0, 20.0, 25.0, 30.0]), HEATING)
        travel = float(axial_travel(0.25, pitch))
        rows = [
            printed(f"growth of {length} mm", figure, float(value), "mm")
            for length, figure, value in zip(
                (10, 15, 20, 25, 30), ("0.0150", "0.0225", "0.0300", "0.0375", "0.0450"), growth, strict=True
            )
        ]
        return [
            printed("travel of a quarter turn", quarter, travel, "mm"),
            *rows,
            printed("ratio at 20 mm", ratio, travel / float(growth[2]), "1"),
            printed("turn that equals it", degrees, 360.0 * float(turns_for_travel(growth[2], pitch)), "deg"),
        ]

    return compare


quarter_turn_m6 = _turn_check("M6", "0.2500", "8.33", "10.80")
quarter_turn_m8 = _turn_check("M8", "0.3125", "10.42", "8.64")
quarter_turn_m10 = _turn_check("M10", "0.3750", "12.50", "7.20")


@check(
    "least-back-off",
    subject="workshop",
    title="Back-off that clears all the growth of a 20 mm hole, 150 K, M8: an upper bound",
    source="linear thermal expansion over pitch",
    status="computed",
    tolerance="last place",
)
def least_back_off() -> list[Row]:
    """Compare the angle, and how much larger a quarter turn is."""
    turns = float(turns_for_travel(differential_growth(DIFFERENCE, 20.0, HEATING), 1.25))
    return [
        printed("angle", "8.64", 360.0 * turns, "deg"),
        printed("a quarter turn over it", "10.4", 0.25 / turns, "1"),
    ]


@check(
    "insert-drill",
    subject="workshop",
    title="A 21/64 in drill against the insert hole of M8",
    source="basic minor diameter of ASME B18.29.2M",
    status="computed",
    tolerance="last place",
)
def insert_drill() -> list[Row]:
    """Compare the drill and its excess over the basic minor diameter."""
    drill = 25.4 * 21.0 / 64.0
    return [
        printed("drill", "8.3344", drill, "mm"),
        printed("excess", "0.064", float(hole_excess(drill, 8.0, 1.25)), "mm"),
    ]


@check(
    "drilling-depths",
    subject="workshop",
    title="Drill, depth and floor of an M8 insert 12 mm long in a boss 24 mm high",
    source="public reprint of ASME metric insert hole data; cone of 118 deg; ISO 2306",
    status="computed",
    tolerance="last place",
)
def drilling_depths() -> list[Row]:
    """Compare drills, both depths, the drill's point and what is left under it."""
    thread = parse_thread("M8")
    drill = hole_drill(thread, insert=True)
    tapped, bottoming = needed_depths(thread, "bottoming", 12.0, 12.0)
    _, plug = needed_depths(thread, "plug", 12.0, 12.0)
    point = point_depth(drill.metric, 118.0)
    left = floor_left(24.0, bottoming, point, 0.5)
    return [
        printed("drill of the insert hole", "8.3", drill.metric, "mm"),
        printed("its inch drill", "8.334", drill.inch, "mm"),
        printed("tap drill of the stud's own thread", "6.8", hole_drill(thread, insert=False).metric, "mm"),
        printed("full thread to tap", "14.5", tapped, "mm"),
        printed("depth, bottoming tap", "17.0", bottoming, "mm"),
        printed("depth, plug tap", "23.5", plug, "mm"),
        printed("drill's point", "2.494", point, "mm"),
        printed("floor under the point", "4.506", left.under_point, "mm"),
        Row("the same less 0.5 mm", 4.006, -1.0 if left.least is None else left.least, 5e-4, "mm"),
    ]


@check(
    "bond-torque",
    subject="workshop",
    title="Torque that breaks a bond of 9 MPa on 80 % of 12 mm of M8",
    source="shear strength on the cylinder of the pitch diameter, as ISO 10123 defines it",
    status="computed",
    tolerance="0.01 %",
)
def bond_torques() -> list[Row]:
    """Compare 9 MPa pi d2^2/2 times 12 mm times 0.8 with d2 = 7.1881 mm."""
    return [relative("torque", 7012.4, float(bond_torque(parse_thread("M8"), 12.0, 9.0, 0.8)), 1e-4, "N*mm")]


@check(
    "fully-held-stud",
    subject="workshop",
    title="Stress of a steel stud held fully while aluminium grows round it, 150 K",
    source="sigma = E da dT; yield strength of class 8.8 from ISO 898-1",
    status="computed",
    tolerance="last place",
)
def fully_held_stud() -> list[Row]:
    """Compare the stress and its share of 640 MPa: the most that one heat could do."""
    stress = 205_000.0 * float(differential_growth(DIFFERENCE, 1.0, HEATING))
    return [printed("stress", "307.5", stress, "MPa"), printed("share of yield", "48", 100 * stress / 640.0, "%")]


@check(
    "oil-pocket",
    subject="workshop",
    title="Pressure of oil shut in under a stud, 150 K: rigid, cylindrical and spherical pocket",
    source="volume balance with Lame's cylinder and sphere, Timoshenko & Goodier; oil values typical",
    status="computed",
    tolerance="last place",
)
def oil_pocket() -> list[Row]:
    """Compare pockets (radius 4 in aluminium of radius 10), the air cushion, and the push on the stud."""
    oil = (7e-4, 1500.0, 21.5e-6)
    shape = (4.0, 10.0, 70_000.0, 0.33)
    rows = [
        printed(name, figure, float(heated_pocket_pressure(*oil, give, HEATING)), "MPa")
        for name, figure, give in (
            ("rigid", "142.99", 0.0),
            ("cylinder", "133.38", cylinder_give(*shape)),
            ("sphere", "136.55", sphere_give(*shape)),
        )
    ]
    push = [100.0 * pi / 4.0 * float(diameter(8.0, 1.25)) ** 2 for diameter in (pitch_diameter, minor_diameter)]
    return [
        *rows,
        printed("heating that fills 10 % of air", "157", float(air_cushion_rise(0.1, 7e-4, 21.5e-6)), "K"),
        printed("push of 100 MPa on the pitch circle, M8", "4058", push[0], "N"),
        printed("push of 100 MPa on the minor circle, M8", "3470", push[1], "N"),
    ]


@check(
    "oil-fixed-volume",
    subject="workshop",
    title="Oil in a fixed volume warmed from 70 to 120 degF",
    source="public handbook page on fluid power: bulk modulus 300 000 psi, 0.00046 per degF",
    status="confirmed",
    tolerance="1 psi; 0.1 %",
)
def oil_fixed_volume() -> list[Row]:
    """Compare 6900 psi, and the rise per kelvin of a stiffer oil."""
    psi = 6.894757e-3
    first = float(heated_pocket_pressure(0.00046, 300_000.0, 0.0, 0.0, 50.0))
    second = float(heated_pocket_pressure(0.00046 * 1.8, 260_000.0 * psi, 0.0, 0.0, 1.0))
    return [
        Row("pressure", 6900.0, first, 1.0, "psi"),
        relative("rise per kelvin", 1.484, second, 1e-3, "MPa"),
    ]
