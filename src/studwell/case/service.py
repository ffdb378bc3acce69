"""Build the records of what happens to a tightened joint: settling of its faces and gaskets, re-tightening, yielding."""

from __future__ import annotations

from studwell.case import model
from studwell.case.fields import layer_names, zone
from studwell.case.heat import Elsewhere, needs_a_spring
from studwell.case.overrides import Location, Origin, did_you_mean
from studwell.case.records import History, Inelastic, Layer, Retighten, Settling
from studwell.units import as_text

BODIES = ("boss", "stud", "nut")
"""Names of bodies that are no layers."""


def build_settling(
    tables: model.SetupTables, stack: tuple[Layer, ...], origin: Origin, elsewhere: Elsewhere
) -> Settling | None:
    """Return how a setup settles, None if the case says nothing of it. Raises BadCase."""
    settling = tables.settling
    if settling is None:
        return None
    gaskets = [(layer.name, layer.gasket) for layer in stack if layer.gasket is not None]
    wanted = settling.gasket_relaxation
    at: Location = ("settling", "gasket_relaxation")
    if wanted is not None and not gaskets:
        raise origin.bad(
            at,
            "no layer of the stack is a gasket",
            "only with a gasket in the stack",
            value=origin.given(at),
            slug="cannot-fit",
            together=True,
        )
    relaxation: tuple[tuple[str, float], ...] = ()
    if wanted is not None:
        relaxation = tuple((name, own.relaxation if isinstance(wanted, str) else wanted) for name, own in gaskets)
    needs_a_spring(("settling", "spring_set"), settling.spring_set, origin, elsewhere)
    sprung = any(washer.kind == "spring" for washer in tables.washer)
    return Settling(
        thread=settling.embedding_thread,
        bearing=settling.embedding_bearing,
        inner=settling.embedding_inner,
        tip=settling.embedding_tip,
        relaxation=relaxation,
        spring_set=settling.spring_set if sprung else None,
    )


def build_retighten(tables: model.SetupTables, history: History, origin: Origin) -> Retighten | None:
    """Return when a setup is tightened once more, None if it is not. Raises BadCase: never, or after the end."""
    if tables.retighten is None:
        return None
    after = tables.retighten.after
    at: Location = ("retighten", "after")

    def never(problem: str, allowed: str) -> Exception:
        given = origin.given(at)
        return origin.bad(at, problem, allowed, value=given, slug="cannot-fit", together=True)

    if isinstance(after, str):
        if not history.heats:
            raise never("nothing in the history is hotter than the assembly temperature", "a cycle or a time")
        return Retighten("first heat")
    if isinstance(after, int):
        if after >= history.cycles:
            cycles = "there is one cycle only" if history.cycles == 1 else f"there are {history.cycles} cycles"
            most = f'"cycle 1" to "cycle {history.cycles - 1}"' if history.cycles > 1 else '"first heat" or a time'
            raise never(f"{cycles}, and nothing follows the last", most)
        return Retighten("cycle", cycle=after)
    if after >= history.duration:
        raise never("nothing of the history follows", f"less than {as_text(history.duration, 'time')}")
    return Retighten("time", time=after)


def build_inelastic(tables: model.SetupTables, stack: tuple[Layer, ...], origin: Origin) -> Inelastic | None:
    """Return what of a setup's boss and stack may yield, None if all stays elastic. Raises BadCase."""
    given = tables.inelastic
    if given is None:
        return None
    if given.zone is None and not given.layers:
        raise origin.bad(
            ("inelastic", "zone"),
            "missing, and no layers are named",
            f"{zone.allowed}; or layers = {layer_names.allowed}",  # type: ignore[attr-defined]
            slug="missing-key",
            together=True,
        )
    at: Location = ("inelastic", "layers")
    metals = [layer.name for layer in stack if layer.gasket is None and layer.name not in BODIES]
    for name in given.layers:
        if name in metals:
            continue
        if any(layer.name == name and layer.gasket is not None for layer in stack):
            raise origin.bad(
                at,
                "this layer is a gasket: its curve under load holds already what it yields, and [settling] how it creeps",
                ", ".join(metals) if metals else "nothing: the stack is gaskets alone",
                value=name,
                slug="cannot-fit",
                together=True,
            )
        if any(layer.name == name for layer in stack):
            raise origin.bad(
                at,
                f"a layer that is to yield cannot be called {name}, as another body is",
                "another name of the layer",
                value=name,
                slug="cannot-fit",
                together=True,
            )
        hint, allowed = did_you_mean(name, metals)
        raise origin.bad(
            at, f"no layer of the stack has this name{hint}", allowed, value=name, slug="unknown-name", together=True
        )
    return Inelastic(given.zone, given.creep, given.layers)
