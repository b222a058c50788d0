"""A mix from a measurement that any grower can make with a container and a scale."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log

from bedtide.errors import InputError, RangeError, collect, raise_all
from bedtide.mix.hydraulics import mean_water_content
from bedtide.mix.media import Mix, medium

_ALPHA = (0.5, 500.0)  # finest and coarsest mix that a bench measurement may give [m-1]


def fit_bench(
    height: float,
    total_porosity: float,
    air_after_draining: float,
    *,
    like: str | Mix = "potting mix",
    name: str = "measured mix",
    bulk_density: float | None = None,
) -> Mix:
    r"""Mix whose drained container holds the air that was measured.

    Answers: what mix do I have, given a pot that I filled, soaked and let drain.
    Total porosity is the water that fills the dry mix over the volume; the air is the water
    that then runs out over the volume. One measurement fixes one number: `alpha`. All else
    comes from the medium it is said to be like.

    Parameters
    ----------
    height : float
        Height of mix in the container, which has straight walls [m].
    total_porosity : float
        Water content when all gaps are full [m3 m-3].
    air_after_draining : float
        Mean air content after draining to rest [m3 m-3].
    like : str or Mix, default "potting mix"
        The medium that lends `n`, the residual share, conductivity and their spread.
    name : str, default "measured mix"
        What to call it.
    bulk_density : float, optional
        Dry mass over volume [kg m-3]; that of `like` if None.

    Returns
    -------
    Mix
        With the assumptions in its notes.

    Raises
    ------
    RangeError
        If a number is impossible, or no retention curve of this shape can have drained so.

    Notes
    -----
    Solves for :math:`\alpha` in :math:`\epsilon - \bar\theta(H; \alpha) = a` with
    :math:`\epsilon` `total_porosity`, :math:`a` `air_after_draining` and the container integral
    :math:`\bar\theta` of `mean_water_content` [1]_. The residual water content keeps the share
    of total porosity that it has in `like`.

    References
    ----------
    .. [1] Fonteno W.C. (1989). An approach to modeling air and water status of horticultural
       substrates. Acta Hort. 238: 67-74. From memory.
    """
    from scipy.optimize import brentq

    errors: list[InputError] = []
    collect(errors, height, 0.02, 2.0, where="height of the container", unit="m")
    collect(errors, total_porosity, 0.2, 0.99, where="total porosity", unit="m3 m-3")
    collect(
        errors,
        air_after_draining,
        0.001,
        min(max(total_porosity - 0.001, 0.001), 0.99),
        where="air after draining",
        unit="m3 m-3",
        hint="It is a part of the total porosity, so it must be less than it",
    )
    raise_all(errors)
    model = medium(like, where=f"{name}, like") if isinstance(like, str) else like
    theta_r = model.theta_r / model.theta_s * total_porosity
    base = replace(
        model,
        name=name,
        theta_r=theta_r,
        theta_s=total_porosity,
        alpha_low=None,
        alpha_high=None,
        bulk_density=model.bulk_density if bulk_density is None else bulk_density,
        standing="fitted to a bench measurement",
        notes=(),
        parts=(),
    )

    def air(alpha: float) -> float:
        return total_porosity - float(mean_water_content(height, replace(base, alpha=alpha)))

    least, most = air(_ALPHA[0]), air(_ALPHA[1])
    if not least <= air_after_draining <= most:
        raise RangeError(
            f"{name}, air after draining",
            f"{air_after_draining:.1%} of air is more or less than a mix like {model.name} can "
            f"have in a container {100 * height:.3g} cm high",
            expected=f"between {least:.1%} and {most:.1%}",
            hint="Measure again, or name a medium that resembles it more",
        )
    alpha = exp(brentq(lambda x: air(exp(x)) - air_after_draining, *map(log, _ALPHA), xtol=1e-12))
    lent = "its residual share, n, K_s, l" + ("" if bulk_density else ", bulk density")
    return replace(
        base,
        alpha=alpha,
        notes=(
            f"alpha {alpha:.3g} 1/m fitted so that a drained container {100 * height:.3g} cm "
            f"high holds {air_after_draining:.1%} air of {total_porosity:.1%} porosity.",
            f"Taken from {model.name}, not measured: {lent} and the spread of conductivity.",
        ),
    )
