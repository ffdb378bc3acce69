"""What a user may write of cracks and of an own material: [crack] and [material.NAME]."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from studwell.case.fields import (
    Conductivity,
    CreepCoefficient,
    CreepExponent,
    Density,
    Expansion,
    GrowthExponent,
    GrowthRate,
    GrowthRatio,
    HardeningModulus,
    HeatCapacity,
    Modulus,
    Poisson,
    Pressure,
    Probability,
    Repeats,
    ResidualStress,
    Size,
    SurfaceFactor,
    Table,
    Temperature,
    Toughness,
    Volume,
    WalkerExponent,
    WeibullModulus,
)


class CrackTable(Table):
    """[crack]: flaws, surfaces and how often the history comes back; without it no flaw is judged."""

    flaw: Size | None = None
    inspection_size: Size | None = None
    cycles: Repeats | None = None
    surface_factor: SurfaceFactor | None = None
    residual_stress: ResidualStress | None = None
    failure_probability: Probability | None = None
    stud_thread: Literal["rolled before heat treatment", "rolled after heat treatment"] | None = None


class MaterialTable(Table):
    """[material.NAME]: the user's own material on top of a stocked one; constant over temperature."""

    base: str
    youngs_modulus: Modulus | None = None
    poisson: Poisson | None = None
    expansion: Expansion | None = None
    yield_strength: Pressure | None = None
    ultimate_strength: Pressure | None = None
    bearing_pressure_limit: Pressure | None = None
    fracture_toughness: Toughness | None = None
    fatigue_strength: Pressure | None = None
    threshold: Toughness | None = None
    growth_coefficient: GrowthRate | None = None
    growth_exponent: GrowthExponent | None = None
    growth_range: list[Toughness] | None = Field(default=None, min_length=2, max_length=2)
    growth_ratio: GrowthRatio | None = None
    walker_exponent: WalkerExponent | None = None
    weibull_modulus: WeibullModulus | None = None
    weibull_strength: Pressure | None = None
    weibull_volume: Volume | None = None
    conductivity: Conductivity | None = None
    density: Density | None = None
    heat_capacity: HeatCapacity | None = None
    hardening_modulus: HardeningModulus | None = None
    creep_exponent: CreepExponent | None = None
    creep_coefficient: CreepCoefficient | None = None
    creep_temperature_range: list[Temperature] | None = Field(default=None, min_length=2, max_length=2)
