"""Compare the setups of a case: each through its whole history, judged and ranked."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

from studwell.case.records import Case, Retighten, Setup
from studwell.data import assumption
from studwell.errors import StudwellError, Unknown
from studwell.history.conduction import SolvedHeat, named_nodes, solve_heat, with_heat
from studwell.history.stages import HistoryResult, live_through
from studwell.joint.bodies import SectionBody, section_bodies
from studwell.joint.build import BodyCache, BuiltJoint, build_joint
from studwell.joint.flowing import flowing_boss
from studwell.parts.fastener import property_class
from studwell.section.layout import lay_out
from studwell.section.seat import SOLVED
from studwell.strength.outcomes import outcomes_of
from studwell.strength.timeline import timeline_of
from studwell.strength.verdict import judge
from studwell.study.cycles import CycleStudy, repeat
from studwell.study.results import Comparison, FailedSetup, SetupResult, rank_key

Progress = Callable[[str, int, int], None]
"""Called with setup name, steps done, steps in all."""

BANDED = (
    "preload",
    "clamp_assembled",
    "clamp_max",
    "clamp_min",
    "clamp_end",
    "stud_tension_max",
    "tip_force_assembled",
    "tip_force_max",
    "tip_gap_min",
    "thread_load_max",
    "floor_stress_max",
    "washer_flat_share_max",
)
THREAD_MODELS = ("layer", "bonded")


def solve_setup(
    setup: Setup,
    *,
    refinement: float = 1.0,
    tip_friction: float = 0.0,
    cache: BodyCache | None = None,
    progress: Callable[[int], None] | None = None,
    band: bool = True,
    like: tuple[BuiltJoint, SolvedHeat | None] | None = None,
) -> SetupResult:
    """Solve one setup through seating, tightening and its heat history, and judge it.

    refinement   : mesh density, 1 = standard
    tip_friction : Coulomb friction of the tip in the section's plane (0: it slides freely there)
    cache        : condensed bodies shared between setups
    progress     : called with the number of steps done
    band         : also solve with the other thread model, for the model band
    like         : a joint whose layout and bodies are the same, and its solved heat, to take them over
    raises Unknown : a seat that this model does not solve; BadMesh, NotConverged: it could not be solved
    """
    start = time.perf_counter()
    cache = {} if cache is None else cache
    bodies, heat = None, None
    if like is not None:
        heat = like[1]
        setup = replace(setup, history=like[0].setup.history, stack=like[0].setup.stack)
    elif setup.history.phases:
        setup, bodies, heat = heated(setup, refinement)
    built = built_joint(
        setup,
        refinement=refinement,
        tip_friction=tip_friction,
        cache=cache,
        bodies=bodies,
        like=None if like is None else like[0],
    )
    if setup.seating.mode == "bottomed" and built.seat.name not in SOLVED:
        raise Unknown(
            f"a driven stud seats on the {built.seat.name}, not on its tip ({built.seat.reason}); "
            "the force there is not known to this version"
        )
    strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter)

    flowing = None
    if setup.inelastic is not None:
        flowing = flowing_boss(setup.inelastic, built.layout, built.bodies, built.joint)

    def lived(variant: Setup, tell: Callable[[int], None] | None = None) -> HistoryResult:
        return live_through(
            variant,
            built.layout,
            built.bodies,
            built.joint,
            built.seat,
            yield_strength=strength.yield_strength,
            progress=tell,
            labels=None if heat is None else heat.phase_ends,
            flowing=flowing,
        )

    history = lived(setup, progress)
    timeline = timeline_of(history)
    elastic_tip = None
    if setup.inelastic is not None:
        elastic_tip = timeline_of(lived(replace(setup, inelastic=None))).forces.tip
    outcomes = outcomes_of(built, timeline, elastic_tip)
    verdict = judge(built, history, timeline)
    values: dict[str, tuple[float, float]] = {}
    models = [setup.stud.thread_model]
    if band:
        for model in THREAD_MODELS:
            if model == setup.stud.thread_model:
                continue
            other_setup = replace(setup, stud=replace(setup.stud, thread_model=model, nut_thread_model=model))
            other = solve_setup(
                other_setup,
                refinement=refinement,
                tip_friction=tip_friction,
                cache=cache,
                band=False,
                like=(built, heat),
            )
            models.append(model)
            for name in BANDED:
                own, theirs = outcomes[name].value, other.outcomes[name].value
                if own is not None and theirs is not None:
                    values[name] = (min(own, theirs), max(own, theirs))
    return SetupResult(
        setup=setup,
        built=built,
        history=history,
        timeline=timeline,
        outcomes=outcomes,
        verdict=verdict,
        band=values,
        band_models=tuple(models),
        equilibrium_residual=float(timeline.forces.balance.max()),
        law_residual=float(timeline.forces.complementarity.max()),
        heat=heat,
        cycles=_cycles(setup, built, history, lived) if band and setup.history.cycles > 1 else None,
        seconds=time.perf_counter() - start,
    )


def _cycles(
    setup: Setup, built: BuiltJoint, history: HistoryResult, lived: Callable[[Setup], HistoryResult]
) -> CycleStudy:
    """Carry a setup's history on to all its cycles, and the same without and with re-tightening where it settles."""
    count = setup.history.cycles
    as_given = repeat(built, history, count)
    untouched = retightened = None
    if setup.settling is not None:
        if setup.retighten is not None:
            untouched = repeat(built, lived(replace(setup, retighten=None)), count)
        if setup.retighten is None or setup.retighten.kind != "first heat":
            retightened = repeat(built, lived(replace(setup, retighten=Retighten("first heat"))), count)
    return CycleStudy(as_given, untouched, retightened)


