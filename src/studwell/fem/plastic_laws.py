"""Inelastic laws of a material point: von Mises plasticity with mixed hardening and Norton creep, vectorised."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike

from studwell.fem.inelastic_data import Inelastic, NortonCreep, Plasticity, Property, at_temperature
from studwell.mesh.mesh import Floats

TENSOR = np.array([1.0, 1.0, 1.0, 2.0])
"""How often each component of a symmetric axisymmetric tensor counts in a double contraction."""

ROOT_ITERATIONS = 60


@dataclass(frozen=True)
class PointState:
    """Material points at one instant; components rr, hoop, zz, rz (engineering shear in strains).

    inelastic      : (..., 4) plastic and creep strain together
    stress         : (..., 4) MPa
    plastic_strain : (...) accumulated equivalent plastic strain;  creep_strain : (...) the same of creep
    creep_rate     : (...) 1/s, equivalent creep rate at this instant
    backstrain     : (..., k, 4) one for each backstress, which is 2/3 modulus(T) x its tensor
    plastic_work   : (...) MPa (N mm per mm^3), integral of stress over plastic strain, not negative in all
    dissipation    : (...) MPa, heat of plastic flow and creep: plastic work less what the backstresses store;
                     no increment of it is negative
    """

    inelastic: Floats = field(repr=False)
    stress: Floats = field(repr=False)
    plastic_strain: Floats = field(repr=False)
    creep_strain: Floats = field(repr=False)
    creep_rate: Floats = field(repr=False)
    backstrain: Floats = field(repr=False)
    plastic_work: Floats = field(repr=False)
    dissipation: Floats = field(repr=False)


def virgin(material: Inelastic, shape: tuple[int, ...]) -> PointState:
    """Return points without stress and history; shape is theirs, such as (M, Q)."""
    k = len(material.plasticity.backstresses) if material.plasticity else 0
    none = np.zeros(shape)
    four = np.zeros((*shape, 4))
    return PointState(four, four, none, none, none, np.zeros((*shape, k, 4)), none, none)


def equivalent(deviator: Floats) -> Floats:
    """Return sqrt(3/2 s : s), (...), of deviatoric stresses (..., 4), MPa."""
    return np.sqrt(1.5 * np.einsum("...i,...i,i->...", deviator, deviator, TENSOR))


def equivalent_strain(strain: Floats) -> Floats:
    """Return sqrt(2/3 e : e), (...), of deviatoric strains (..., 4) with engineering shear."""
    return np.sqrt(2.0 / 3.0 * np.einsum("...i,...i,i->...", strain, strain, 1.0 / TENSOR))


def advance(
    material: Inelastic,
    before: PointState,
    strain: ArrayLike,
    temperature: ArrayLike,
    duration: float = 0.0,
    modulus_ratio: ArrayLike = 1.0,
) -> PointState:
    """Return the points after one increment that ends at given strains: implicit return mapping with creep.

    Plastic flow and backstresses by backward Euler; creep by the theta rule whose weight is fitted so that linear
    relaxation is exact (1/2 for a short increment, 1 for a long one): second order and never overshooting.

    strain        : (..., 4), total less thermal strain at the end, engineering shear
    temperature   : (...) or float, degC at the end
    duration      : s, for creep
    modulus_ratio : (...) or float, Young's modulus over the material's own (it may fall with temperature)
    returns       : PointState of the same shape
    raises ValueError : duration negative

    Source: de Souza Neto, Peric & Owen 2008 (radial return); Kobayashi & Ohno 2002 (implicit
    Armstrong-Frederick); Liniger & Willoughby 1970 (exponentially fitted theta rule).
    """
    if not duration >= 0:
        raise ValueError(f"a duration must be 0 s or more, not {duration}")
    total = np.asarray(strain, float)
    shape = total.shape[:-1]
    hot = np.broadcast_to(np.asarray(temperature, float), shape)
    ratio = np.broadcast_to(np.asarray(modulus_ratio, float), shape)
    young = material.youngs_modulus * ratio
    shear = young / (2 * (1 + material.poisson))
    elastic = total - before.inelastic
    volume = elastic[..., :3].sum(axis=-1)
    mean = young / (3 * (1 - 2 * material.poisson)) * volume
    trial = 2 * shear[..., None] * _deviator(elastic, volume)

    creeping = material.creep if duration > 0 else None
    past, theta, grip = _creep_start(creeping, before, shear, hot, duration)
    trial = trial - 2 * shear[..., None] * past
    exponent = material.creep.exponent if material.creep else 1.0
    solved = _no_flow(trial, grip, exponent)
    flow = np.zeros(shape)
    direction = np.zeros(total.shape)
    backstrain = before.backstrain
    recalled = np.zeros(shape)
    if material.plasticity is not None:
        over = _Flow(material.plasticity, before, trial, shear, hot, grip, exponent)
        flow, direction, backstrain, solved, recalled = over.result(solved)
    deviator, creep_factor = solved
    q = equivalent(deviator)
    plastic = flow[..., None] * direction
    slow = past + deviator * (creep_factor / (2 * shear))[..., None]
    stress = deviator.copy()
    stress[..., :3] += mean[..., None]
    added = creep_factor * q / (3 * shear)
    rate = material.creep.rate_coefficient(hot) * q**exponent if material.creep else np.zeros(shape)
    old = (1 - theta) * duration * before.creep_rate
    size = material.plasticity.strength(before.plastic_strain + flow, hot)[0] if material.plasticity else 0.0
    heat = size * flow + recalled + added * q + old * equivalent(_deviator_of_stress(before.stress))
    inelastic = before.inelastic + (plastic + slow) * TENSOR
    return PointState(
        inelastic=inelastic,
        stress=stress,
        plastic_strain=before.plastic_strain + flow,
        creep_strain=before.creep_strain + added + old,
        creep_rate=rate,
        backstrain=backstrain,
        plastic_work=before.plastic_work + np.einsum("...i,...i,i->...", deviator, plastic, TENSOR),
        dissipation=before.dissipation + heat,
    )


def tangent(
    material: Inelastic,
    before: PointState,
    strain: Floats,
    temperature: ArrayLike,
    duration: float = 0.0,
    modulus_ratio: ArrayLike = 1.0,
    step: float = 1e-7,
) -> Floats:
    """Return the consistent tangent d stress / d strain, (..., 4, 4), MPa, by central differences of `advance`.

    Arguments as in `advance`; step : strain by which each component is moved.
    """
    columns = []
    for component in range(4):
        moved = np.zeros(4)
        moved[component] = step
        pair = [
            advance(material, before, strain + way * moved, temperature, duration, modulus_ratio).stress
            for way in (1.0, -1.0)
        ]
        columns.append((pair[0] - pair[1]) / (2 * step))
    return np.stack(columns, axis=-1)


def _creep_start(
    creep: NortonCreep | None, before: PointState, shear: Floats, hot: Floats, duration: float
) -> tuple[Floats, Floats, Floats]:
    """Creep strain of the old rate (tensor), the weight of the new rate, and 3 G B theta dt, MPa^(1 - n)."""
    shape = shear.shape
    if creep is None:
        return np.zeros((*shape, 4)), np.ones(shape), np.zeros(shape)
    old = _deviator_of_stress(before.stress)
    q = equivalent(old)
    flowing = q > 0
    safe = np.where(flowing, q, 1.0)
    stiffness = 3 * shear * creep.exponent * before.creep_rate / safe * duration
    theta = _fitted(stiffness)
    past = (1.5 * (1 - theta) * duration * before.creep_rate / safe)[..., None] * old
    return past, theta, 3 * shear * creep.rate_coefficient(hot) * theta * duration


def _fitted(z: Floats) -> Floats:
    """1 / (1 - exp(-z)) - 1 / z, from 1/2 at z = 0 to 1."""
    small = z < 1e-3
    safe = np.where(small, 1.0, z)
    return np.where(small, 0.5 + z / 12, 1 / -np.expm1(-safe) - 1 / safe)


def _stress_with_creep(total: Floats, factor: Floats | float, grip: Floats, exponent: float) -> Floats:
    """Solve q factor + grip q^n = total for q >= 0, (...); Newton from above, which falls monotonically."""
    q = total / factor
    if not grip.any():
        return q
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        limit = (total / grip) ** (1 / exponent)
    q = np.fmin(q, np.where(grip > 0, limit, np.inf))
    for _ in range(ROOT_ITERATIONS):
        power = grip * q ** (exponent - 1)
        change = (q * (factor + power) - total) / (factor + exponent * power)
        q = np.maximum(q - change, 0.0)
        if np.all(np.abs(change) <= 1e-15 * q):
            break
    return q


def _no_flow(trial: Floats, grip: Floats, exponent: float) -> tuple[Floats, Floats]:
    """Deviator and creep factor w = grip q^(n - 1) without plastic flow."""
    q = _stress_with_creep(equivalent(trial), 1.0, grip, exponent)
    factor = grip * q ** (exponent - 1)
    return trial / (1 + factor)[..., None], factor


class _Flow:
    """The plastic part of one increment: one unknown, the equivalent plastic strain added, at each yielding point.

    With s the stress deviator, A the faded old backstress, h the new backstress' stiffness, R the surface's size,
    x the unknown, v = 3 G x / R, m = v / (1 + h x / R) and w the creep factor:
    s = (trial + m A) / (1 + w + m) and |trial - (1 + w) A| = (1 + w)(R + h x) + 3 G x.
    """

    def __init__(
        self,
        law: Plasticity,
        before: PointState,
        trial: Floats,
        shear: Floats,
        hot: Floats,
        grip: Floats,
        exponent: float,
    ) -> None:
        self.law, self.before, self.exponent = law, before, exponent
        self.all = (trial, shear, hot, grip, before.plastic_strain)
        self.modulus = _stacked([one.modulus for one in law.backstresses], hot)
        self.recall = _stacked([one.recall for one in law.backstresses], hot)

    def result(self, solved: tuple[Floats, Floats]) -> tuple[Floats, Floats, Floats, tuple[Floats, Floats], Floats]:
        """Flow (...), its direction (..., 4), backstrains, (deviator, creep factor) and work of recall (...)."""
        trial, _, hot, _, p = self.all
        deviator, creep_factor = np.array(solved[0]), np.array(solved[1])
        flow, direction = np.zeros(hot.shape), np.zeros(trial.shape)
        backstrain, recalled = self.before.backstrain.copy(), np.zeros(hot.shape)
        size = self.law.strength(p, hot)[0]
        old = np.einsum("k...,...ki->...i", self.modulus / 1.5, self.before.backstrain)
        yields = equivalent(deviator - old) > size * (1 + 1e-13)
        if not yields.any():
            return flow, direction, backstrain, (deviator, creep_factor), recalled
        some = _Some(self, yields)
        x = some.root()
        values = some.values(x)
        flow[yields], direction[yields] = x, values.direction
        deviator[yields], creep_factor[yields] = values.deviator, values.creep
        fade = 1 / (1 + some.recall * x)
        grown = fade[..., None] * (some.backstrain + (x[:, None] * values.direction)[None])
        backstrain[yields] = np.moveaxis(grown, 0, 1)
        squares = np.einsum("kni,kni,i->kn", grown, grown, TENSOR)
        recalled[yields] = (some.recall * x * some.modulus / 1.5 * squares).sum(axis=0)
        return flow, direction, backstrain, (deviator, creep_factor), recalled


@dataclass
class _Values:
    """Misfit of the flow condition (MPa), its slope, and what belongs to it."""

    misfit: Floats
    slope: Floats
    deviator: Floats
    direction: Floats
    creep: Floats


class _Some:
    """The yielding points, flattened."""

    def __init__(self, flow: _Flow, yields: np.ndarray) -> None:
        self.law, self.exponent = flow.law, flow.exponent
        self.trial, self.shear, self.hot, self.grip, self.p = (part[yields] for part in flow.all)
        self.modulus, self.recall = flow.modulus[:, yields], flow.recall[:, yields]
        self.backstrain = np.moveaxis(flow.before.backstrain[yields], 1, 0)

    def values(self, x: Floats) -> _Values:
        """Evaluate the flow condition at added plastic strains (n,)."""
        size, hardening = self.law.strength(self.p + x, self.hot)
        fade = 1 / (1 + self.recall * x)
        old = np.einsum("kn,kni->ni", self.modulus * fade / 1.5, self.backstrain)
        stiff = (self.modulus * fade).sum(axis=0)
        surface = size + stiff * x
        m = 3 * self.shear * x / surface
        leading = equivalent(self.trial + m[:, None] * old)
        q = _stress_with_creep(leading, 1 + m, self.grip, self.exponent)
        w = self.grip * q ** (self.exponent - 1)
        away = self.trial - (1 + w)[:, None] * old
        length = equivalent(away)
        misfit = length - (1 + w) * surface - 3 * self.shear * x
        # slopes: of the faded backstress, then of the creep factor through q
        normal = away / length[:, None]
        old_slope = -np.einsum("kn,kni->ni", self.modulus * self.recall * fade**2 / 1.5, self.backstrain)
        surface_slope = hardening + (self.modulus * fade**2).sum(axis=0)
        contract = 1.5 * np.einsum("ni,ni,i->n", normal, old_slope, TENSOR)
        slope = -(1 + w) * (contract + surface_slope) - 3 * self.shear
        if self.grip.any():
            m_slope = 3 * self.shear * (1 - x * surface_slope / surface) / surface
            along = 1.5 * np.einsum("ni,ni,i->n", self.trial + m[:, None] * old, old, TENSOR) / leading
            q_slope = (along - q) * m_slope / (1 + m + self.exponent * w)
            w_slope = (self.exponent - 1) * w / np.where(q > 0, q, 1.0) * q_slope
            slope -= w_slope * (1.5 * np.einsum("ni,ni,i->n", normal, old, TENSOR) + surface)
        deviator = (self.trial + m[:, None] * old) / (1 + w + m)[:, None]
        return _Values(misfit, slope, deviator, 1.5 * normal, w)

    def root(self) -> Floats:
        """Newton's method kept inside a bracket, (n,)."""
        low = np.zeros(len(self.p))
        start = self.values(low)
        high = np.maximum(start.misfit, 1e-300) / (3 * self.shear)
        for _ in range(ROOT_ITERATIONS):
            short = self.values(high).misfit > 0
            if not short.any():
                break
            low, high = np.where(short, high, low), np.where(short, 2 * high, high)
        x = np.clip(-start.misfit / start.slope, low, high)
        scale = self.law.strength(self.p, self.hot)[0]
        for _ in range(ROOT_ITERATIONS):
            values = self.values(x)
            low, high = np.where(values.misfit > 0, x, low), np.where(values.misfit > 0, high, x)
            if np.all((np.abs(values.misfit) <= 1e-13 * scale) | (high - low <= 1e-15 * high)):
                break
            moved = x - values.misfit / values.slope
            inside = (moved >= low) & (moved <= high)
            x = np.where(inside, moved, 0.5 * (low + high))
        return x


def _deviator(strain: Floats, volume: Floats) -> Floats:
    """Tensor components of a strain's deviator."""
    part = strain * np.array([1.0, 1.0, 1.0, 0.5])
    part[..., :3] -= volume[..., None] / 3
    return part


def _deviator_of_stress(stress: Floats) -> Floats:
    part = stress.copy()
    part[..., :3] -= stress[..., :3].mean(axis=-1, keepdims=True)
    return part


def _stacked(properties: list[Property], hot: Floats) -> Floats:
    return np.array([at_temperature(one, hot) for one in properties]).reshape(len(properties), *hot.shape)


def at_points(state: PointState, where: np.ndarray | slice) -> PointState:
    """Return some of the points: an index of the first axis."""
    return replace(state, **{name: getattr(state, name)[where] for name in PointState.__dataclass_fields__})
