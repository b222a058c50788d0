"""What lies at a height of a bed and below it: the room within its walls, open water, mix.

Heights run upward from the floor of the liner. A new form is one model here, with its name, its
crown, its foot, and the two functions of height: `shares` at a height and `below` it, from which
`level` goes back; and a line in `FORMS`. All are per plan area of the bed; `Walls` says how much of
it lies within the walls at a height, which may lean.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from pydantic import Field, ValidationInfo, field_validator
from pydantic.dataclasses import dataclass

from bedtide.bed import quantities as q
from bedtide.bed.quantities import WRITTEN, at, closest, keys_of, read, refused, said
from bedtide.errors import ChoiceError, FieldError, RangeError

_STEPS = 12  # Newton steps in a circle; the worst start is right to the last digit after eight
_WALL_STEPS = 30  # between walls, at the most; a straight wall takes one, a tub five


class Walls(NamedTuple):
    """Inside of a box: four flat walls from the rectangle of its floor to that of its rim."""

    length: float  # at the rim [m]
    width: float
    length_at_floor: float  # [m]
    width_at_floor: float
    depth: float  # from floor to rim [m]

    @property
    def area(self) -> float:
        """Plan area: that of the rim, which catches rain [m2]."""
        return self.length * self.width

    @property
    def floor(self) -> float:
        """Area of the floor [m2]."""
        return self.length_at_floor * self.width_at_floor

    def share(self, height: ArrayLike) -> Any:
        r"""Area at a height above the floor [m] over the plan area, shape (...) [1].

        .. math:: \frac{(L_0 + a z)(W_0 + b z)}{L W}, \quad
                  a = \frac{L - L_0}{D}, \; b = \frac{W - W_0}{D}

        with :math:`L_0, W_0` at the floor, :math:`L, W` at the rim, :math:`D` `depth`; exactly 1
        where the walls are upright. Heights are held within floor and rim. Geometry, no source.
        """
        z = np.clip(np.asarray(height, dtype=np.float64), 0.0, self.depth)
        constant, linear, square = self._terms()
        return (constant + z * (linear + z * square))[()]

    def below(self, height: ArrayLike) -> Any:
        r"""Volume below a height above the floor [m] over the plan area, shape (...) [m].

        The integral of `share`, a cubic, exactly the height where the walls are upright: the
        prismatoid's :math:`\tfrac{h}{6}(A_0 + 4 A_m + A_1)` in other words. Weisstein, E. W.
        "Prismatoid". MathWorld, from memory; checked by hand in tests/unit/bed/test_walls.py.
        """
        z = np.clip(np.asarray(height, dtype=np.float64), 0.0, self.depth)
        constant, linear, square = self._terms()
        return (z * (constant + z * (linear / 2.0 + z * square / 3.0)))[()]

    def level(self, volume: ArrayLike) -> Any:
        """Height [m] below which a volume over the plan area [m] lies, `below` back, by Newton."""
        whole = np.clip(np.asarray(volume, dtype=np.float64), 0.0, self.below(self.depth))
        z = np.minimum(whole / self._terms()[0], self.depth)
        for _ in range(_WALL_STEPS):
            step = (self.below(z) - whole) / self.share(z)
            z = z - step
            if not np.any(np.abs(step) > 1e-15):
                break
        return np.asarray(z)[()]

    def _terms(self) -> tuple[float, float, float]:
        """Share of the area as constant [1], linear [m-1] and square [m-2] terms of the height."""
        if self.floor == self.area:
            return 1.0, 0.0, 0.0
        a = (self.length - self.length_at_floor) / self.depth
        b = (self.width - self.width_at_floor) / self.depth
        linear = a * self.width_at_floor + b * self.length_at_floor
        return self.floor / self.area, linear / self.area, a * b / self.area


class Parts(NamedTuple):
    """What lies at a height [1], or below it [m]: water's room, and mix."""

    void: Any
    mix: Any


