"""The axisymmetric continuum: one body's elasticity and heat conduction on a mesh with named boundaries."""

from studwell.fem.conduction import TemperatureField, solve_conduction
from studwell.fem.elasticity import elastic_matrix, principal_stresses, stiffness, von_mises
from studwell.fem.factor import Factor, factorise
from studwell.fem.solve import Elastic, ElasticField, solve_elastic
from studwell.fem.space import EdgeSet, Space

__all__ = [
    "EdgeSet",
    "Elastic",
    "ElasticField",
    "Factor",
    "Space",
    "TemperatureField",
    "elastic_matrix",
    "factorise",
    "principal_stresses",
    "solve_conduction",
    "solve_elastic",
    "stiffness",
    "von_mises",
]
