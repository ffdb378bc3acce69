"""The folder of `studwell mesh`: the drawing, one mesh file a body, and the record of quality and study."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from studwell.case.fingerprint import inputs_sha256
from studwell.case.records import Case
from studwell.joint.build import BuiltJoint
from studwell.mesh.files import write_mesh
from studwell.mesh.quality import quality
from studwell.show.report import draw_mesh
from studwell.store.summary import SCHEMA, libraries, rounded, slug
from studwell.store.writing import write_json
from studwell.study.mesh_study import MeshStudy


def write_section(built: BuiltJoint, directory: Path, case: Case, study: MeshStudy | None = None) -> Path:
    """Write the section's drawing (PNG, SVG), a VTU file with named regions and boundaries for each body, summary.json.

    raises CannotWrite
    """
    draw_mesh(built, directory, case.units)
    bodies: list[dict[str, Any]] = []
    for body in built.bodies:
        mesh = body.spec.mesh
        write_mesh(directory / f"{slug(body.spec.name)}.vtu", mesh)
        found = quality(mesh)
        bodies.append(
            {
                "name": body.spec.name,
                "material": body.material.name,
                "elements": mesh.n_elements,
                "unknowns": mesh.n_unknowns,
                "least_scaled_jacobian": rounded(found.least_scaled_jacobian),
                "largest_aspect_ratio": rounded(found.largest_aspect_ratio),
            }
        )
    record: dict[str, Any] = {
        "schema": SCHEMA,
        "case": case.title,
        "inputs_sha256": inputs_sha256(case),
        "versions": libraries(),
        "setup": built.setup.name,
        "bodies": bodies,
        "study": None,
    }
    if study is not None:
        record["study"] = {
            "densities": list(study.densities),
            "unknowns": list(study.unknowns),
            "outcomes": [
                {
                    "outcome": row.outcome,
                    "unit": row.unit,
                    "values": [rounded(value) for value in row.values],
                    "last_change": rounded(row.change),
                }
                for row in study.rows
            ],
        }
    write_json(directory / "summary.json", record)
    return directory
