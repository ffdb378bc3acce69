"""Compare the setups of a case: each through its whole history, judged and ranked."""

from __future__ import annotations

import multiprocessing
import os
import signal
import time
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace

import numpy as np
from threadpoolctl import threadpool_limits

from studwell.case.fingerprint import same_heat_key
from studwell.case.records import Case, Pocket, Retighten, Setup
from studwell.crack.submodel import WeightCache
from studwell.data import assumption
from studwell.errors import NotConverged, StudwellError
from studwell.history.conduction import SolvedHeat, named_nodes, solve_heat, with_heat
from studwell.history.stages import HistoryResult, live_through
from studwell.joint.bodies import SectionBody, section_bodies
from studwell.joint.build import BodyCache, BuiltJoint, build_joint
from studwell.joint.flow_zones import flowing_bodies
from studwell.parts.fastener import property_class
from studwell.section.layout import lay_out
from studwell.strength.outcomes import outcomes_of
from studwell.strength.pocket import pocket_outcomes
from studwell.strength.recovery import SpaceCache
from studwell.strength.ring_cracks import ring_histories
from studwell.strength.teeth import thread_outcomes
from studwell.strength.timeline import timeline_of
from studwell.strength.verdict import judge
from studwell.study.cycles import CycleStudy, repeat
from studwell.study.results import Comparison, FailedSetup, SetupResult, rank_key
from studwell.study.thread_band import OtherModels, other_models, with_band

Progress = Callable[[str, int, int], None]
"""Called with setup name, steps done, steps in all."""

Heated = tuple[Setup, tuple[SectionBody, ...], SolvedHeat]
"""A setup whose history holds the solved temperatures, its bodies that carry them, and the solution."""

HeatCache = dict[str, Heated]
"""Solved heat by the key of `same_heat_key`: setups that differ in settling or yielding alone share it."""

STOPPED = "stopped before it was solved"

OF_SEAT = ("floor_stress_max", "floor_split_max", "thread_load_max", "tip_force_max")
"""Outcomes that are told of a seat that is not the tip beside those of one that is."""


def solve_setup(
    setup: Setup,
    *,
    refinement: float = 1.0,
    tip_friction: float = 0.0,
    cache: BodyCache | None = None,
    progress: Callable[[int], None] | None = None,
    band: bool = True,
    like: tuple[BuiltJoint, SolvedHeat | None] | None = None,
    heats: HeatCache | None = None,
    models: bool = True,
    fields: bool = True,
    spaces: SpaceCache | None = None,
    weights: WeightCache | None = None,
) -> SetupResult:
    """Solve one setup through seating, tightening and its heat history, and judge it.

    refinement   : mesh density, 1 = standard
    tip_friction : Coulomb friction of the tip in the section's plane (0: it slides freely there)
    cache        : condensed bodies shared between setups
    progress     : called with the number of steps done
    band         : also solve what stands beside a setup: other thread models, many cycles, an empty pocket
    like         : a joint whose layout and bodies are the same, and its solved heat, to take them over
    heats        : solved heat shared between setups, of one mesh density
    models       : False leaves the other thread models out of that
    fields       : keep whole displacement fields, which pictures need
    spaces       : of bodies, shared between setups
    weights      : solved cracks, shared between setups
    raises Unknown : a seat that this model does not solve; BadMesh, NotConverged: it could not be solved
    """
    start = time.perf_counter()
    cache = {} if cache is None else cache
    given, bodies, heat = setup, None, None
    if like is not None:
        heat = like[1]
        setup = replace(setup, history=like[0].setup.history, stack=like[0].setup.stack)
    elif setup.history.phases:
        setup, bodies, heat = _shared_heat(setup, refinement, {} if heats is None else heats)
    built = built_joint(
        setup,
        refinement=refinement,
        tip_friction=tip_friction,
        cache=cache,
        bodies=bodies,
        like=None if like is None else like[0],
        fields=fields,
    )
    strength = property_class(setup.stud.property_class, setup.stud.thread.nominal_diameter)

    flowing = None
    if setup.inelastic is not None:
        flowing = flowing_bodies(setup.inelastic, built.layout, built.bodies, built.joint)

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
    outcomes = outcomes_of(built, timeline, elastic_tip) | pocket_outcomes(built, history, timeline)
    outcomes |= thread_outcomes(built, timeline)
    emptied = None
    if history.liquid is not None and band:
        empty = timeline_of(lived(replace(setup, pocket=Pocket("empty"))))
        emptied = outcomes_of(built, empty, elastic_tip)
    verdict = judge(built, history, timeline, *ring_histories(built, timeline, weights), spaces)
    result = SetupResult(
        setup=setup,
        built=built,
        history=history,
        timeline=timeline,
        outcomes=outcomes,
        verdict=verdict,
        band={},
        band_models=(setup.stud.thread_model,),
        equilibrium_residual=float(timeline.forces.balance.max()),
        law_residual=float(timeline.forces.complementarity.max()),
        heat=heat,
        emptied=emptied,
        on_tip=_on_tip(setup, built, refinement, tip_friction, cache) if band and like is None else None,
        unset_clamp=unset_clamp(setup, lived) if band else None,
        cycles=_cycles(setup, built, history, lived) if band and setup.history.cycles > 1 else None,
        seconds=time.perf_counter() - start,
    )
    if not (band and models):
        return result
    options = {"refinement": refinement, "tip_friction": tip_friction, "cache": cache, "heats": heats}
    result = with_band(result, other_models(solve_setup, given, (built, heat), options))
    return replace(result, seconds=time.perf_counter() - start)


