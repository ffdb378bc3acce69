"""Checks of what judges cracks and fatigue: weight functions, growth life, rainflow, weakest link, multiaxial cycle."""

from math import pi, sqrt

import numpy as np

from studwell.fem.space import Space
from studwell.mesh.blocks import Block, build
from studwell.parts.bore_crack import bore_crack_intensity, bore_crack_places
from studwell.parts.crack import crack_growth_cycles, kirsch_stress
from studwell.parts.fatigue import sines_swing, thread_endurance
from studwell.parts.growth import GrowthLaw, count_cycles, growth_life
from studwell.parts.weakest_link import effective_volume, failure_probability, needed_strength
from studwell.verify.registry import Row, check, printed, relative

METRE = 1000.0


def _two_cracks(ratio: float, points: int = 48) -> float:
    stress = kirsch_stress(1.0, bore_crack_places(1.0, ratio, points), 1.0)
    return float(bore_crack_intensity(1.0, ratio, stress, 2, points)) / sqrt(pi * ratio / METRE)


@check(
    "bore-cracks",
    subject="fracture",
    title="Two radial cracks at a hole in a plate pulled one way, from the stress without cracks alone",
    source="Bowie 1956; Newman 1971, NASA TN D-6376; figures to four places by an integral equation of dislocations",
    status="computed",
    tolerance="0.1 %, twice as near at twice the points",
)
def bore_cracks() -> list[Row]:
    """Compare K / (s sqrt(pi l)) for short to long cracks, and what finer points change."""
    table = {0.05: 3.0417, 0.1: 2.7866, 0.2: 2.4131, 0.25: 2.2735, 0.5: 1.8328, 1.0: 1.4722, 2.0: 1.2446, 10.0: 1.0493}
    rows = [
        relative(f"crack of {ratio:g} radii", figure, _two_cracks(ratio), 1e-3, "1") for ratio, figure in table.items()
    ]
    finest = [_two_cracks(0.5, n) for n in (24, 48, 96)]
    rows.append(
        Row(
            "change with 96 points over that with 48",
            0.25,
            (finest[2] - finest[1]) / (finest[1] - finest[0]),
            0.05,
            "1",
        )
    )
    return rows


@check(
    "bore-cracks-limits",
    subject="fracture",
    title="Radial cracks at a hole: a very short one is an edge crack at the peak stress, a very long pair one straight crack",
    source="Koiter 1965: 1.1215 times the peak of 3; Irwin 1957: a straight crack over hole and both cracks",
    status="computed",
    tolerance="0.5 %; 0.1 %",
)
def bore_cracks_limits() -> list[Row]:
    """Compare both ends of the range, and one long crack with a straight one of its length and the hole's."""
    edge = _two_cracks(1e-3) / 3.0
    long = _two_cracks(100.0) / sqrt(1.01)
    one = float(bore_crack_intensity(1.0, 200.0, kirsch_stress(1.0, bore_crack_places(1.0, 200.0), 1.0), 1)) / sqrt(
        pi * 101.0 / METRE
    )
    return [
        relative("short, over the peak stress", 1.1215, edge, 5e-3, "1"),
        relative("long pair, over sqrt(pi (l + R))", 1.0, long, 1e-3, "1"),
        relative("long single one, over that of half its length and the hole's", 1.0, one, 5e-3, "1"),
    ]


@check(
    "growth-life",
    subject="fracture",
    title="Histories from 0.5 to 5 mm, summed over a curve of stress intensities and counted cycles",
    source="Paris & Erdogan 1963, integrated; two equal cycles a history halve the life",
    status="computed",
    tolerance="0.05 %",
)
def growth_by_histories() -> list[Row]:
    """Compare with the closed form, with two cycles a history, and where a threshold stops the smaller of two cycles."""
    sizes = np.geomspace(0.5, 5.0, 40)
    full = 1.12 * 60.0 * np.sqrt(pi * sizes / METRE)
    law = GrowthLaw(1e-11, 3.0, 1.0, 20.0)
    closed = float(crack_growth_cycles(1e-11, 3.0, 1.12, 60.0, 0.5, 5.0))
    once = growth_life(law, sizes, np.stack([0 * full, full]), 0.5).histories
    twice = growth_life(law, sizes, np.stack([0 * full, full, 0 * full, full]), 0.5).histories
    small = np.stack([0 * full, full, 0 * full, 0.1 * full])
    stopped = growth_life(GrowthLaw(1e-11, 3.0, 1.0, 20.0, threshold=1.0), sizes, small, 0.5).histories
    tough = 1.12 * 60.0 * sqrt(pi * 3.0 / METRE)
    broken = growth_life(law, sizes, np.stack([0 * full, full]), 0.5, toughness=tough)
    return [
        relative("one cycle a history", closed, once or np.nan, 5e-4, "1"),
        relative("two cycles a history", closed / 2.0, twice or np.nan, 5e-4, "1"),
        relative("a small cycle below the threshold", closed, stopped or np.nan, 5e-4, "1"),
        relative("size at the toughness", 3.0, broken.end, 0.02, "mm"),
    ]


