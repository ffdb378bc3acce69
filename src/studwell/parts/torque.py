"""Torque and axial force of a thread: tightening a nut, seating a stud, and whether the stud holds.

A torque over the axial force that it makes is a length, here called a torque factor (mm).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studwell.parts.arguments import Array, not_negative, positive
from studwell.parts.thread import FLANK_ANGLE


@dataclass(frozen=True)
class TorqueShares:
    """Shares of a tightening torque, each 0 to 1, together 1.

    pitch   : stretches the stud (the only useful part)
    thread  : rubs in the thread
    bearing : rubs under the nut
    """

    pitch: Array
    thread: Array
    bearing: Array


def thread_torque_factor(pitch: ArrayLike, pitch_diameter: ArrayLike, friction: ArrayLike) -> Array:
    """Return the torque that a thread takes per unit of axial force, advancing against it.

    P/(2 pi) + mu (d2/2)/cos 30: the pitch term and the thread friction term of the long form.

    pitch, pitch_diameter : float or array, mm
    friction              : float or array, 1, not negative
    returns               : float or array, mm (N mm per N)
    raises ValueError     : a size not above zero, or friction negative

    Source: Motosh 1976 (long form); Shigley ch. 8. Small helix angle.
    """
    return positive("pitch", pitch) / (2.0 * np.pi) + _thread_friction(pitch_diameter, friction)


def _thread_friction(pitch_diameter: ArrayLike, friction: ArrayLike) -> Array:
    mean = positive("pitch_diameter", pitch_diameter)
    return not_negative("friction", friction) * mean / 2.0 / np.cos(FLANK_ANGLE)


def bearing_torque_factor(bearing_diameter: ArrayLike, friction: ArrayLike) -> Array:
    """Return the torque that rubs under a turning nut per unit of axial force: mu D/2.

    bearing_diameter  : float or array, mean diameter of the rubbing ring, mm
    friction          : float or array, 1, not negative
    returns           : float or array, mm
    raises ValueError : diameter not above zero, or friction negative

    Source: Motosh 1976 (long form); VDI 2230.
    """
    return not_negative("friction", friction) * positive("bearing_diameter", bearing_diameter) / 2.0


def mean_bearing_diameter(outer_diameter: ArrayLike, inner_diameter: ArrayLike) -> Array:
    """Return the plain mean of the two diameters of a bearing ring, (Do + Di)/2.

    outer_diameter, inner_diameter : float or array, mm: bearing face of the nut (or washer), and the
                                     larger of hole and countersink
    returns                        : float or array, mm
    raises ValueError              : a size not above zero, or outer not larger than inner

    Source: VDI 2230 and ISO 16047 (from memory). friction_diameter is the other convention.
    """
    outer, inner = _ring(outer_diameter, inner_diameter)
    return (outer + inner) / 2.0


def friction_diameter(outer_diameter: ArrayLike, inner_diameter: ArrayLike) -> Array:
    """Return the friction diameter of a ring under uniform pressure, (2/3)(Do^3 - Di^3)/(Do^2 - Di^2).

    outer_diameter, inner_diameter : float or array, mm
    returns                        : float or array, mm, slightly above the plain mean
    raises ValueError              : a size not above zero, or outer not larger than inner

    Source: uniform-pressure clutch, Shigley ch. 16.
    """
    outer, inner = _ring(outer_diameter, inner_diameter)
    return 2.0 / 3.0 * (outer**3 - inner**3) / (outer**2 - inner**2)


def _ring(outer_diameter: ArrayLike, inner_diameter: ArrayLike) -> tuple[Array, Array]:
    outer, inner = positive("outer_diameter", outer_diameter), positive("inner_diameter", inner_diameter)
    if np.any(outer <= inner):
        raise ValueError(f"the outer diameter {outer} must exceed the inner {inner}")
    return outer, inner


def tightening_preload(
    torque: ArrayLike,
    pitch: ArrayLike,
    pitch_diameter: ArrayLike,
    thread_friction: ArrayLike,
    bearing_diameter: ArrayLike,
    bearing_friction: ArrayLike,
) -> Array:
    """Return the axial force that a tightening torque makes, long form.

    F = T / [P/(2 pi) + mu_t (d2/2)/cos 30 + mu_b D/2]

    torque                            : float or array, N mm
    pitch, pitch_diameter             : float or array, mm
    thread_friction, bearing_friction : float or array, 1
    bearing_diameter                  : float or array, mm
    returns                           : float or array, N
    raises ValueError                 : torque or a friction negative, or a size not above zero

    Source: Motosh 1976 (long form).
    """
    factor = thread_torque_factor(pitch, pitch_diameter, thread_friction)
    return not_negative("torque", torque) / (factor + bearing_torque_factor(bearing_diameter, bearing_friction))


def tightening_torque(
    preload: ArrayLike,
    pitch: ArrayLike,
    pitch_diameter: ArrayLike,
    thread_friction: ArrayLike,
    bearing_diameter: ArrayLike,
    bearing_friction: ArrayLike,
) -> Array:
    """Return the torque for an axial force, the inverse of tightening_preload.

    preload           : float or array, N
    other arguments   : as tightening_preload
    returns           : float or array, N mm
    raises ValueError : preload or a friction negative, or a size not above zero

    Source: Motosh 1976 (long form).
    """
    factor = thread_torque_factor(pitch, pitch_diameter, thread_friction)
    return not_negative("preload", preload) * (factor + bearing_torque_factor(bearing_diameter, bearing_friction))


def tightening_preload_exact(
    torque: ArrayLike,
    pitch: ArrayLike,
    pitch_diameter: ArrayLike,
    thread_friction: ArrayLike,
    bearing_diameter: ArrayLike,
    bearing_friction: ArrayLike,
) -> Array:
    """Return the axial force that a torque makes, with the inclined plane kept exact.

    F = T / [(d2/2) tan(psi + rho') + mu_b D/2], tan psi = P/(pi d2), tan rho' = mu_t/cos 30.

    arguments         : as tightening_preload
    returns           : float or array, N; a little below the long form
    raises ValueError : as tightening_preload, or a thread that locks (psi + rho' at 90 degrees)

    Source: inclined plane, Shigley ch. 8; VDI 2230.
    """
    step, mean = positive("pitch", pitch), positive("pitch_diameter", pitch_diameter)
    helix = np.arctan(step / (np.pi * mean))
    rubbing = np.arctan(not_negative("friction", thread_friction) / np.cos(FLANK_ANGLE))
    if np.any(helix + rubbing >= np.pi / 2.0):
        raise ValueError("the thread locks: helix and friction angle together reach 90 degrees")
    factor = mean / 2.0 * np.tan(helix + rubbing)
    return not_negative("torque", torque) / (factor + bearing_torque_factor(bearing_diameter, bearing_friction))


def tightening_preload_short(
    torque: ArrayLike,
    pitch: ArrayLike,
    pitch_diameter: ArrayLike,
    thread_friction: ArrayLike,
    bearing_diameter: ArrayLike,
    bearing_friction: ArrayLike,
) -> Array:
    """Return the axial force that a torque makes, with the rounded constants of the guideline.

    F = T / (0.16 P + 0.58 d2 mu_t + mu_b D/2)

    arguments         : as tightening_preload
    returns           : float or array, N
    raises ValueError : as tightening_preload

    Source: VDI 2230 (constants from memory; 0.16 is 1/(2 pi), 0.58 is 1/(2 cos 30)).
    """
    factor = 0.16 * positive("pitch", pitch) + 0.58 * positive("pitch_diameter", pitch_diameter) * not_negative(
        "friction", thread_friction
    )
    return not_negative("torque", torque) / (factor + bearing_torque_factor(bearing_diameter, bearing_friction))


def nut_factor(torque: ArrayLike, preload: ArrayLike, nominal_diameter: ArrayLike) -> Array:
    """Return the nut factor K = T/(F d).

    torque            : float or array, N mm
    preload           : float or array, N
    nominal_diameter  : float or array, mm
    returns           : float or array, 1
    raises ValueError : torque negative, preload or diameter not above zero

    Source: Shigley ch. 8 (torque coefficient).
    """
    force = positive("preload", preload) * positive("nominal_diameter", nominal_diameter)
    return not_negative("torque", torque) / force


def nut_factor_preload(torque: ArrayLike, factor: ArrayLike, nominal_diameter: ArrayLike) -> Array:
    """Return the axial force by the short form, F = T/(K d).

    torque            : float or array, N mm
    factor            : float or array, nut factor K, 1
    nominal_diameter  : float or array, mm
    returns           : float or array, N
    raises ValueError : torque negative, factor or diameter not above zero

    For a nut. A stud driven on its tip has no nut: use wedge_force. Source: Shigley ch. 8.
    """
    lever = positive("factor", factor) * positive("nominal_diameter", nominal_diameter)
    return not_negative("torque", torque) / lever


def torque_shares(
    pitch: ArrayLike,
    pitch_diameter: ArrayLike,
    thread_friction: ArrayLike,
    bearing_diameter: ArrayLike,
    bearing_friction: ArrayLike,
) -> TorqueShares:
    """Return where a tightening torque goes: pitch, thread friction, bearing friction.

    arguments         : as tightening_preload, without torque
    returns           : TorqueShares; pitch and thread together go down the stud
    raises ValueError : as tightening_preload

    Source: Motosh 1976 (long form).
    """
    stretch = positive("pitch", pitch) / (2.0 * np.pi)
    rub = _thread_friction(pitch_diameter, thread_friction)
    under = bearing_torque_factor(bearing_diameter, bearing_friction)
    total = stretch + rub + under
    return TorqueShares(stretch / total, rub / total, under / total)


def flat_tip_torque_factor(tip_radius: ArrayLike, friction: ArrayLike) -> Array:
    """Return the torque that a flat tip turning on the floor rubs away per unit of force: (2/3) mu r.

    tip_radius        : float or array, mm, of the flat under uniform pressure
    friction          : float or array, 1, not negative
    returns           : float or array, mm
    raises ValueError : radius not above zero, or friction negative

    Source: solid pivot under uniform pressure, any machine design text (Shigley ch. 16).
    """
    return 2.0 / 3.0 * not_negative("friction", friction) * positive("tip_radius", tip_radius)


def cone_tip_torque_factor(contact_radius: ArrayLike, half_angle: ArrayLike, friction: ArrayLike) -> Array:
    """Return the torque that a tip edge turning on a drill cone rubs away per unit of force.

    mu r / sin(half angle): the normal force on the cone exceeds the axial force by 1/sin.

    contact_radius    : float or array, mm, of the edge that touches
    half_angle        : float or array, radian, half of the cone's included angle
    friction          : float or array, 1, not negative
    returns           : float or array, mm
    raises ValueError : radius not above zero, friction negative, or half angle outside 0..pi/2

    Source: cone clutch, Shigley ch. 16; at pi/2 it is a flat ring.
    """
    angle = positive("half_angle", half_angle)
    if np.any(angle > np.pi / 2.0):
        raise ValueError(f"half_angle must be at most pi/2 radian, not {angle}")
    rubbing = not_negative("friction", friction) * positive("contact_radius", contact_radius)
    return rubbing / np.sin(angle)


def wedge_force(
    torque: ArrayLike,
    pitch: ArrayLike,
    pitch_diameter: ArrayLike,
    thread_friction: ArrayLike,
    tip_factor: ArrayLike,
) -> Array:
    """Return the force between tip and floor that a seating torque drives in.

    W = T / [P/(2 pi) + mu_t (d2/2)/cos 30 + tip factor]

    torque                : float or array, N mm
    pitch, pitch_diameter : float or array, mm
    thread_friction       : float or array, 1
    tip_factor            : float or array, mm, of flat_tip_torque_factor or cone_tip_torque_factor
    returns               : float or array, N
    raises ValueError     : torque, friction or tip factor negative, or a size not above zero

    Source: Motosh 1976 (long form) with a pivot in the place of the nut face.
    """
    factor = thread_torque_factor(pitch, pitch_diameter, thread_friction)
    return not_negative("torque", torque) / (factor + not_negative("tip_factor", tip_factor))


def seating_torque(
    force: ArrayLike,
    pitch: ArrayLike,
    pitch_diameter: ArrayLike,
    thread_friction: ArrayLike,
    tip_factor: ArrayLike,
) -> Array:
    """Return the torque that drives a wedge force in, the inverse of wedge_force.

    force             : float or array, N
    other arguments   : as wedge_force
    returns           : float or array, N mm
    raises ValueError : force, friction or tip factor negative, or a size not above zero

    Source: Motosh 1976 (long form) with a pivot in the place of the nut face.
    """
    factor = thread_torque_factor(pitch, pitch_diameter, thread_friction)
    return not_negative("force", force) * (factor + not_negative("tip_factor", tip_factor))


def hold_share(
    stud_tension: ArrayLike,
    nut_thread_factor: ArrayLike,
    thread_load: ArrayLike,
    boss_thread_factor: ArrayLike,
    tip_force: ArrayLike,
    tip_factor: ArrayLike,
    lock_torque: ArrayLike,
) -> Array:
    """Return the torque that the nut sends down the stud over the torque that holds the stud.

    Down the stud go the pitch and friction terms of the nut thread at the stud tension S. Turning on
    with the nut, the stud would climb against the load L on its boss thread, rub its tip under W and
    break the lock: S f_nut / (L f_boss + W f_tip + T_lock). Below 1 the stud stands, above it follows.

    stud_tension, thread_load, tip_force : float or array, N (S, L, W)
    nut_thread_factor, boss_thread_factor : float or array, mm, of thread_torque_factor
    tip_factor                           : float or array, mm; zero where the tip is free
    lock_torque                          : float or array, N mm, break-away torque of the thread's lock
    returns                              : float or array, 1; infinite where nothing holds the stud
    raises ValueError                    : an argument negative or not finite

    With equal threads, equal friction and a free tip it is exactly 1: only lock or tip tips the scale.
    Source: moment balance of the stud about its axis; Motosh 1976 for each thread's torque.
    """
    down = not_negative("stud_tension", stud_tension) * not_negative("nut_thread_factor", nut_thread_factor)
    holding = (
        not_negative("thread_load", thread_load) * not_negative("boss_thread_factor", boss_thread_factor)
        + not_negative("tip_force", tip_force) * not_negative("tip_factor", tip_factor)
        + not_negative("lock_torque", lock_torque)
    )
    down, holding = np.broadcast_arrays(down, holding)
    idle = np.where(down > 0.0, np.inf, 0.0)
    return np.where(holding > 0.0, down / np.where(holding > 0.0, holding, 1.0), idle)
