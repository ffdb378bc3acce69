"""What the columns, words and damage modes of tables and pages mean, in plain words."""

from __future__ import annotations

COLUMNS = (
    (
        "Rank",
        "1 is the best. Setups go by their largest known damage margin, then by how many damage modes are unknown, then by "
        "their other margins.",
    ),
    (
        "Verdict",
        "safe: every damage mode is known and below its limit. unknown: none of the known ones fails, but some are not known, "
        "which is no pass. fails: some known damage mode is at its limit or above.",
    ),
    ("Governed by", "the damage mode with the largest known margin: what gives first, as far as is known."),
    ("Margin", "load over capacity at the worst moment. 1 is the limit, smaller is better; it is no permission."),
    ("Modes unknown", "how many modes this model, or these data, cannot judge; each says why under its setup."),
    (
        "Hold",
        "torque that the nut sends down the stud while it is tightened, over the torque that holds the stud in the boss. At 1 "
        "the stud turns with the nut: a back-off is turned away, a wedge grows.",
    ),
    (
        "Clamp, assembled (on screen: clamp built)",
        "force that holds the stack together once the nut is tight, before any heat; at the lowest clamped face.",
    ),
    (
        "Clamp, most and least",
        "largest and smallest clamp in the whole history; the least decides whether a gasket leaks.",
    ),
    ("Tip force, most", "largest force of the stud's tip on the hole's floor, the wedge; 0 where the tip stays free."),
    ("Thread load, most", "largest load that the thread in the boss carries: stud tension plus tip force."),
    ("Tip gap, least", "smallest distance between tip and floor in the whole history; 0 where they touch."),
    (
        "Floor stress, most",
        "largest first principal stress averaged under the fillet of the hole's floor, elastic unless [inelastic] is given.",
    ),
)
"""Columns of the ranked table, in order."""

MODES = {
    "false seat": "a domed nut closes on the stud's end before it clamps: stud beyond the nut's face over usable thread",
    "leak": "clamp that a gasket, the cylinder or the case's own limit needs, over the least clamp that is left",
    "boss thread strip": "the thread in the boss shears off",
    "insert thread strip": "the hole's thread round a wire thread insert shears off",
    "nut thread strip": "the thread between stud and nut shears off",
    "floor breakthrough": "drill or tap comes through the floor in the repair that is planned",
    "stud proof": "stud tension over the proof load of its class",
    "stud yield": "tension with torsion over the yield strength in the stud's weakest length",
    "stud break": "tension with torsion over the tensile strength of the stud's class",
    "bearing pressure": "pressure under washer or nut over what the uppermost layer stands",
    "tip crushing": "pressure of the tip over what floor or tip stand: part of the wedge is lost, nothing breaks",
    "washer flat": "worst force on spring washers over the load at which they are flat and spring no more",
    "floor punch": "the tip shears a plug out of the floor",
    "floor split": "the floor bends under the tip and splits from its underside",
    "wall burst": "a liquid shut in under the tip bursts the boss round it",
    "seat split": "a driven taper or run-out bursts the boss round it",
    "seat crushing": "a driven taper or run-out crushes the metal beside it",
    "insert turning": "the stud takes the insert along when it turns",
    "hold": "the stud turns with the nut: torque sent down over torque that holds",
    "boss crack (once)": "the boss cracks in one history, by the largest of the views under 'Cracks'",
    "boss crack (repeated)": "the boss cracks when the history comes back again and again",
    "stud fatigue": "the stud's thread cracks when the history comes back again and again",
}
"""Mode -> what happens."""

WORDS = (
    ("damage, function", "a damage mode breaks or leaks; a function mode only spoils what a part is for."),
    ("bottomed, backed off", "driven against its stop and left there; turned back from there, so that the tip is free."),
    ("wedge", "the force between a driven stud and what stops it: the floor pushes the stud against its own thread."),
    ("worst moment", "when load over capacity is largest; seating and tightening have no time, the rest is told from the "
     "assembled joint on."),
    ("band", "lowest and highest value over the models of the thread that were compared: how much the choice matters."),
    ("unbounded", "nothing is left to carry the load, such as no clamp at all; it counts as failed."),
    ("?, unknown", "not known to this model or from these data; never a pass. 'none': the setup has no such part."),
)  # fmt: skip
"""Other words of the tables."""