def _on_tip(
    setup: Setup, built: BuiltJoint, refinement: float, tip_friction: float, cache: BodyCache
) -> dict[str, float | None] | None:
    """Outcomes of OF_SEAT of a setup driven with the same torque onto its tip; None where its seat is the tip or no drive.

    As if the hole's and the stud's thread left the tip its way. None too if that has no solution.
    """
    if built.seat.by_tip or setup.seating.mode != "bottomed":
        return None
    ends = {"flat": "tip on floor", "cone": "tip on cone"}
    on_tip = replace(setup.seating, seat=ends.get(setup.boss.hole_end, "tip on radius"))
    named = replace(setup, seating=on_tip, crack=None)
    try:
        other = solve_setup(named, refinement=refinement, tip_friction=tip_friction, cache=cache, band=False)
    except (StudwellError, ValueError):
        return None
    return {name: other.value(name) for name in OF_SEAT}


def unset_clamp(setup: Setup, lived: Callable[[Setup], HistoryResult]) -> np.ndarray | None:
    """Return the clamp (steps,) N of a setup's run if its springs did not set; None where none sets, or unsolved.

    lived : setup -> its history, on the joint of the setup itself
    """
    settling = setup.settling
    if settling is None or not settling.spring_set:
        return None
    try:
        return lived(replace(setup, settling=replace(settling, spring_set=None))).run_forces.clamp
    except NotConverged:
        return None


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


def heated(setup: Setup, refinement: float = 1.0) -> Heated:
    """Return a setup with its heat solved on its own section, its bodies that carry it, and the solution.

    raises Unknown, BadMesh, ValueError : conditions or dimensions that the model does not hold
    """
    named = named_nodes(setup)
    layout = lay_out(named, refinement)
    bodies = section_bodies(named, layout, named.history.node_names)
    heat = solve_heat(named, layout, bodies)
    return (*with_heat(named, bodies, heat), heat)


def _shared_heat(setup: Setup, refinement: float, heats: HeatCache) -> Heated:
    """Return what `heated` does, from the setups before if one of them had the same heat."""
    key = same_heat_key(setup)
    if key not in heats:
        heats[key] = heated(setup, refinement)
    other, bodies, heat = heats[key]
    return replace(setup, history=other.history, stack=other.stack), bodies, heat