def chord(depth: ArrayLike, radius: float) -> Any:
    r"""Width [m] of a circle of a `radius` [m] at a height above its lowest point [m], shape (...).

    How wide is the water in a round pipe: :math:`2 \sqrt{y (2 r - y)}`, zero outside it, by the
    theorem of the intersecting chords (Euclid, Elements III.35).
    """
    y = np.clip(np.asarray(depth, dtype=np.float64), 0.0, 2.0 * radius)
    return (2.0 * np.sqrt(y * (2.0 * radius - y)))[()]


def segment_area(depth: ArrayLike, radius: float) -> Any:
    r"""Area [m2] of a circle of a `radius` [m] below a height above its lowest point [m].

    How much water stands in a round pipe, per length of pipe; none below, all above, shape (...).

    .. math:: A = \tfrac12 r^2 (\theta - \sin\theta), \quad \theta = 4 \arcsin\sqrt{y / 2 r}

    :math:`\theta` is the angle that the segment takes at the centre; written with the arcsine it
    keeps its digits where little water is left. Weisstein, E. W. "Circular Segment". MathWorld,
    Eq. 13 (from memory), as in any handbook; tests/published/test_circle_segment.py.
    """
    y = np.clip(np.asarray(depth, dtype=np.float64), 0.0, 2.0 * radius)
    theta = 4.0 * np.arcsin(np.sqrt(y / (2.0 * radius)))
    return (0.5 * radius**2 * (theta - np.sin(theta)))[()]


def segment_depth(area: ArrayLike, radius: float) -> Any:
    r"""Height [m] above the lowest point of a circle below which an area [m2] lies, shape (...).

    The inverse of `segment_area`, the area held within zero and the whole circle. Solves
    :math:`\theta - \sin\theta = 2 A / r^2` by Newton's method for the smaller of the segment and
    its complement, where the left side is convex, so that every step after the first comes from
    the same side. The start :math:`(6 \cdot 2 A / r^2)^{1/3}` is the first term of the series of
    :math:`\theta - \sin\theta`.
    """
    whole = 2.0 * np.pi
    twice = np.clip(2.0 * np.asarray(area, dtype=np.float64) / radius**2, 0.0, whole)
    upper = twice > np.pi
    smaller = np.where(upper, whole - twice, twice)
    theta = np.cbrt(6.0 * smaller)
    for _ in range(_STEPS):
        slope = 1.0 - np.cos(theta)
        safe = np.where(slope > 0.0, slope, 1.0)
        theta = np.where(slope > 0.0, theta - (theta - np.sin(theta) - smaller) / safe, theta)
    y = 2.0 * radius * np.sin(0.25 * theta) ** 2
    return np.where(upper, 2.0 * radius - y, y)[()]


