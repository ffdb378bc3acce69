"""The solver behind the live page: joints condensed once and kept, any slider state solved on them exactly."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from dataclasses import dataclass, field, replace
from typing import Any, Generic, TypeVar

import numpy as np
from threadpoolctl import threadpool_limits

from studwell.case.records import Case, Setup
from studwell.errors import BadMesh, StudwellError
from studwell.fem.space import Space
from studwell.history.conduction import SolvedHeat
from studwell.joint.bodies import SectionBody
from studwell.joint.body import BodyResponse
from studwell.joint.build import BuiltJoint, body_key
from studwell.live.condenser import Condenser
from studwell.live.controls import Control, controls
from studwell.live.picture import (
    PIXELS,
    SHOWN_COLOURS,
    NodalStress,
    Picture,
    PixelMap,
    Scale,
    all_principal,
    colour_scale,
    drawn,
    nodal_stress,
    pixel_map,
    told_of,
)
from studwell.live.reading import Reading, reading_of
from studwell.live.state import LiveState, moved_in, setup_of
from studwell.strength.moments import MOMENTS, named_moments
from studwell.strength.recovery import SpaceCache, recover
from studwell.study.compare import built_joint, solve_setup
from studwell.study.results import SetupResult
from studwell.units import in_both

Progress = Callable[[float, str], None]
"""Called with a share of 1 and what is being done."""

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")

RESULTS = 12
"""Solved states kept: another moment or view of the same state needs no solving."""

BODIES_BYTES, PIXELS_BYTES = 300e6, 100e6
"""Memory that condensed bodies may take beyond those of the joints that are kept, and that pixels' places may take."""


class Kept(Generic[K, V]):
    """A bounded store that drops what was used least recently; safe to use from several threads."""

    def __init__(self, most: float, size: Callable[[V], float] = lambda value: 1.0) -> None:
        self._items: OrderedDict[K, V] = OrderedDict()
        self._most, self._size, self._held = most, size, 0.0
        self._lock = threading.Lock()

    def get(self, key: K) -> V | None:
        """Return what is kept under a key and mark it as used, None if nothing is."""
        with self._lock:
            if key in self._items:
                self._items.move_to_end(key)
            return self._items.get(key)

    def put(self, key: K, value: V) -> None:
        """Keep a value, dropping others until it fits; one value is kept whatever its size."""
        with self._lock:
            if key in self._items:
                self._held -= self._size(self._items.pop(key))
            self._items[key] = value
            self._held += self._size(value)
            while self._held > self._most and len(self._items) > 1:
                self._held -= self._size(self._items.popitem(last=False)[1])

    def __contains__(self, key: K) -> bool:
        with self._lock:
            return key in self._items

    def __len__(self) -> int:
        with self._lock:
            return len(self._items)


@dataclass(frozen=True)
class Ready:
    """A condensed joint: any state with the same geometry is solved on it."""

    built: BuiltJoint = field(repr=False)
    heat: SolvedHeat | None = field(repr=False)
    stress: tuple[NodalStress, ...] = field(repr=False)
    spaces: SpaceCache = field(repr=False)


@dataclass(frozen=True)
class CondensedBody:
    """A body's response, what makes its stress picture, and of the boss what judging its volume uses."""

    response: BodyResponse = field(repr=False)
    stress: NodalStress = field(repr=False)
    space: Space | None = field(repr=False)

    @property
    def bytes(self) -> float:
        """Memory that it takes, about."""
        own = 0 if self.space is None else self.space.strain_matrix.nbytes
        response = self.response
        maps = sum(each.force.nbytes + each.strain.nbytes for each in response.stress.values())
        whole = 0 if response.displacement is None else response.displacement.nbytes
        return float(maps + whole + response.compliance.nbytes + self.stress.bytes + own)


class _Pending:
    """A joint that one thread condenses and others wait for."""

    def __init__(self) -> None:
        self.done: Future[None] = Future()
        self.listeners: list[Progress] = []

    def tell(self, share: float, text: str) -> None:
        for listener in tuple(self.listeners):
            listener(share, text)


