"""Checks of torque against preload."""

from studwell.parts import torque as tq
from studwell.parts.thread import parse_thread, pitch_diameter
from studwell.verify.registry import Row, check, printed, relative

M8 = parse_thread("M8")
D2 = float(pitch_diameter(M8.nominal_diameter, M8.pitch))
BEARING = 10.315  # mm, mean bearing diameter of the worked case
TORQUE = 16_270.0  # N mm, 12 lbf ft rounded


@check(
    "torque-unit",
    subject="torque",
    title="12 lbf ft in N m",
    source="definition of the pound-force and the foot",
    status="computed",
    tolerance="last place",
)
def torque_unit() -> list[Row]:
    """Compare 12 x 0.45359237 x 9.80665 x 0.3048."""
    return [printed("torque", "16.2698", 12.0 * 0.45359237 * 9.80665 * 0.3048, "N m")]


@check(
    "tightening-long-form",
    subject="torque",
    title="Preload of M8 by 16.27 N m, friction 0.08 to 0.20, and the nut factor of each",
    source="Motosh 1976, long form",
    status="computed",
    tolerance="0.5 %, factor last place",
)
def tightening_long_form() -> list[Row]:
    """Compare preloads, and the K = T/(F d) that would give the same."""
    table = {
        0.08: (17243, "0.1179"),
        0.10: (14402, "0.1412"),
        0.12: (12365, "0.1645"),
        0.14: (10832, "0.1878"),
        0.16: (9638, "0.2110"),
        0.20: (7896, "0.2576"),
    }
    rows = []
    for friction, (force, factor) in table.items():
        ours = float(tq.tightening_preload(TORQUE, M8.pitch, D2, friction, BEARING, friction))
        rows.append(relative(f"preload, friction {friction:.2f}", force, ours, 5e-5, "N"))
        rows.append(
            printed(f"nut factor, friction {friction:.2f}", factor, float(tq.nut_factor(TORQUE, ours, 8.0)), "1")
        )
    return rows


@check(
    "tightening-other-forms",
    subject="torque",
    title="Exact and guideline forms at friction 0.14",
    source="inclined plane (Shigley ch. 8); VDI 2230, constants",
    status="from memory",
    tolerance="1 N",
)
def tightening_other_forms() -> list[Row]:
    """Compare both; they lie 0.5 and 0.25 % below the long form."""
    case = (TORQUE, M8.pitch, D2, 0.14, BEARING, 0.14)
    return [
        Row("exact form", 10782.0, float(tq.tightening_preload_exact(*case)), 1.0, "N"),
        Row("guideline form", 10805.0, float(tq.tightening_preload_short(*case)), 1.0, "N"),
    ]


@check(
    "torque-shares",
    subject="torque",
    title="Where the tightening torque goes at friction 0.14",
    source="Motosh 1976, long form",
    status="computed",
    tolerance="last place",
)
def torque_shares() -> list[Row]:
    """Compare the three shares."""
    shares = tq.torque_shares(M8.pitch, D2, 0.14, BEARING, 0.14)
    return [
        printed("pitch", "13.25", 100 * float(shares.pitch), "%"),
        printed("thread", "38.68", 100 * float(shares.thread), "%"),
        printed("bearing", "48.07", 100 * float(shares.bearing), "%"),
    ]


@check(
    "nut-factor-preload",
    subject="torque",
    title="Preload of M8 by the short form, and the torque for 75 % of proof",
    source="Shigley ch. 8; proof load of M8 8.8 from ISO 898-1",
    status="computed",
    tolerance="1 N, 0.01 N m",
)
def nut_factor_preload() -> list[Row]:
    """Compare K 0.15, 0.20, 0.30 at 12 lbf ft, and the torque that K 0.2 asks for 15 900 N."""
    rows = [
        Row(f"nut factor {factor:.2f}", force, float(tq.nut_factor_preload(16_269.8, factor, 8.0)), 1.0, "N")
        for factor, force in ((0.15, 13558.0), (0.20, 10169.0), (0.30, 6779.0))
    ]
    torque = 15_900.0 / float(tq.nut_factor_preload(1.0, 0.2, 8.0)) / 1000.0
    return [*rows, printed("torque for 15 900 N", "25.44", torque, "N m")]