@check(
    "rainflow",
    subject="fracture",
    title="Cycles of the history -2, 1, -3, 5, -1, 3, -4, 4, -2",
    source="ASTM E1049-85, example of rainflow counting",
    status="confirmed",
    tolerance="exact",
)
def rainflow_counts() -> list[Row]:
    """Compare the count of every range, and of the history repeated end to end, whose largest cycle is whole."""
    history = [-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0]
    printed_counts = {3.0: 0.5, 4.0: 1.5, 6.0: 0.5, 8.0: 1.0, 9.0: 0.5}
    found = count_cycles(history)
    rows = [
        Row(f"cycles of range {size:g}", count, float(found.counts[found.ranges == size].sum()), 0.0, "1")
        for size, count in printed_counts.items()
    ]
    whole = count_cycles(history, repeated=True)
    rows.append(Row("cycles in all", 4.0, float(found.counts.sum()), 0.0, "1"))
    rows.append(
        Row("repeated: cycles of the whole range 9", 1.0, float(whole.counts[whole.ranges == 9.0].sum()), 0.0, "1")
    )
    rows.append(Row("repeated: cycles in all", 4.0, float(whole.counts.sum()), 0.0, "1"))
    return rows


@check(
    "weakest-link",
    subject="fracture",
    title="Effective volume and failure of a pulled and of a bent bar, over the points of a mesh",
    source="Weibull 1939: V for even tension, V / (2 (m + 1)) for pure bending",
    status="computed",
    tolerance="1e-9; bending 0.2 %",
)
def weakest_links() -> list[Row]:
    """Compare a bar 20 x 4 mm of 1 mm thickness, modulus 10, and the probability at the scale itself."""
    mesh = build([Block(np.array([[0.0, -2.0], [20.0, -2.0], [20.0, 2.0], [0.0, 2.0]]), (4, 24), "bar")])
    space = Space(mesh, axisymmetric=False)
    volume, modulus = 80.0, 10.0
    even = np.full(space.weights.shape, 120.0)
    bent = 120.0 * space.points[..., 1] / 2.0
    top = float(bent.max())
    scaled = effective_volume(bent, space.weights, modulus) * (top / 120.0) ** modulus
    need = needed_strength(even, space.weights, modulus, 1000.0, 0.01)
    return [
        relative("pulled: effective volume", volume, effective_volume(even, space.weights, modulus), 1e-9, "mm3"),
        relative("bent: effective volume", volume / 22.0, scaled, 2e-3, "mm3"),
        relative(
            "pulled at the scale of its own volume: probability",
            1.0 - np.exp(-1.0),
            failure_probability(even, space.weights, modulus, 120.0, volume),
            1e-9,
            "1",
        ),
        relative(
            "strength needed for 1 in 100",
            0.01,
            failure_probability(even, space.weights, modulus, need, 1000.0),
            1e-9,
            "1",
        ),
    ]


@check(
    "sines",
    subject="fatigue",
    title="The multiaxial cycle: reversed and pulsating tension, torsion, and steady pressure",
    source="Sines 1955 with the mean's coefficient by Goodman 1899; von Mises",
    status="computed",
    tolerance="1e-12",
)
def sines() -> list[Row]:
    """Compare the amplitude at the limit in four cycles, fatigue strength 60 and tensile strength 240 MPa."""

    def limit(low: tuple[float, ...], high: tuple[float, ...]) -> float:
        return 1.0 / sines_swing(np.array([low, high]), 60.0, 240.0).ratio

    return [
        Row("reversed tension: amplitude", 60.0, limit((0, 0, -1, 0), (0, 0, 1, 0)), 60e-12, "MPa"),
        Row(
            "pulsating tension: amplitude",
            60.0 / (1.0 + 60.0 / 240.0),
            limit((0, 0, 0, 0), (0, 0, 2, 0)),
            60e-12,
            "MPa",
        ),
        Row("reversed torsion: amplitude", 60.0 / sqrt(3.0), limit((0, 0, 0, -1), (0, 0, 0, 1)), 60e-12, "MPa"),
        Row(
            "pulsating torsion: amplitude, no mean", 60.0 / sqrt(3.0), limit((0, 0, 0, 0), (0, 0, 0, 2)), 60e-12, "MPa"
        ),
    ]


@check(
    "thread-endurance",
    subject="fatigue",
    title="Endurance of rolled M8 and M10 threads",
    source="VDI 2230, sigma_ASV = 0.85 (150/d + 45), times 2 - Fm/F0.2 rolled after heat treatment",
    status="from memory",
    tolerance="last place",
)
def endurance() -> list[Row]:
    """Compare both makes at a mean of 0.6 of the yield load, and a life of 2e5 cycles."""
    after = "rolled after heat treatment"
    return [
        printed("M8, before", "54.19", thread_endurance("10.9", 8.0, 0.6).long_life, "MPa"),
        printed("M10, before", "51.00", thread_endurance("10.9", 10.0, 0.6).long_life, "MPa"),
        printed("M8, after", "75.86", thread_endurance("10.9", 8.0, 0.6, after).long_life, "MPa"),
        printed("M8, before, 2e5 cycles", "116.7", thread_endurance("8.8", 8.0, 0.6, None, 2e5).at_cycles, "MPa"),
    ]