class Engine:
    """Solves the states of a case's live page; safe to call from several threads, holds no state of any user.

    A joint is condensed once for a geometry and kept; torques, turns, temperatures are solved on it exactly as
    `study.compare.solve_setup` with band=False does. A geometry that has no mesh is remembered by its error.
    """

    def __init__(self, case: Case, *, refinement: float = 1.0, keep: int = 16, apart: bool = True) -> None:
        """case; refinement: mesh density, 1 = standard; keep: condensed joints kept, least recently used dropped; apart:
        condense in a second process, so that other readings do not wait."""
        self.case, self.refinement = case, refinement
        self._controls = {each.name: {c.name: c for c in controls(case, each.name)} for each in case.setups}
        self._lock = threading.Lock()
        self._pending: dict[Hashable, _Pending] = {}
        self._ready: Kept[Hashable, Ready] = Kept(keep)
        self._failed: Kept[Hashable, StudwellError] = Kept(8 * keep)
        self._bodies: Kept[str, CondensedBody] = Kept(BODIES_BYTES, lambda body: body.bytes)
        self._maps: Kept[Hashable, PixelMap] = Kept(PIXELS_BYTES, lambda pixels: pixels.bytes)
        self._results: Kept[LiveState, SetupResult] = Kept(RESULTS)
        self._condenser = Condenser(apart)
        self._blas = threadpool_limits(limits=1)

    def close(self) -> None:
        """End the second process and give the linear algebra its threads back."""
        self._condenser.close()
        self._blas.restore_original_limits()

    def controls(self, setup: str) -> tuple[Control, ...]:
        """Return what may be moved in a setup. Raises KeyError: no such setup."""
        return tuple(self._controls[setup].values())

    def setup(self, state: LiveState) -> Setup:
        """Return the setup that a state stands for. Raises BadCase: a value that is not allowed, parts that do not fit."""
        if state.setup not in self._controls:
            raise KeyError(f"no setup {state.setup}; setups: {', '.join(self._controls)}")
        return setup_of(self.case, state, self._controls[state.setup])

    def is_ready(self, state: LiveState) -> bool:
        """Return whether a state can be read without condensing a joint first."""
        return self._key(state) in self._ready

    def prepare(self, state: LiveState, progress: Progress | None = None) -> None:
        """Condense the joint of a state, unless that is done; two threads that ask for the same one wait for one of them.

        progress : called with a share of 1 and what is being done
        raises StudwellError : parts that do not fit, or no mesh; the same error again for the same geometry
        """
        self._joint(state, self.setup(state), progress)

    def read(
        self,
        state: LiveState,
        moment: str = "worst",
        *,
        view: str = "section",
        pixels: tuple[int, int] = PIXELS,
        scale: Scale | None = None,
    ) -> tuple[Reading, Picture]:
        """Solve a state and draw its stress; condenses its joint first if it must.

        moment : one of strength.moments.MOMENTS;  view, pixels: as in picture.pixel_map
        scale  : MPa at the ends of the colours, so that pictures compare; None: chosen from the picture's own values
        raises StudwellError : the state has no solution, or as prepare;  ValueError: moment, view or pixels unknown
        """
        result, seconds = self._solved(state)
        return reading_of(state, self.case, result, seconds), self._picture(state, result, moment, view, pixels, scale)

    def picture(
        self,
        state: LiveState,
        moment: str = "worst",
        *,
        view: str = "section",
        pixels: tuple[int, int] = PIXELS,
        scale: Scale | None = None,
    ) -> Picture:
        """Return the picture alone; arguments and errors as in `read`."""
        return self._picture(state, self._solved(state)[0], moment, view, pixels, scale)

    def result_of(self, state: LiveState, *, band: bool = False) -> SetupResult:
        """Return the whole record of a state's solution, for reports and job cards.

        band : also what stands beside a setup (other thread models, many cycles): seconds to minutes
        """
        if not band:
            return self._solved(state)[0]
        return solve_setup(self.setup(state), refinement=self.refinement)

    def _key(self, state: LiveState) -> Hashable:
        """What a joint depends on besides the setup as written."""
        known = self._controls.get(state.setup, {})
        moved = list(moved_in(state, known).items())
        shaping = [(name, value) for name, value in moved if known[name].remesh]
        if self.case.setup(state.setup).history.phases:  # a tip on its seat conducts
            shaping += [(name, value) for name, value in moved if name == "seating"]
        return state.setup, tuple(shaping)

    def _joint(self, state: LiveState, setup: Setup, progress: Progress | None) -> Ready:
        key = self._key(state)
        while True:
            ready = self._ready.get(key)
            if ready is not None:
                return ready
            with self._lock:
                failed = self._failed.get(key)
                if failed is not None:
                    raise failed.with_traceback(None)
                pending = self._pending.get(key)
                mine = pending is None and key not in self._ready
                if mine:
                    pending = self._pending[key] = _Pending()
                if pending is not None and progress is not None:
                    pending.listeners.append(progress)
            if pending is None:
                continue
            if not mine:
                pending.done.result()
                continue
            try:
                ready = self._condensed(key, setup, pending.tell)
                self._ready.put(key, ready)
                return ready
            finally:
                with self._lock:
                    del self._pending[key]
                pending.done.set_result(None)

    def _condensed(self, key: Hashable, setup: Setup, tell: Progress) -> Ready:
        """Lay out, mesh and condense a setup; a failure of its geometry is remembered."""
        try:
            tell(0.0, "laying out the section")
            heat: SolvedHeat | None = None
            bodies: tuple[SectionBody, ...]
            if setup.history.phases:
                tell(0.05, "solving the heat")
                setup, bodies, heat = self._condenser.run("heat", setup, self.refinement)
            else:
                bodies = self._condenser.run("section", setup, self.refinement)
            found = []
            for number, body in enumerate(bodies):
                tell(0.1 + 0.8 * number / len(bodies), f"condensing {body.spec.name} ({number + 1} of {len(bodies)})")
                found.append(self._body(body))
        except StudwellError as problem:
            self._failed.put(key, problem)
            raise
        except ValueError as problem:  # dimensions that pass the case's checks and still fit no mesh
            error = BadMesh(str(problem))
            self._failed.put(key, error)
            raise error from None
        tell(0.92, "joining the bodies")
        responses = {body_key(b.spec, True): f.response for b, f in zip(bodies, found, strict=True)}
        spaces = {body_key(b.spec, True): f.space for b, f in zip(bodies, found, strict=True) if f.space is not None}
        try:
            built = built_joint(setup, refinement=self.refinement, cache=responses, bodies=bodies)
        except StudwellError:
            raise  # may be of this state alone: a seat without a model is refused only where the stud is driven
        except ValueError as problem:
            raise BadMesh(str(problem)) from None
        ready = Ready(built, heat, tuple(each.stress for each in found), spaces)
        pixels = self._condenser.run("pixels", bodies, setup.boss.hole_depth, "section", PIXELS)
        self._maps.put((key, "section", PIXELS), pixels)
        tell(1.0, "ready")
        return ready

    def _body(self, body: SectionBody) -> CondensedBody:
        key = body_key(body.spec, True)
        kept = self._bodies.get(key)
        if kept is None:
            response, stress = self._condenser.run("body", body.spec)
            kept = CondensedBody(response, stress, Space(body.spec.mesh) if body.spec.name == "boss" else None)
            self._bodies.put(key, kept)
        return kept

    def _solved(self, state: LiveState) -> tuple[SetupResult, float]:
        kept = self._results.get(state)
        if kept is not None:
            return kept, kept.seconds
        setup = self.setup(state)
        ready = self._joint(state, setup, None)
        start = time.perf_counter()
        base = ready.built
        if ready.heat is None:  # temperatures are of the state, not of the joint
            base = replace(base, setup=replace(base.setup, history=setup.history))
        try:
            like = (base, ready.heat)
            result = solve_setup(setup, refinement=self.refinement, like=like, band=False, spaces=ready.spaces)
        except StudwellError:
            raise
        except ValueError as problem:
            raise BadMesh(str(problem)) from None
        self._results.put(state, result)
        return result, time.perf_counter() - start

    def _pixels(self, joint: Hashable, built: BuiltJoint, view: str, pixels: tuple[int, int]) -> PixelMap:
        key = (joint, view, pixels)
        found = self._maps.get(key)
        if found is None:
            found = pixel_map(built.bodies, built.layout.boss.hole_depth, view, pixels)
            self._maps.put(key, found)
        return found

    def _picture(
        self,
        state: LiveState,
        result: SetupResult,
        moment: str,
        view: str,
        pixels: tuple[int, int],
        scale: Scale | None,
    ) -> Picture:
        if moment not in MOMENTS:
            raise ValueError(f"moment is {moment!r}; allowed: {', '.join(MOMENTS)}")
        if scale is not None and not -np.inf < scale[0] < 0.0 < scale[1] < np.inf:
            raise ValueError(f"scale is {scale}; allowed: (below 0, above 0), MPa")
        ready = self._joint(state, result.setup, None)
        built, timeline = result.built, result.timeline
        index = named_moments(timeline, result.history.temperatures, result.outcomes, result.verdict)[moment]
        at = timeline.states[index]
        if at.flow is None:
            stresses = {
                body.spec.name: nodal_stress(built, number, at, ready.stress[number])
                for number, body in enumerate(built.bodies)
            }
        else:
            fields = recover(built, timeline, result.history.temperatures, [index])
            stresses = {each.name: each.stress[0] for each in fields}
        principal = all_principal(built, stresses)
        values = np.concatenate(list(principal.values()))
        where = self._pixels(self._key(state), built, view, (int(pixels[0]), int(pixels[1])))
        if scale is None:
            scale = colour_scale(values if view == "section" else principal["boss"])
        when = timeline.when(index)
        worst = result.outcomes["floor_stress_max"]
        corner: Any = worst.value if worst.index == index else None
        return Picture(
            png=drawn(where, values, scale),
            extent=where.extent,
            low=float(scale[0]),
            high=float(scale[1]),
            colours=SHOWN_COLOURS,
            outlines=where.outlines,
            moment=moment,
            when=when,
            told=in_both(lambda units: told_of(built, principal, corner, when, units)),
        )