def heated(setup: Setup, refinement: float = 1.0) -> tuple[Setup, tuple[SectionBody, ...], SolvedHeat]:
    """Return a setup with its heat solved on its own section, its bodies that carry it, and the solution.

    raises Unknown, BadMesh, ValueError : conditions or dimensions that the model does not hold
    """
    named = named_nodes(setup)
    layout = lay_out(named, refinement)
    bodies = section_bodies(named, layout, named.history.node_names)
    heat = solve_heat(named, layout, bodies)
    return (*with_heat(named, bodies, heat), heat)


def built_joint(
    setup: Setup,
    *,
    refinement: float = 1.0,
    tip_friction: float = 0.0,
    cache: BodyCache | None = None,
    bodies: tuple[SectionBody, ...] | None = None,
    like: BuiltJoint | None = None,
) -> BuiltJoint:
    """Return a setup's section and reduced joint with its stud class's strengths; arguments as in solve_setup."""
    strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter)
    if setup.history.phases and like is None and bodies is None:
        setup, bodies, _ = heated(setup, refinement)
    return build_joint(
        setup,
        bodies=bodies,
        yield_strength=strength.yield_strength,
        ultimate_strength=strength.ultimate_strength,
        hardening_strain=assumption("stud_hardening_strain"),
        refinement=refinement,
        tip_friction=tip_friction,
        cache=cache,
        like=like,
    )


def compare(
    case: Case,
    *,
    refinement: float = 1.0,
    band: bool = True,
    progress: Progress | None = None,
) -> Comparison:
    """Solve every setup of a case and rank them.

    A setup that cannot be solved does not stop the others; it is reported with its reason.
    returns : Comparison, best setup first
    """
    start = time.perf_counter()
    cache: BodyCache = {}
    results: list[SetupResult] = []
    failed: list[FailedSetup] = []
    stopped = False
    for setup in case.setups:
        if stopped:
            failed.append(FailedSetup(setup, "stopped before it was solved", "stopped"))
            continue
        steps = setup.history.steps + 1

        def step(done: int, name: str = setup.name, steps: int = steps) -> None:
            if progress is not None:
                progress(name, done, steps)

        try:
            results.append(solve_setup(setup, refinement=refinement, cache=cache, progress=step, band=band))
        except KeyboardInterrupt:
            stopped = True
            failed.append(FailedSetup(setup, "stopped before it was solved", "stopped"))
        except StudwellError as problem:
            failed.append(FailedSetup(setup, problem.line, problem.slug))
        except ValueError as problem:  # dimensions that pass the case's checks and still fit no mesh
            failed.append(FailedSetup(setup, str(problem), "bad-mesh"))
    return Comparison(
        case=case,
        results=tuple(sorted(results, key=rank_key)),
        failed=tuple(failed),
        refinement=refinement,
        seconds=time.perf_counter() - start,
        stopped=stopped,
    )
