"""The axisymmetric continuum: one body's elasticity and heat conduction on a mesh with named boundaries."""

from studwell.fem.conduction import TemperatureField, solve_conduction
from studwell.fem.cracked_body import CrackedBody, CrackWeights, Intensity
from studwell.fem.elasticity import elastic_matrix, principal_stresses, stiffness, von_mises
from studwell.fem.factor import Factor, factorise
from studwell.fem.heat_conditions import (
    AirGap,
    Bridge,
    Contact,
    Film,
    Flux,
    Held,
    PointHistory,
    Source,
    ThermalBody,
    air_gap_conductance,
)
from studwell.fem.heat_ledger import HeatHistory, HeatLedger
from studwell.fem.heat_modes import ReducedHeat, krylov_fields, reduce_heat, reduction_error
from studwell.fem.inelastic import solve_elastoplastic
from studwell.fem.inelastic_data import Arrhenius, Backstress, Inelastic, NortonCreep, Plasticity
from studwell.fem.inelastic_records import ElastoplasticHistory, Increment
from studwell.fem.solve import Elastic, ElasticField, solve_elastic
from studwell.fem.space import EdgeSet, Space
from studwell.fem.thermal import HeatSystem, SteadyHeat, solve_steady
from studwell.fem.transient import solve_transient, solve_transient_adaptive
from studwell.mesh.files import read_mesh
from studwell.mesh.ring_crack import CrackedMesh, cracked_mesh

__all__ = [
    "AirGap",
    "Arrhenius",
    "Backstress",
    "Bridge",
    "Contact",
    "CrackWeights",
    "CrackedBody",
    "CrackedMesh",
    "EdgeSet",
    "Elastic",
    "ElasticField",
    "ElastoplasticHistory",
    "Factor",
    "Film",
    "Flux",
    "HeatHistory",
    "HeatLedger",
    "HeatSystem",
    "Held",
    "Increment",
    "Inelastic",
    "Intensity",
    "NortonCreep",
    "Plasticity",
    "PointHistory",
    "ReducedHeat",
    "Source",
    "Space",
    "SteadyHeat",
    "TemperatureField",
    "ThermalBody",
    "air_gap_conductance",
    "cracked_mesh",
    "elastic_matrix",
    "factorise",
    "krylov_fields",
    "principal_stresses",
    "read_mesh",
    "reduce_heat",
    "reduction_error",
    "solve_conduction",
    "solve_elastic",
    "solve_elastoplastic",
    "solve_steady",
    "solve_transient",
    "solve_transient_adaptive",
    "stiffness",
    "von_mises",
]