@dataclass(config=WRITTEN, frozen=True)
class Pipes:
    """Round perforated pipes lying on the floor, mix packed between them down to the floor.

    `inside` and `outside` diameter [m], `count` of runs side by side [1], `run`, their length [m].
    A description may give the `gap` between them [m] in place of the count, and no run; both are 0
    then until the bed works them out from its box.
    """

    inside: q.Bore = Field(examples=['"4 in"'])
    outside: q.Bore = Field(examples=['"4 3/4 in"'])
    count: q.Count = Field(default=0, examples=["5"])
    gap: q.Gap | None = Field(default=None, kw_only=True, examples=['"3 cm"'])
    run: q.Side = Field(default=0.0, examples=['"2.3 m"'])
    form: ClassVar[str] = "pipes"

    @property
    def crown(self) -> float:
        """Height of the top [m]."""
        return self.outside

    @property
    def foot(self) -> float:
        """Height down to which mix that wicks reaches [m]."""
        return 0.0

    @property
    def wall(self) -> float:
        """Thickness of the wall under the water: half of outside less inside diameter [m]."""
        return 0.5 * (self.outside - self.inside)

    def shares(self, height: ArrayLike, walls: Walls) -> Parts:
        r"""Shares of the plan area that are void and mix at a height [m], shape (...) [1].

        The chords of the inside and the outside circle, times run and count over the plan area,

        .. math:: f_v = \frac{N L}{A} \, 2 \sqrt{(z - t)(D_i + t - z)}, \quad
                  f_m = s(z) - \frac{N L}{A} \, 2 \sqrt{z (D_o - z)}

        with :math:`t` the `wall`, which is neither void nor mix, and :math:`s` the share of the
        plan area within the walls, 1 where they are upright. Geometry, no source.
        """
        z = np.asarray(height, dtype=np.float64)
        per_area = self.count * self.run / walls.area
        void = chord(z - self.wall, 0.5 * self.inside) * per_area
        return Parts(void[()], (walls.share(z) - chord(z, 0.5 * self.outside) * per_area)[()])

    def below(self, height: ArrayLike, walls: Walls) -> Parts:
        r"""Void and mix below a height [m], over the plan area, shape (...) [m].

        :math:`\int_0^z f \, dz` of `shares`, in closed form by `segment_area`.
        """
        h = np.asarray(height, dtype=np.float64)
        per_area = self.count * self.run / walls.area
        void = segment_area(h - self.wall, 0.5 * self.inside) * per_area
        pipes = segment_area(h, 0.5 * self.outside) * per_area
        return Parts(void[()], (walls.below(h) - pipes)[()])

    def level(self, store: ArrayLike, walls: Walls) -> Any:
        """Height [m] below which a depth of open water over the plan area [m] lies, by Newton."""
        per_run = np.asarray(store, dtype=np.float64) * (walls.area / (self.count * self.run))
        return (self.wall + segment_depth(per_run, 0.5 * self.inside))[()]


@dataclass(config=WRITTEN, frozen=True)
class Layer:
    """A reservoir of one height with legs or columns of mix through it.

    `height` of the layer [m], `void_share` of it beside the legs that water can fill [1],
    `wick_share` of the plan area that is legs or columns of mix, zero where nothing wicks [1],
    `wick_foot`, the height of their foot above the floor [m], below which there is no mix.
    """

    height: q.Depth = Field(examples=['"15 cm"'])
    void_share: q.SomeShare = Field(examples=['"95 %"'])
    wick_share: q.PartShare = Field(examples=['"12 %"'])
    wick_foot: q.Height = Field(default=None, validate_default=True, examples=['"0 cm"'])
    form: ClassVar[str] = ""

    @field_validator("wick_foot", mode="before")
    @classmethod
    def _find_foot(cls, given: Any, info: ValidationInfo) -> Any:
        """Without legs no foot is asked for."""
        if given is None and info.data.get("wick_share", 0.0) > 0.0:
            height = 'height of the foot of the mix above the floor, such as  wick_foot = "0 cm"'
            reach = "Water below the foot is out of the plants' reach"
            raise refused(FieldError("", "missing", height, hint=reach))
        return "0 m" if given is None else given

    @field_validator("wick_foot")
    @classmethod
    def _check_foot(cls, foot: float, info: ValidationInfo) -> float:
        height = info.data.get("height")
        if height is not None and foot >= height:
            top = said(height, "m", at(info.context, "reservoir.height"))
            less = f'less than {top}, or wick_share = "0 %" where nothing wicks'
            problem = f"not below the top of the reservoir at {top}"
            raise refused(RangeError("", problem, less))
        return foot

    @property
    def crown(self) -> float:
        """Height of the top [m]."""
        return self.height

    @property
    def foot(self) -> float:
        """Height down to which mix that wicks reaches: the crown where there are no legs [m]."""
        return self.wick_foot if self.wick_share > 0.0 else self.height

    def shares(self, height: ArrayLike, walls: Walls) -> Parts:
        r"""Shares of the plan area that are void and mix at a height [m], shape (...) [1].

        At a foot or a crown itself those just above.

        .. math:: f_v = \varphi (1 - w)\, s(z), \quad f_m = w\, s(z)

        above the foot, :math:`f_v = \varphi\, s(z)` and no mix below it; :math:`\varphi`
        `void_share`, :math:`w` `wick_share`, :math:`s` the share of the plan area within the
        walls, 1 where they are upright. Geometry, no source.
        """
        z = np.asarray(height, dtype=np.float64)
        within = walls.share(z)
        beside = self.void_share * (1.0 - self.wick_share)
        void = np.where(z < self.foot, self.void_share, beside)
        void = np.where((z < 0.0) | (z >= self.height), 0.0, void)
        mix = np.where(z < self.foot, 0.0, self.wick_share)
        return Parts((within * void)[()], (within * np.where(z >= self.height, 1.0, mix))[()])

    def below(self, height: ArrayLike, walls: Walls) -> Parts:
        r"""Void and mix below a height [m], over the plan area, shape (...) [m].

        :math:`\int_0^z f \, dz` of `shares`, from the volumes below foot, crown and height.
        """
        z = np.asarray(height, dtype=np.float64)
        foot, inside, all_of_it = (
            walls.below(np.minimum(z, top)) for top in (self.foot, self.height, np.inf)
        )
        beside = inside - foot
        void = self.void_share * (foot + (1.0 - self.wick_share) * beside)
        return Parts(void[()], (self.wick_share * beside + (all_of_it - inside))[()])

    def level(self, store: ArrayLike, walls: Walls) -> Any:
        """Height [m] below which a depth of open water over the plan area [m] lies."""
        room = np.asarray(store, dtype=np.float64) / self.void_share
        foot, inside = walls.below(self.foot), walls.below(self.height)
        beside = np.maximum(room - foot, 0.0) / (1.0 - self.wick_share)
        return walls.level(np.minimum(np.minimum(room, foot) + beside, inside))


