"""What a solved joint takes for granted, in plain words: what the model leaves out, and what these setups leave out."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from studwell.case.records import Setup
from studwell.strength.teeth import MODEL_REASONS

ALWAYS = (
    "One stud on its own axis: no bending, no neighbours, no helix. A hexagon is a ring, meshed teeth are rings.",
    "Every touching face opens and closes as it is pressed; washers, nut and the stud beside its shank never yield.",
    "Strains are small; the boss's neighbours (walls, ribs, casting faults) are not there.",
)


def assumptions(setups: Sequence[Setup]) -> list[str]:
    """Return what results of these setups take for granted, most general first; who is meant where setups differ."""
    lines = list(ALWAYS)
    for holds, text in _CONDITIONS:
        chosen = [setup.name for setup in setups if holds(setup)]
        if chosen:
            lines.append(text if len(chosen) == len(setups) else f"{text} ({'; '.join(chosen)})")
    for model in dict.fromkeys(setup.stud.thread_model for setup in setups):
        lines.append(f"Threads as '{model}', {MODEL_REASONS[model]}.")
    return lines


_CONDITIONS: tuple[tuple[Callable[[Setup], bool], str], ...] = (
    (
        lambda s: s.inelastic is None,
        "The boss stays elastic: a stress above its yield strength is an elastic figure. There the real one is lower, "
        "part of the wedge is lost, and the metal beside it carries more.",
    ),
    (
        lambda s: s.inelastic is not None,
        "Boss or layers yield and creep as [inelastic] says; punch and split of the floor are judged by stress all the same.",
    ),
    (
        lambda s: not s.history.phases,
        "Temperatures are given at named places and straight between them, along the stud, the stack and in time.",
    ),
    (
        lambda s: bool(s.history.phases),
        "Heat is solved on the same section, with constant conductivities, and contacts that conduct alike whatever presses.",
    ),
    (
        lambda s: s.settling is None,
        "Nothing settles: no embedding of faces, no gasket that creeps, no spring that sets; [settling] states them.",
    ),
    (lambda s: s.pocket.fluid is None, "The hole under the tip is empty and dry: nothing is shut in there."),
    (
        lambda s: s.pocket.fluid is not None,
        "How tightly the liquid under the tip is shut in is only the case's word.",
    ),
    (
        lambda s: s.crack is None or s.crack.flaw is None,
        "No flaw is stated: the casting is judged without cracks or pores but for the scatter of its strength.",
    ),
    (lambda s: s.pressure is None, "No cylinder pressure acts on the clamped faces."),
    (lambda s: s.boss.own_mesh is not None, "The boss is the user's own mesh; its dimensions are read off that."),
)
"""When a line holds, and the line."""
