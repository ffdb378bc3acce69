"""Records of what a joint goes through once it is tightened: heat, settling, yielding, re-tightening."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import accumulate

LATER = {"later": True}
"""Marks a field that earlier records had not: at its default it is left out of the fingerprint, so that a case which
does not use it keeps its own."""

Named = tuple[tuple[str, float], ...]
"""Values by name: ((name, value), ...)."""


@dataclass(frozen=True)
class ThermalSurface:
    """What one outer surface exchanges: a film to an ambient, a heat flux, or a temperature held on it.

    body        : "boss", "stud", "nut" or the name of a layer of the stack
    face        : "outer", "inner", "top", "underside" or "end"
    film        : N/(mm s K) to the ambient, before the phase's film_factor; None without a film
    ambient     : name of the film's ambient in the phases, None without a film
    flux        : name of the heat flux into the surface in the phases, or None
    temperature : name of the prescribed temperature in the phases, or None
    """

    body: str
    face: str
    film: float | None
    ambient: str | None
    flux: str | None
    temperature: str | None

    @property
    def name(self) -> str:
        """The surface as the case file calls it, such as "barrel outer"."""
        return f"{self.body} {self.face}"


@dataclass(frozen=True)
class Thermal:
    """How heat passes: conductances N/(mm s K) of closed faces and threads, and of the gap round the stud.

    spring_conductance : N/(mm s K) of the edges of each spring washer or packet, both together, on the area of its ring;
                         None without springs or not given: then no heat passes through them
    """

    contact_conductance: float
    gap_conductance: float
    surfaces: tuple[ThermalSurface, ...]
    spring_conductance: float | None = field(default=None, metadata=LATER)


@dataclass(frozen=True)
class Phase:
    """One stretch of a cycle of solved heat.

    duration    : s
    ramp        : s from the phase's start in which ambients, fluxes and prescribed temperatures go in a straight
                  line from where they were to the values below, 0: at once. Before the first phase of the first
                  cycle ambients and temperatures are at the assembly temperature and fluxes are 0
    film_factor : multiplies every film from the start of the phase to its end, -
    ambient, temperature : ((name, degC), ...)
    flux        : ((name, N/(mm s)), ...), above 0 into the body
    """

    label: str
    duration: float
    ramp: float
    film_factor: float
    ambient: Named
    flux: Named
    temperature: Named


@dataclass(frozen=True)
class History:
    """What the joint goes through in time: temperatures given at points, or phases in which heat is solved.

    times          : s; of points: strictly increasing, straight lines between them; of phases: the end of each, from
                     the start of the cycle
    labels         : names of the points or phases, one a time
    node_names     : (nodes,) the nodes that this setup uses; () with phases
    temperatures   : (nodes)(points) degC; () with phases
    steps          : steps to solve over one cycle, spread in proportion to the time
    cycles         : how often points or phases are gone through; at most, with until_periodic
    until_periodic : K; stop once no temperature differs more than this from one cycle to the next. None: all cycles
    phases         : of one cycle; () where temperatures are given at points
    """

    assembly_temperature: float
    times: tuple[float, ...]
    labels: tuple[str, ...]
    node_names: tuple[str, ...]
    temperatures: tuple[tuple[float, ...], ...]
    steps: int
    cycles: int = field(default=1, metadata=LATER)
    until_periodic: float | None = field(default=None, metadata=LATER)
    phases: tuple[Phase, ...] = field(default=(), metadata=LATER)

    def at(self, node: str) -> tuple[float, ...]:
        """Return the temperatures (points,) of a node, degC. Raises KeyError: no such node."""
        if node not in self.node_names:
            raise KeyError(f"no node {node}; nodes: {', '.join(self.node_names)}")
        return self.temperatures[self.node_names.index(node)]

    @property
    def starts_assembled(self) -> bool:
        """True if every node is at the assembly temperature in the first point, as all are before the first phase."""
        return all(values[0] == self.assembly_temperature for values in self.temperatures)

    @property
    def cycle_time(self) -> float:
        """Length of one cycle, s."""
        return self.times[-1] - (0.0 if self.phases else self.times[0])

    @property
    def duration(self) -> float:
        """Length of all cycles, s; the run is shorter if it is periodic before."""
        return self.cycles * self.cycle_time

    @property
    def heats(self) -> bool:
        """True if a temperature that it states is above the assembly temperature, or a heat flux above 0."""
        stated = [value for phase in self.phases for _, value in (*phase.ambient, *phase.temperature)]
        stated += [value for values in self.temperatures for value in values]
        fluxes = (value for phase in self.phases for _, value in phase.flux)
        return (
            max(stated, default=self.assembly_temperature) > self.assembly_temperature or max(fluxes, default=0.0) > 0
        )


@dataclass(frozen=True)
class Settling:
    """What settles after tightening, when the joint is first heated. Embedding in mm.

    thread     : at each engaged thread: of the boss, of an insert on both sides, of the nut
    bearing    : at each face of nut or washers
    inner      : at each joint of the stack between metal layers, and of the stack with the boss; not at gaskets
    tip        : at the tip, if it is on its seat
    relaxation : ((gasket layer, share of its pressure lost in each tenfold of time), ...); () without relaxation
    spring_set : share of its cone height that each spring washer loses for good, None without springs or not given
    """

    thread: float
    bearing: float
    inner: float
    tip: float
    relaxation: Named
    spring_set: float | None = field(default=None, metadata=LATER)


@dataclass(frozen=True)
class Retighten:
    """The nut tightened once more to the torque of [tightening], with the whole joint at the assembly temperature.

    kind  : "first heat": after the first phase, or the first stretch between points that ends hotter than the
            assembly temperature; "cycle": after so many whole cycles; "time": at a time from the start of the history
    cycle : how many whole cycles, None unless kind is "cycle"
    time  : s, None unless kind is "time"
    """

    kind: str
    cycle: int | None = None
    time: float | None = None


@dataclass(frozen=True)
class Inelastic:
    """What of the boss and the stack may yield.

    zone   : mm from the corner fillet, "boss" for all of it, or None: the boss stays elastic
    creep  : True if what may yield creeps at heat as well
    layers : names of the stack's layers that may yield as a whole
    """

    zone: float | str | None
    creep: bool
    layers: tuple[str, ...] = field(default=(), metadata=LATER)


def ends_of(phases: tuple[Phase, ...]) -> tuple[float, ...]:
    """Return the end of each phase from the start of the cycle, s."""
    return tuple(accumulate(phase.duration for phase in phases))
