"""Checks of stud and member stiffness, the joint diagram, and the load along a thread."""

from math import pi

import numpy as np
from scipy.integrate import quad

from studwell.parts.fastener import (
    bolt_stiffness,
    stud_compliance,
    thread_load_ladder,
    thread_load_peak,
    thread_load_shares,
)
from studwell.parts.members import (
    cone_compliance,
    fitted_member_stiffness,
    frustum_end_diameter,
    frustum_stiffness,
    joint_loads,
    load_factor,
    separation_load,
)
from studwell.verify.registry import Row, check, printed, relative


@check(
    "member-stiffness-example",
    subject="stiffness",
    title="Frusta under a 1/2-20 bolt: steel and iron, all steel, the exponential fit, and the bolt",
    source="Shigley, Mechanical Engineering Design 9th ed., example 8-2 (formula seen, results computed)",
    status="computed",
    tolerance="0.5 %",
)
def member_stiffness_example() -> list[Row]:
    """Compare the three frusta and their sum; stiffness in million lbf per inch, lengths in inches."""
    upper = frustum_stiffness(30.0, 0.595, 0.75, 0.5)
    middle = frustum_stiffness(14.5, 0.0775, frustum_end_diameter(0.595, 0.75), 0.5)
    lower = frustum_stiffness(14.5, 0.6725, 0.75, 0.5)
    together = 1.0 / (1.0 / upper + 1.0 / middle + 1.0 / lower)
    return [
        relative("upper frustum", 30.803, float(upper), 5e-3, "Mlbf/in"),
        relative("middle frustum", 285.57, float(middle), 5e-3, "Mlbf/in"),
        relative("lower frustum", 14.150, float(lower), 5e-3, "Mlbf/in"),
        relative("members together", 9.3778, float(together), 5e-3, "Mlbf/in"),
        relative("all steel", 14.638, float(frustum_stiffness(30.0, 0.6725, 0.75, 0.5)) / 2.0, 5e-3, "Mlbf/in"),
        relative(
            "exponential fit",
            14.916,
            float(fitted_member_stiffness(30.0, 0.5, 1.345, 0.78715, 0.62873)),
            5e-3,
            "Mlbf/in",
        ),
        relative("bolt", 3.694, float(bolt_stiffness(pi / 16.0, 0.25, 0.1599, 1.095, 30.0)), 5e-3, "Mlbf/in"),
    ]


@check(
    "member-stiffness-manual",
    subject="stiffness",
    title="Four frusta of steel and iron under a 1/2 in bolt",
    source="solution manual to Shigley, public excerpt",
    status="confirmed",
    tolerance="0.5 %",
)
def member_stiffness_manual() -> list[Row]:
    """Compare each frustum, their sum and the joint constant; million lbf per inch, inches."""
    table = (
        (30.0, 0.5, 0.75, 33.30),
        (14.5, 0.11, 1.327, 173.8),
        (14.5, 0.515, 0.860, 21.47),
        (30.0, 0.095, 0.75, 97.27),
    )
    found = [float(frustum_stiffness(modulus, t, start, 0.5)) for modulus, t, start, _ in table]
    rows = [
        relative(f"frustum {number}", row[3], value, 5e-3, "Mlbf/in")
        for number, (row, value) in enumerate(zip(table, found, strict=True), start=1)
    ]
    members = 1.0 / sum(1.0 / value for value in found)
    rows.append(relative("members together", 10.79, members, 5e-3, "Mlbf/in"))
    rows.append(relative("joint constant with bolt 3.94", 0.267, float(load_factor(3.94, members)), 5e-3, "1"))
    return rows


CONES = (  # tapped, outer diameter, tangent, limit diameter, compliance in 1e-6 mm/N
    (False, 20.0, "0.4477", "22.793", 2.8392),
    (False, 40.0, "0.5538", "25.445", 2.4277),
    (True, 20.0, "0.4631", "34.756", 2.1089),
    (True, 40.0, "0.5969", "41.445", 1.3790),
)


@check(
    "cone-angle",
    subject="stiffness",
    title="Angle of the pressure cone, bearing face 11.6, hole 9, grip 25 mm",
    source="VDI 2230, coefficients",
    status="from memory",
    tolerance="last place",
)
def cone_angle() -> list[Row]:
    """Compare tangents and limit diameters, bolt-and-nut and tapped."""
    rows = []
    for tapped, wide, tangent, limit, _ in CONES:
        cone = cone_compliance(11.6, 9.0, 25.0, wide, 70_000.0, tapped)
        name = f"{'tapped' if tapped else 'nut'}, part {wide:g} mm wide"
        rows.append(printed(f"{name}, tangent", tangent, cone.tangent, "1"))
        rows.append(printed(f"{name}, limit diameter", limit, cone.limit_diameter, "mm"))
    return rows