@dataclass(config=WRITTEN, frozen=True)
class Crates(Layer):
    """Void crates with legs of mix between them."""

    form: ClassVar[str] = "crates"


@dataclass(config=WRITTEN, frozen=True)
class FalseFloor(Layer):
    """A floor on supports with legs of mix through it."""

    form: ClassVar[str] = "false floor"


@dataclass(config=WRITTEN, frozen=True)
class Stone(Layer):
    """Stone with columns of mix through it; the stone itself does not wick."""

    void_share: q.SomeShare = Field(examples=['"40 %"'])
    form: ClassVar[str] = "stone"


Reservoir = Pipes | Crates | FalseFloor | Stone
FORMS: Final[dict[str, type[Reservoir]]] = {
    form.form: form for form in (Pipes, Crates, FalseFloor, Stone)
}


def form_keys() -> dict[str, dict[str, str]]:
    """Forms of reservoir that can be described, with their keys and an example of each value."""
    return {name: {"form": "", **keys_of(form)} for name, form in FORMS.items()}


def read_reservoir(given: Any, info: ValidationInfo) -> Any:
    """Reservoir of a section, by its form."""
    if not isinstance(given, Mapping):
        return given
    keys = dict(given)
    form = keys.pop("form", None)
    name = str(form).strip().lower()
    if name in FORMS:
        return read(FORMS[name], keys, info)
    known = "one of: " + ", ".join(FORMS)
    if form is None:
        raise refused(FieldError("form", "missing", known))
    hint = closest(str(form), FORMS)
    if name in ("saucer", "saucers"):
        hint = (
            "A saucer holds its water beside the pot, open to sun and wind, which is not worked "
            'out; a pot with a store inside is a "false floor" or "stone" under its mix'
        )
    problem = "there is no such form of reservoir"
    raise refused(ChoiceError("form", problem, known, hint=hint))
