"""What people see: sentences, tables and pictures."""

from bedtide.show.compare_figures import (
    air_tradeoff_axes,
    compare_figure,
    weight_tradeoff_axes,
)
from bedtide.show.compare_tables import compare_summary, compare_table, years_table
from bedtide.show.compare_words import choice_sentence, compare_report
from bedtide.show.figures import (
    air_axes,
    level_axes,
    season_figure,
    use_axes,
    water_in_axes,
)
from bedtide.show.grades import wet_grade
from bedtide.show.section import section_figure
from bedtide.show.tables import (
    month_rows,
    plain_table,
    season_summary,
    season_table,
    weather_months,
)
from bedtide.show.weather_figures import weather_figure
from bedtide.show.weather_words import weather_lines, weather_summary
from bedtide.show.words import (
    days_text,
    headline,
    month_name,
    month_table,
    season_report,
    span_text,
)

__all__ = [
    "air_axes",
    "air_tradeoff_axes",
    "choice_sentence",
    "compare_figure",
    "compare_report",
    "compare_summary",
    "compare_table",
    "days_text",
    "headline",
    "level_axes",
    "month_name",
    "month_rows",
    "month_table",
    "plain_table",
    "season_figure",
    "season_report",
    "season_summary",
    "season_table",
    "section_figure",
    "span_text",
    "use_axes",
    "water_in_axes",
    "weather_figure",
    "weather_lines",
    "weather_months",
    "weather_summary",
    "weight_tradeoff_axes",
    "wet_grade",
    "years_table",
]
