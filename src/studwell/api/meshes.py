"""A setup's section with its meshes, and its outcomes over three of them."""

from __future__ import annotations

from collections.abc import Callable

from threadpoolctl import threadpool_limits

from studwell.api.opening import mesh_density
from studwell.case.records import Setup
from studwell.joint.build import BuiltJoint
from studwell.study import compare as study
from studwell.study.mesh_study import MeshStudy
from studwell.study.mesh_study import mesh_study as study_meshes


def section(setup: Setup, *, refinement: float = 1.0) -> BuiltJoint:
    """Return a setup's section: layout, bodies with their meshes, and the joint condensed from them.

    raises Unknown, BadMesh, ValueError : dimensions that the model does not hold;  StudwellError : refinement not from 0.3 to 4
    """
    density = mesh_density(refinement)
    with threadpool_limits(limits=1):
        return study.built_joint(setup, refinement=density)


def mesh_study(setup: Setup, *, progress: Callable[[int], None] | None = None) -> MeshStudy:
    """Return each outcome of a setup over three meshes."""
    with threadpool_limits(limits=1):
        return study_meshes(setup, progress=progress)
