"""What people see: sentences, tables and pictures."""

from bedtide.show.away_calendar_figure import calendar_axes, calendar_figure
from bedtide.show.away_calendar_tables import calendar_summary, calendar_table
from bedtide.show.away_calendar_words import calendar_headline, calendar_report
from bedtide.show.away_figures import (
    away_figure,
    chance_axes,
    course_axes,
    measures_axes,
    years_axes,
)
from bedtide.show.away_tables import away_days, away_summary, away_table
from bedtide.show.away_words import away_headline, away_report
from bedtide.show.choice_words import choice_sentence
from bedtide.show.compare_figures import (
    air_tradeoff_axes,
    compare_figure,
    weight_tradeoff_axes,
)
from bedtide.show.compare_tables import compare_summary, compare_table, years_table
from bedtide.show.compare_words import compare_report
from bedtide.show.doubt_words import doubt_figures, doubt_lines, range_text
from bedtide.show.figures import (
    air_axes,
    level_axes,
    season_figure,
    use_axes,
    water_in_axes,
)
from bedtide.show.grades import wet_grade
from bedtide.show.range_words import (
    compare_range_figures,
    compare_range_lines,
    season_range_figures,
    season_range_report,
)
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
from bedtide.show.wet_spell_figures import air_height_axes, wet_spell_figure
from bedtide.show.wet_spell_tables import wet_spell_summary, wet_spell_table
from bedtide.show.wet_spell_words import wet_spell_headline, wet_spell_lines, wet_spell_report
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
    "air_height_axes",
    "air_tradeoff_axes",
    "away_days",
    "away_figure",
    "away_headline",
    "away_report",
    "away_summary",
    "away_table",
    "calendar_axes",
    "calendar_figure",
    "calendar_headline",
    "calendar_report",
    "calendar_summary",
    "calendar_table",
    "chance_axes",
    "choice_sentence",
    "compare_figure",
    "compare_range_figures",
    "compare_range_lines",
    "compare_report",
    "compare_summary",
    "compare_table",
    "course_axes",
    "days_text",
    "doubt_figures",
    "doubt_lines",
    "headline",
    "level_axes",
    "measures_axes",
    "month_name",
    "month_rows",
    "month_table",
    "plain_table",
    "range_text",
    "season_figure",
    "season_range_figures",
    "season_range_report",
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
    "wet_spell_figure",
    "wet_spell_headline",
    "wet_spell_lines",
    "wet_spell_report",
    "wet_spell_summary",
    "wet_spell_table",
    "years_axes",
    "years_table",
]