def built_joint(
    setup: Setup,
    *,
    refinement: float = 1.0,
    tip_friction: float = 0.0,
    cache: BodyCache | None = None,
    bodies: tuple[SectionBody, ...] | None = None,
    like: BuiltJoint | None = None,
    fields: bool = True,
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
        fields=fields,
    )


class Bands:
    """The other thread models of setups, solved in order in a second process; `take` hands over what it has solved.

    Without a second core, or where that process is lost, each is left to the first process. The numbers are the same.
    """

    def __init__(self) -> None:
        self._pool: ProcessPoolExecutor | None = None
        self._orders: dict[str, Future[OtherModels]] = {}

    def __enter__(self) -> Bands:
        return self

    def __exit__(self, *problem: object) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)

    def order(self, setup: Setup, refinement: float) -> None:
        """Ask for a setup's other thread models."""
        if (os.cpu_count() or 1) < 2:
            return
        if self._pool is None:
            method = "fork" if "fork" in multiprocessing.get_all_start_methods() else "spawn"
            context = multiprocessing.get_context(method)
            self._pool = ProcessPoolExecutor(1, context, _ignore_interrupts)
        self._orders[setup.name] = self._pool.submit(_others, setup, refinement)

    def take(self, setup: Setup) -> OtherModels | None:
        """Return what was ordered for a setup, waiting for it; None if nothing was, or it could not be solved."""
        order = self._orders.pop(setup.name, None)
        if order is None:
            return None
        try:
            return order.result()
        except (BrokenProcessPool, StudwellError, ValueError):
            return None


_bodies: BodyCache = {}
_heats: HeatCache = {}
"""What the second process has condensed and heated already; empty in the first one."""


def _ignore_interrupts() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the first process hears them and ends this one


def _others(setup: Setup, refinement: float) -> OtherModels:
    with threadpool_limits(limits=1):
        return other_models(solve_setup, setup, None, {"refinement": refinement, "cache": _bodies, "heats": _heats})


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
    heats: HeatCache = {}
    weights: WeightCache = {}
    results: dict[str, SetupResult] = {}
    failed: list[FailedSetup] = []
    stopped = False
    with Bands() as bands:
        for setup in case.setups if band else ():
            bands.order(setup, refinement)
        for setup in case.setups:
            if stopped:
                failed.append(FailedSetup(setup, STOPPED, "stopped"))
                continue
            steps = setup.history.steps + 1

            def step(done: int, name: str = setup.name, steps: int = steps) -> None:
                if progress is not None:
                    progress(name, done, steps)

            try:
                results[setup.name] = solve_setup(
                    setup,
                    refinement=refinement,
                    progress=step,
                    band=band,
                    models=False,
                    cache=cache,
                    heats=heats,
                    weights=weights,
                )
            except KeyboardInterrupt:
                stopped = True
                failed.append(FailedSetup(setup, STOPPED, "stopped"))
            except StudwellError as problem:
                failed.append(FailedSetup(setup, problem.line, problem.slug))
            except ValueError as problem:  # dimensions that pass the case's checks and still fit no mesh
                failed.append(FailedSetup(setup, str(problem), "bad-mesh"))
        for name, result in list(results.items()) if band and not stopped else ():
            try:
                others = bands.take(case.setup(name))
                if others is None:
                    options = {"refinement": refinement, "cache": cache, "heats": heats}
                    own = (result.built, result.heat)
                    others = other_models(solve_setup, case.setup(name), own, options)
                results[name] = with_band(result, others)
            except KeyboardInterrupt:
                stopped = True
                break
    return Comparison(
        case=case,
        results=tuple(sorted(results.values(), key=rank_key)),
        failed=tuple(failed),
        refinement=refinement,
        seconds=time.perf_counter() - start,
        stopped=stopped,
    )
