"""Force and torque of one rolling pass, hot or cold, for whole arrays of passes.

F = w L k (exp(m) - 1)/m with L = sqrt(R' dh), m = mu L/h, R' = R (1 + C F/(w dh)). Nothing here
knows of steels.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gradekit.core.aliases import Numbers
from gradekit.works.tables import rule

# A roll flattened to more than this many times its radius does not reduce the strip any more.
_FLATTEST = 30.0
_ROUNDS = 60

#: Units of what a pass schedule tells of each pass.
PASS_UNITS = {
    "entry_mm": "mm", "exit_mm": "mm", "reduction_pct": "%", "temperature_C": "°C",
    "strain_rate_1_s": "1/s", "stress_MPa": "MPa", "force_MN": "MN", "torque_kNm": "kN m",
    "radius_mm": "mm", "heating_C": "°C", "bite_share": "1",
}  # fmt: skip


@dataclass(frozen=True)
class Pass:
    """One pass or an array of them: `force_MN`, `torque_kNm` of both rolls together (NaN without
    a lever arm), flattened radius `radius_mm`, contact length `contact_mm`."""

    force_MN: np.ndarray
    torque_kNm: np.ndarray
    radius_mm: np.ndarray
    contact_mm: np.ndarray


def roll(
    width_mm: Numbers,
    radius_mm: Numbers,
    entry_mm: Numbers,
    exit_mm: Numbers,
    stress_MPa: Numbers,
    friction: Numbers,
    lever_arm: float | None = None,
) -> Pass:
    """Return force and torque of a pass.

    Parameters
    ----------
    width_mm, radius_mm, entry_mm, exit_mm : arrays or numbers
        Strip width, roll radius, thickness before and after, mm.
    stress_MPa : array or number
        Mean uniaxial flow stress in the pass.
    friction : array or number
    lever_arm : float, optional
        Share of the contact length at which the force acts; by default the rule of the trade.

    Returns
    -------
    Pass
        The flattening is iterated to its end; beyond thirty radii the strip cannot be made
        thinner, and the force stays at that of thirty radii.

    Notes
    -----
    Sources: Hitchcock (flattening); constants of `strip_rules`.

    Examples
    --------
    >>> one = roll(1250, 60, 3.0, 2.4, 511, 0.06)
    >>> round(float(one.force_MN), 1), round(float(one.radius_mm))
    (5.1, 69)
    """
    given = (width_mm, radius_mm, entry_mm, exit_mm, stress_MPa, friction)
    width, radius, entry, leave, stress, mu = np.broadcast_arrays(
        *(np.asarray(x, dtype=float) for x in given)
    )
    draft, mean = entry - leave, 0.5 * (entry + leave)
    yielding = rule("plane_strain").least * stress
    soft = rule("roll_flattening").low
    arm = rule("lever_arm").least if lever_arm is None else lever_arm
    flat = radius.copy()

    def hill(length: np.ndarray) -> np.ndarray:
        m = np.clip(mu * length / mean, 1e-9, 50.0)
        return np.expm1(m) / m

    with np.errstate(invalid="ignore", divide="ignore"):
        for _ in range(_ROUNDS):
            # But for the slow friction term the flattened radius is the root of x² = R + b x.
            b = radius * soft * yielding * hill(np.sqrt(flat * draft)) / np.sqrt(draft)
            new = np.minimum((0.5 * (b + np.sqrt(b * b + 4.0 * radius))) ** 2, _FLATTEST * radius)
            done = not np.any(np.abs(new - flat) > 1e-5 * radius)
            flat = np.where(np.isnan(new), flat, new)
            if done:
                break
        length = np.sqrt(flat * draft)
        force = width * length * yielding * hill(length)
    # N mm is 1e-6 kN m; two rolls.
    return Pass(force / 1e6, 2.0 * arm * length * force / 1e6, flat, length)


def equivalent_strain(entry_mm: Numbers, exit_mm: Numbers) -> np.ndarray:
    """Return the plane-strain equivalent strain of a reduction.

    Examples
    --------
    >>> round(float(equivalent_strain(3.0, 2.4)), 4)
    0.2577
    """
    factor = rule("plane_strain").least
    return factor * np.log(np.asarray(entry_mm, dtype=float) / np.asarray(exit_mm, dtype=float))


def pass_strain_rate(radius_mm: Numbers, entry_mm: Numbers, exit_mm: Numbers, speed_m_s: Numbers):
    """Return the mean strain rate of a pass, 1/s: strain over the time in the roll gap.

    Examples
    --------
    >>> round(float(pass_strain_rate(350, 4.0, 3.0, 6.0)))
    107
    """
    draft = np.asarray(entry_mm, dtype=float) - np.asarray(exit_mm, dtype=float)
    seconds = np.sqrt(np.asarray(radius_mm) * draft) / (1000.0 * np.asarray(speed_m_s))
    return equivalent_strain(entry_mm, exit_mm) / seconds
