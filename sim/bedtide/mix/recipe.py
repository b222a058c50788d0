"""A mix blended by volume from media whose curves are known."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import FieldError, RangeError, in_range
from bedtide.mix.hydraulics import conductivity, water_content
from bedtide.mix.media import RANGES, Mix, medium
from bedtide.squares import least_squares

_RETENTION_SUCTIONS = np.geomspace(0.005, 20.0, 60)  # where retention is matched [m]
_WICKING_SUCTIONS = np.geomspace(0.02, 1.0, 40)  # where conductivity is matched [m]
_LOWEST_L, _HIGHEST_L = RANGES["l"][:2]
_ROUNDING = 0.005  # shares may miss 100 % by this much
_STEP = 1e-5  # of the slopes of the fit


def blend(parts: Mapping[str, float] | Mapping[Mix, float], *, name: str = "") -> Mix:
    r"""Mix blended by volume: an approximation, not a measurement.

    Answers: roughly what does three parts of peat and one of perlite do with water.
    Takes no account of fine particles that fill the gaps between coarse ones: a real blend of
    unlike sizes has less porosity and less air than this.

    Parameters
    ----------
    parts : mapping of str or Mix to float
        Parts by volume [1]: ``{"peat": 3, "perlite": 1}``. If all are below one they are taken
        for shares and must add up to one.
    name : str, optional
        What to call it; made from the parts if empty.

    Returns
    -------
    Mix
        With the quality of the fit and what was assumed in its notes.

    Raises
    ------
    RangeError
        If a part is not positive, or shares do not add up to one.
    FieldError
        If there is no part.
    ChoiceError
        If a name is not in the table of media.

    Notes
    -----
    With volume shares :math:`w_i`, at a set of suctions,

    .. math:: \theta(s) = \sum_i w_i \theta_i(s), \quad \ln K(s) = \sum_i w_i \ln K_i(s)

    then :math:`\theta_r, \alpha, n` are refitted by least squares to the first over 0.005 to
    20 m, :math:`\theta_s` and :math:`K_s` being those of the blend, and :math:`l` to the second
    over 0.02 to 1 m. The geometric mean is exact for flow in two dimensions through a random
    two-part medium of equal shares [1]_; as a rule for blends it is an assumption of ours. The
    spread of `k_s` and `alpha` is the widest factor of any part.

    References
    ----------
    .. [1] Matheron G. (1967). Elements pour une theorie des milieux poreux. Masson, Paris.
       From memory.
    """
    mixes, shares = _shares(parts)
    title = name or ", ".join(
        f"{share:.0%} {mix.name}" for mix, share in zip(mixes, shares, strict=True)
    )
    if len(mixes) == 1:
        return replace(mixes[0], name=title if name else mixes[0].name)

    def mean(of: Callable[[Mix], Any]) -> Any:
        return sum(share * of(mix) for mix, share in zip(mixes, shares, strict=True))

    theta_s = float(mean(lambda m: m.theta_s))
    k_s = float(np.exp(mean(lambda m: np.log(m.k_s))))
    theta_r, alpha, n, misfit = _fit_retention(
        mean(lambda m: water_content(_RETENTION_SUCTIONS, m)),
        theta_s,
        float(mean(lambda m: m.theta_r)),
        float(np.exp(mean(lambda m: np.log(m.alpha)))),
        float(mean(lambda m: m.n)),
    )
    blended = Mix(
        name=title,
        theta_r=theta_r,
        theta_s=theta_s,
        alpha=alpha,
        n=n,
        k_s=k_s,
        l=0.0,
        bulk_density=float(mean(lambda m: m.bulk_density)),
        k_s_low=k_s * min(m.k_s_low / m.k_s for m in mixes),
        k_s_high=k_s * max(m.k_s_high / m.k_s for m in mixes),
        alpha_low=max(0.01, alpha * min((m.alpha_low or m.alpha) / m.alpha for m in mixes)),
        alpha_high=min(1e3, alpha * max((m.alpha_high or m.alpha) / m.alpha for m in mixes)),
        l_low=0.0,
        l_high=0.0,
    )
    exponent, ratio = _fit_exponent(
        mean(lambda m: np.log(conductivity(_WICKING_SUCTIONS, m))), blended
    )
    return replace(
        blended,
        l=exponent,
        l_low=max(_LOWEST_L, exponent + min(m.l_low - m.l for m in mixes)),
        l_high=min(_HIGHEST_L, exponent + max(m.l_high - m.l for m in mixes)),
        sources=tuple(dict.fromkeys(key for m in mixes for key in m.sources)),
        standing="blended: an approximation",
        parts=tuple((mix.name, share) for mix, share in zip(mixes, shares, strict=True)),
        notes=(
            "Blended by volume from the curves of its parts, an approximation: real blends have "
            "less air where fine particles fill the gaps between coarse ones.",
            f"The refitted curve is within {100 * misfit:.1f} points of water content of the "
            f"blended one, its conductivity within a factor of {ratio:.2g} up to 1 m of suction.",
            "Spread of conductivity and alpha: the widest factor of any part.",
        ),
    )


def _shares(
    parts: Mapping[str, float] | Mapping[Mix, float],
) -> tuple[list[Mix], list[float]]:
    """Mixes and their volume shares, which add up to one."""
    if not parts:
        raise FieldError("recipe", "names no medium", expected='{ "medium" = "60 %", ... }')
    for key, amount in parts.items():
        label = key if isinstance(key, str) else key.name
        in_range(amount, 0.0, np.inf, where=f"recipe, {label}", unit="parts", open_low=True)
    amounts, total = parts.values(), sum(parts.values())
    if max(amounts) < 1.0 and abs(total - 1.0) > _ROUNDING:
        raise RangeError(
            "recipe",
            f"the shares add up to {100 * total:.4g} %",
            expected="shares that add up to 100 %, or whole parts such as 3 and 1",
        )
    mixes = [medium(key, where="recipe") if isinstance(key, str) else key for key in parts]
    return mixes, [amount / total for amount in amounts]


def _fit_retention(
    held: NDArray[np.float64], theta_s: float, theta_r: float, alpha: float, n: float
) -> tuple[float, float, float, float]:
    """Residual water, alpha, n, and the largest misfit of the least-squares curve."""

    def curve(p: NDArray[np.float64]) -> NDArray[np.float64]:
        shape = 1.0 + np.exp(p[2])
        x = (np.exp(p[1]) * _RETENTION_SUCTIONS) ** shape
        content: NDArray[np.float64] = p[0] + (theta_s - p[0]) * (1.0 + x) ** (1.0 / shape - 1.0)
        return content

    def off(p: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        each = _STEP * np.eye(3)
        slope = [(curve(p + step) - curve(p - step)) / (2.0 * _STEP) for step in each]
        return curve(p) - held, np.stack(slope, axis=1)

    found = least_squares(
        off,
        np.array([theta_r, np.log(alpha), np.log(n - 1.0)]),
        np.array([0.0, np.log(0.1), np.log(0.02)]),
        np.array([float(held[-1]), np.log(900.0), np.log(8.0)]),
        close=1e-9,
    )
    misfit = float(np.max(np.abs(curve(found) - held)))
    return float(found[0]), float(np.exp(found[1])), float(1.0 + np.exp(found[2])), misfit


def _fit_exponent(ln_k: NDArray[np.float64], blended: Mix) -> tuple[float, float]:
    """Mualem exponent that best gives these conductivities, and the worst factor left."""
    ln_base = np.log(conductivity(_WICKING_SUCTIONS, blended))
    share = (water_content(_WICKING_SUCTIONS, blended) - blended.theta_r) / (
        blended.theta_s - blended.theta_r
    )
    ln_s = np.log(share)
    exponent = float(np.clip(((ln_k - ln_base) @ ln_s) / (ln_s @ ln_s), _LOWEST_L, _HIGHEST_L))
    left = np.max(np.abs(ln_k - ln_base - exponent * ln_s))
    return exponent, float(np.exp(left))
