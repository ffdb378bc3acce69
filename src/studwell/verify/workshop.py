"""Checks of the arithmetic behind the workshop's figures: turns, heat, drills, and oil under a stud."""

from math import pi

import numpy as np

from studwell.parts.insert import hole_excess
from studwell.parts.members import differential_growth
from studwell.parts.pocket import air_cushion_rise, cylinder_give, heated_pocket_pressure, sphere_give
from studwell.parts.thread import axial_travel, minor_diameter, parse_thread, pitch_diameter, turns_for_travel
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