@check(
    "cone-compliance",
    subject="stiffness",
    title="Compliance of the pressure cone for its own angle, by quadrature of dz/(E A)",
    source="slices of a hollow cone and sleeve in series, quadrature",
    status="computed",
    tolerance="1e-8, and 0.01 % of the worked figures",
)
def cone_compliances() -> list[Row]:
    """Compare the closed form with the integral over the height, cone from one side or both."""
    rows = []
    for tapped, wide, _, _, worked in CONES:
        cone = cone_compliance(11.6, 9.0, 25.0, wide, 70_000.0, tapped)
        path = 25.0 if tapped else 12.5

        def slice_compliance(z: float, wide: float = wide, tangent: float = cone.tangent) -> float:
            outside = min(wide, 11.6 + 2.0 * z * tangent)
            return 4.0 / (pi * (outside**2 - 81.0)) / 70_000.0

        corner = min(path, (wide - 11.6) / (2.0 * cone.tangent))
        total = (quad(slice_compliance, 0.0, corner)[0] + quad(slice_compliance, corner, path)[0]) * 25.0 / path
        name = f"{'tapped' if tapped else 'nut'}, part {wide:g} mm wide"
        rows.append(relative(f"{name}, quadrature", total * 1e6, cone.compliance * 1e6, 1e-8, "1e-6 mm/N"))
        rows.append(relative(f"{name}, worked figure", worked, cone.compliance * 1e6, 1e-4, "1e-6 mm/N"))
    return rows


@check(
    "stud-compliance",
    subject="stiffness",
    title="Compliance of an M8 stud by equivalent lengths, 25 mm free, steel in aluminium",
    source="VDI 2230, coefficients",
    status="from memory",
    tolerance="0.05 %",
)
def stud_compliances() -> list[Row]:
    """Compare the five springs in series and their sum (1e-6 mm/N)."""
    stud = stud_compliance(8.0, 1.25, 25.0, 205_000.0, 70_000.0)
    names = ("free_thread", "nut_core", "nut_thread", "boss_core", "boss_thread", "total")
    figures = (3.7139, 0.5942, 0.3105, 0.5942, 0.7503, 5.9631)
    return [
        relative(name.replace("_", " "), figure, float(getattr(stud, name)) * 1e6, 5e-4, "1e-6 mm/N")
        for name, figure in zip(names, figures, strict=True)
    ]


@check(
    "thread-load-sinh",
    subject="stiffness",
    title="Load on the first of six threads between uniform bars, and the peak over the mean",
    source="Goodier 1940; Sopwith 1948; Yamamoto: sinh law",
    status="computed",
    tolerance="last place",
)
def thread_load_sinh() -> list[Row]:
    """Compare three spreads."""
    rows = []
    for spread, first, peak in ((1.0, "20.59", "1.3130"), (2.0, "29.61", "2.0746"), (3.0, "39.61", "3.0149")):
        rows.append(printed(f"first thread, spread {spread:g}", first, 100 * thread_load_shares(6, spread)[0], "%"))
        rows.append(printed(f"peak over mean, spread {spread:g}", peak, float(thread_load_peak(spread)), "1"))
    return rows


@check(
    "thread-load-list",
    subject="stiffness",
    title="The widely quoted loads of six threads: 34, 23, 16, 11, 9, 7 %",
    source="public page that quotes the list; its running sums are misprinted (55 where 57 belongs)",
    status="confirmed",
    tolerance="last place",
)
def thread_load_list() -> list[Row]:
    """Compare the list with the sinh law at a spread of 2.4347."""
    shares = 100.0 * thread_load_shares(6, 2.4347)
    return [
        printed(f"thread {number}", figure, share, "%")
        for number, (figure, share) in enumerate(zip(("34", "23", "16", "11", "9", "7"), shares, strict=True), 1)
    ]


@check(
    "thread-load-ladder",
    subject="stiffness",
    title="Three discrete threads as stiff as the stud between them, rigid nut",
    source="equilibrium of a spring ladder, by hand",
    status="computed",
    tolerance="1e-12",
)
def thread_load_ladders() -> list[Row]:
    """Compare 5/8, 1/4, 1/8."""
    shares = thread_load_ladder(3, 1.0, 1.0)
    return [
        Row(f"thread {number}", expected, float(share), 1e-12, "1")
        for number, (expected, share) in enumerate(zip((0.625, 0.25, 0.125), shares, strict=True), start=1)
    ]


@check(
    "joint-diagram-formula",
    subject="stiffness",
    title="Preloaded joint under an outside load, to separation and beyond",
    source="Shigley ch. 8",
    status="computed",
    tolerance="0.01 %",
)
def joint_diagram() -> list[Row]:
    """Compare load factor, separation, loads at 8000 N, and the slope after separation."""
    factor = load_factor(167_697.0, 352_209.0)
    apart = float(separation_load(10_000.0, factor))
    closed = joint_loads(10_000.0, factor, 8_000.0)
    beyond = joint_loads(10_000.0, factor, [apart + 1_000.0, apart + 2_000.0])
    return [
        printed("load factor", "0.32255", float(factor), "1"),
        relative("separation load", 14_761.3, apart, 1e-4, "N"),
        relative("bolt at 8000 N", 12_580.4, float(closed.bolt), 1e-4, "N"),
        relative("clamp at 8000 N", 4_580.4, float(closed.clamp), 1e-4, "N"),
        Row("bolt slope after separation", 1.0, float(np.diff(beyond.bolt)[0]) / 1_000.0, 1e-12, "1"),
        Row("clamp after separation", 0.0, float(beyond.clamp[0]), 1e-12, "N"),
    ]


@check(
    "sinh-spread-of-list",
    subject="stiffness",
    title="Spread at which the first of six threads takes 34 %",
    source="sinh law inverted by bisection",
    status="computed",
    tolerance="last place",
)
def sinh_spread() -> list[Row]:
    """Compare 2.4347."""
    low, high = 0.1, 10.0
    while high - low > 1e-9:
        middle = (low + high) / 2.0
        low, high = (middle, high) if thread_load_shares(6, middle)[0] < 0.34 else (low, middle)
    return [printed("spread", "2.4347", low, "1")]
