"""The bed as frozen typed objects in SI units: they hold, and compute nothing."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from bedtide.bed.forms import Reservoir

if TYPE_CHECKING:
    from bedtide.crop import Planting
    from bedtide.mix import Mix

MonthDay = tuple[int, int]
OverflowState = Literal["open", "blocked", "none"]
WateringTime = Literal["below share", "every n days", "weekdays", "never"]


@dataclass(frozen=True)
class Box:
    """The lined box, measured inside.

    Attributes
    ----------
    length, width : float
        Inside the liner [m].
    depth : float
        From the floor of the liner to the rim [m].
    freeboard : float
        From the mix surface up to the rim [m].
    """

    length: float
    width: float
    depth: float
    freeboard: float


@dataclass(frozen=True)
class OverflowChange:
    """A height of the overflow that holds from a day on, until the next change.

    Attributes
    ----------
    start : date or (month, day)
        First day; a month and day return every year.
    height : float
        Height of the lip above the floor from then on [m].
    """

    start: datetime.date | MonthDay
    height: float


@dataclass(frozen=True)
class Overflow:
    """The outlet that sets the highest level.

    Attributes
    ----------
    height : float or None
        Height of its lower lip above the floor [m]; None only where there is no outlet.
    bore : float or None
        Inside diameter of the outlet [m]; None where it was not given.
    state : {"open", "blocked", "none"}
        Whether water can leave by it.
    changes : tuple of OverflowChange
        In the order of the calendar; all with full dates or all with month and day. Those with
        month and day go round the year, and then `height` itself holds on no day.
    """

    height: float | None
    bore: float | None = None
    state: OverflowState = "open"
    changes: tuple[OverflowChange, ...] = ()


@dataclass(frozen=True)
class Surface:
    """The top of the bed.

    Attributes
    ----------
    open_share : float
        Share of the plan area that rain can enter [1].
    mulch_share : float
        Share of the mix surface under mulch [1].
    """

    open_share: float = 1.0
    mulch_share: float = 0.0


@dataclass(frozen=True)
class Watering:
    """When the keeper fills the bed and how much; carried out by the daily balance.

    Attributes
    ----------
    when : {"below share", "every n days", "weekdays", "never"}
        The rule.
    share : float or None
        Share of the store below which it is filled [1]; with "below share".
    every : int or None
        Days from one filling to the next [d]; with "every n days".
    weekdays : tuple of int
        Monday is 0 [1]; with "weekdays".
    volume : float or None
        Fixed volume of each filling [m3]; None fills to the lip.
    check_every : int
        Days from one look at the level to the next [d].
    """

    when: WateringTime
    share: float | None = None
    every: int | None = None
    weekdays: tuple[int, ...] = ()
    volume: float | None = None
    check_every: int = 1

    @property
    def amount(self) -> float | Literal["to the lip"]:
        """The fixed volume [m3], or the words "to the lip"."""
        return "to the lip" if self.volume is None else self.volume


@dataclass(frozen=True)
class Site:
    """Where the bed stands.

    Attributes
    ----------
    latitude : float or None
        North positive [degrees]; None where the weather file is left to say it.
    elevation : float or None
        Above sea level [m]; None where the weather file is left to say it.
    exposure : float
        Factor on the evapotranspiration of the stand against the FAO-56 value for a field [1].
    """

    latitude: float | None = None
    elevation: float | None = None
    exposure: float = 1.0


@dataclass(frozen=True)
class Bed:
    """A sub-irrigated raised bed.

    Attributes
    ----------
    name : str
        What its keeper calls it.
    box : Box
        Inside measures.
    reservoir : Pipes, Crates, FalseFloor or Stone
        What forms the store.
    overflow : Overflow
        The outlet.
    wick_mix, top_mix : Mix
        The mix below and above the crown of the reservoir.
    surface : Surface
        Cover and mulch.
    plantings : tuple of Planting
        Crops with their dates and shares of the bed; empty for a bare bed.
    watering : Watering
        The keeper's rule.
    site : Site
        Place and exposure.
    start_level : float
        Share of the store that is full on the first day [1].
    description : str
        The TOML text that it was made from; not part of the comparison of two beds.
    """

    name: str
    box: Box
    reservoir: Reservoir
    overflow: Overflow
    wick_mix: Mix
    top_mix: Mix
    surface: Surface
    plantings: tuple[Planting, ...]
    watering: Watering
    site: Site = field(default_factory=Site)
    start_level: float = 1.0
    description: str = field(default="", compare=False, repr=False)
