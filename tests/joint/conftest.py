"""Small joints: setups of the starter case on coarse meshes, and bars for hand calculation."""

from dataclasses import replace

import numpy as np
import pytest

from studwell.history.heat import HeatModel
from studwell.joint.condense import BodySpec, FaceColumns, StrainMode
from studwell.mesh.reference import ring


@pytest.fixture(scope="session")
def heat_of():
    """Function: BuiltJoint and changes in K by node -> Heat of an elastic joint."""

    def function(built, **changes):
        history = built.setup.history
        at = history.assembly_temperature
        nodes = np.array([at + changes.get(name, 0.0) for name in history.node_names])
        weights = np.full(len(nodes), 1.0 / len(nodes))
        model = HeatModel(built.layout, built.bodies, built.joint, history.node_names, at, weights, 1e6)
        return model.state(nodes)

    return function


@pytest.fixture(scope="session")
def bar():
    """Function: name, area, length -> BodySpec of a steel bar with faces bottom and top and one even heat mode."""

    def function(name="bar", area=50.0, length=10.0, divisions=(2, 4), floating=True, modulus=210_000.0):
        return BodySpec(
            name=name,
            mesh=ring(0.0, float(np.sqrt(area / np.pi)), length, divisions),
            youngs_modulus=modulus,
            poisson=0.3,
            columns={"bottom": FaceColumns("bottom", "z", 1.0), "top": FaceColumns("top", "z", -1.0)},
            modes=(StrainMode("heat 0", (0.0,), 0, (1.0, 1.0, 1.0, 0.0)),),
            grip="bottom",
            floating=floating,
            tension_region="ring",
        )

    return function


@pytest.fixture(scope="session")
def spring_washer(make_setup):
    """Function: parallel, series -> SpringWasher record of a 16 mm disc spring."""
    washers = '[{ kind = "plain", size = "M8" }, { kind = "spring", size = "DIN 2093 A 16x8.2x0.9" }]'
    spring = make_setup(f"washer = {washers}").washers[1]
    return lambda parallel=1, series=1: replace(spring, parallel=parallel, series=series)
