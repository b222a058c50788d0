"""The sections of a bed description as typed tables: which keys there are, and of which kind."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from bedtide.bed import quantities as q
from bedtide.errors import nearest_names


def _word(*offered: str) -> BeforeValidator:
    """Reader of one of a few words, letter case aside."""

    def read(given: Any) -> str:
        for word in offered:
            if isinstance(given, str) and given.strip().lower() == word:
                return word
        close = nearest_names(str(given), offered, most=1)
        raise q.fault(
            "choice",
            "not one of the words known here",
            expected="one of: " + ", ".join(offered),
            hint=f'Closest: "{close[0]}"' if close else "",
        )

    return BeforeValidator(read)


class Table(BaseModel):
    """A table of the description: no key that is not known."""

    model_config = ConfigDict(extra="forbid", frozen=True, hide_input_in_errors=True)


class BedTable(Table):
    """[bed]."""

    name: q.Name = Field(examples=['"Kitchen bed"'])


class BoxTable(Table):
    """[box]: measured inside the liner."""

    length: q.Side = Field(examples=['"2.4 m"'])
    width: q.Side = Field(examples=['"0.62 m"'])
    depth: q.Depth = Field(examples=['"42 cm"'])
    freeboard: q.Height = Field(examples=['"3 cm"'])


class PipesTable(Table):
    """[reservoir] with form = "pipes"."""

    form: Annotated[Literal["pipes"], _word("pipes")]
    inside: q.Bore = Field(examples=['"4 in"'])
    outside: q.Bore = Field(examples=['"4 3/4 in"'])
    count: q.Count | None = Field(None, examples=["5"])
    gap: q.Gap | None = Field(None, examples=['"3 cm"'])
    run: q.Side | None = Field(None, examples=['"2.3 m"'])


class LayerTable(Table):
    """[reservoir] with form = "crates", "false floor" or "stone"."""

    form: Annotated[
        Literal["crates", "false floor", "stone"], _word("crates", "false floor", "stone")
    ]
    height: q.Depth = Field(examples=['"15 cm"'])
    void_share: q.SomeShare = Field(examples=['"95 %"'])
    wick_share: q.PartShare = Field(examples=['"12 %"'])
    wick_foot: q.Height | None = Field(None, examples=['"0 cm"'])


class ChangeTable(Table):
    """[[overflow.change]]: another height from a day on."""

    start: q.DayOfYear = Field(alias="from", examples=['"10-15"'])
    end: q.DayOfYear | None = Field(None, alias="to", examples=['"04-15"'])
    height: q.Depth | None = Field(None, examples=['"4 cm"'])
    centre: q.Depth | None = Field(None, examples=['"5 cm"'])


class OverflowTable(Table):
    """[overflow]."""

    height: q.Depth | None = Field(None, examples=['"9 cm"'])
    centre: q.Depth | None = Field(None, examples=['"10 cm"'])
    bore: q.Bore | None = Field(None, examples=['"20 mm"'])
    state: Annotated[Literal["open", "blocked", "none"], _word("open", "blocked", "none")] = Field(
        "open", examples=['"open"']
    )
    change: tuple[ChangeTable, ...] = ()


class BenchTable(Table):
    """Bench measurement of a mix."""

    height: q.Depth = Field(examples=['"20 cm"'])
    total_porosity: q.PartShare = Field(examples=['"85 %"'])
    air_after_draining: q.PartShare = Field(examples=['"18 %"'])
    like: q.Medium = Field(examples=['"potting mix"'])


class MixTable(Table):
    """[mix.wick] and [mix.top]."""

    medium: q.Medium | None = Field(None, examples=['"potting mix"'])
    recipe: dict[q.Medium, q.Part] | None = Field(
        None, examples=['{ "sphagnum peat" = "60 %", ... }']
    )
    bench: BenchTable | None = Field(None, examples=['{ height = "20 cm", ... }'])
    name: q.Name | None = Field(None, examples=['"my mix"'])
    theta_r: q.PartShare | None = Field(None, examples=["0.08"])
    theta_s: q.PartShare | None = Field(None, examples=["0.86"])
    alpha: q.PerDepth | None = Field(None, examples=['"14 1/m"'])
    n: q.Shape | None = Field(None, examples=["1.4"])
    k_s: q.Conductivity | None = Field(None, examples=['"3 m/d"'])
    l: q.Exponent | None = Field(None, examples=["0.5"])  # noqa: E741 - the symbol of the field
    wetting: q.Wetting | None = Field(None, examples=["1.4"])
    bulk_density: q.Density | None = Field(None, examples=['"120 kg/m3"'])


class SurfaceTable(Table):
    """[surface]."""

    open_share: q.Share = Field(1.0, examples=['"100 %"'])
    mulch_share: q.Share = Field(0.0, examples=['"50 %"'])


class PlantingTable(Table):
    """[[planting]]."""

    crop: q.CropName = Field(examples=['"tomato"'])
    planted: q.DayOfYear = Field(examples=['"05-10"'])
    removed: q.DayOfYear | None = Field(None, examples=['"10-01"'])
    area_share: q.SomeShare = Field(examples=['"40 %"'])
    stages: q.Stages | None = Field(None, examples=['["25 days", "35 days", "40 days", "20 days"]'])
    canopy: q.Canopy = Field(1.0, examples=["1.2"])


class WateringTable(Table):
    """[watering]."""

    when: Annotated[
        Literal["below share", "every n days", "weekdays", "never"],
        _word("below share", "every n days", "weekdays", "never"),
    ] = Field(examples=['"below share"'])
    share: q.SomeShare | None = Field(None, examples=['"30 %"'])
    every: q.Days | None = Field(None, examples=['"14 days"'])
    weekdays: q.Weekdays | None = Field(None, examples=['["mon", "thu"]'])
    amount: q.Amount = Field(None, examples=['"to the lip"'])
    check_every: q.Days = Field(1, examples=['"1 day"'])


class SiteTable(Table):
    """[site]."""

    latitude: q.Latitude | None = Field(None, examples=["44.5"])
    elevation: q.Elevation | None = Field(None, examples=['"120 m"'])
    exposure: q.Exposure = Field(1.0, examples=["1.0"])


class StartTable(Table):
    """[start]."""

    level: q.Share = Field(1.0, examples=['"100 %"'])


TABLES: dict[str, type[Table]] = {
    "bed": BedTable,
    "box": BoxTable,
    "overflow": OverflowTable,
    "mix.wick": MixTable,
    "mix.top": MixTable,
    "surface": SurfaceTable,
    "watering": WateringTable,
    "site": SiteTable,
    "start": StartTable,
}
FORMS: dict[str, type[Table]] = {
    "pipes": PipesTable,
    "crates": LayerTable,
    "false floor": LayerTable,
    "stone": LayerTable,
}
SECTIONS = (
    "bed",
    "box",
    "reservoir",
    "overflow",
    "mix",
    "surface",
    "planting",
    "watering",
    "site",
    "start",
)
REQUIRED = ("bed", "box", "reservoir", "overflow", "mix", "planting", "watering")


def form_keys() -> dict[str, dict[str, str]]:
    """Forms of reservoir that can be described.

    Returns
    -------
    dict of dict of str
        By name, the keys of each with an example of their values.
    """
    return {name: keys_of(table) for name, table in FORMS.items()}


def keys_of(table: type[Table]) -> dict[str, str]:
    """Keys of a table as they are written, each with an example of its value."""
    found = {}
    for name, field in table.model_fields.items():
        examples = field.examples or [""]
        found[field.alias or name] = str(examples[0])
    return found
