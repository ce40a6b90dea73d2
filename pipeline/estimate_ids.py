"""The id printed beside an estimate: eight characters for what is asked, four for the data that answer it.

The first part holds from edition to edition, so that one average can be followed over the years; the second changes
with the data, so that an id on an old page never leads to another number than the one printed there. Words, dates,
prices, claims and other comparisons in program.yml touch neither of an average. Code and software are no part of it:
they stand on the run card, and the page prints them.

What is worked out from averages and curves (a test against a margin, a net change, an optimum rate) rests on more than
plots: prices, a margin, reference rain. There the second part follows the figures themselves, as far as a page prints
them.
"""

from __future__ import annotations

import json
import re
from dataclasses import asdict, dataclass

import pandas as pd

from pipeline.contract.vocabulary import AT_NAMED_RATE
from pipeline.provenance import short_id
from pipeline.settings.program import Program
from pipeline.site_years.eligibility import ARM_COLUMNS

# what of a comparison decides its gains; `says`, the question, its margin and its date do not
DEFINING = ("id", "crop", "trait", "treatment", "comparator", "match", "rates")
ASKED = ("comparison_id", "target", "method", "moderator", "level")
N_DATA = 4
_COATED_SHARE = re.compile(r"\((\d+)% coated\)")
FIGURE_DIGITS = 4


@dataclass(frozen=True)
class Figure:
    """A table worked out from averages and curves: the columns that say what is asked, and those of the answer."""

    asked: tuple[str, ...]
    answer: tuple[str, ...]


_INTERVAL = ("estimate", "conf_low", "conf_high")
FIGURES = {
    "noninferiority": Figure(("comparison_id", "target"), ("estimate", "lower_limit", "upper_limit", "margin_limit")),
    "budgets": Figure(("comparison_id", "target"), ("net_change", "conf_low", "conf_high", "break_even_gain")),
    "long_run_gains": Figure(("comparison_id", "target"), _INTERVAL),
    "field_shares": Figure(("comparison_id", "target", "above"), ("share", "threshold")),
    "trait_gains": Figure(("comparison_id", "target", "trait"), _INTERVAL),
    "nitrogen_saved": Figure(("comparison_id", "at", "rate_named"), ("nitrogen_saved", "conf_low", "conf_high")),
    "n_response": Figure(
        ("crop", "family", "model"), ("aonr", "aonr_low", "aonr_high", "eonr", "eonr_low", "eonr_high")
    ),
    "rate_losses": Figure(("crop", "family", "n_rate_kg_ha"), ("loss_kg_ha", "conf_low", "conf_high")),
    "weather_slopes": Figure(("comparison_id", "target", "covariate", "part", "method"), _INTERVAL),
    "weather_gains": Figure(("comparison_id", "target", "covariate", "level"), _INTERVAL),
    "efficiencies": Figure(("crop", "family", "n_rate_kg_ha", "efficiency"), _INTERVAL),
}
# Columns that an average rests on; files and rows may change their names without moving it.
TRIAL_COLUMNS = (
    "trial_id",
    "site_year_id",
    "place",
    "season",
    "crop",
    "design",
    "drainage_group",
    "rainfall_class",
    "artificial_drainage",
    "previous_crop",
)
PLOT_COLUMNS = ("trial_id", "block", "main_plot", "plot", "treatment_code", "value")
PRINTED_COLUMNS = (
    "trial_id",
    "treatment_code",
    "mean_kg_ha",
    "n_blocks",
    "error_kind",
    "error_value",
    "error_alpha",
    "error_df",
)
# What few rows have, in the last column: it is told of those rows alone, so that the ids of all others hold.
ON_SAME_PLOTS = ("trial_id", "plot_set")
DIFFERENCE_COLUMNS = ("trial_id", "treatment_code", "compared_with", "difference_kg_ha")


def estimate_ids(pooled: pd.DataFrame, program: Program, data: pd.Series) -> list[str]:
    """The id of each row, like '1c9d04e7-5b20'.

    Args:
        pooled: rows with the columns ASKED.
        data: the second part by comparison_id, from data_ids.
    """
    definitions = _definitions(program)
    rainfall = _text(_rainfall_rule(program))
    ids = []
    for row in pooled[list(ASKED)].itertuples(index=False):
        settings = [
            definitions[row.comparison_id],
            program.fewest_blocks,
            rainfall if "rainfall" in row.moderator else "",
        ]
        ids.append(f"{short_id(*row, *settings)}-{data[row.comparison_id]}")
    return ids


def figure_ids(table: str, rows: pd.DataFrame, program: Program) -> list[str]:
    """The id of each row of a table in FIGURES; what is asked of the curve of one trial names the trial too.

    Args:
        table: its name in the estimates layer.
        rows: with the columns of its Figure.
    """
    figure, definitions = FIGURES[table], _definitions(program)
    if "comparator_rate" in rows:  # at the comparator's optimum the rate is part of the answer
        rows = rows.assign(rate_named=rows["comparator_rate"].where(rows["at"].eq(AT_NAMED_RATE)))
    ids = []
    for row in rows.to_dict("records"):
        asked = [_as_ever(row[name]) if name == "family" else _rounded(row[name]) for name in figure.asked]
        asked += [row["trial_id"], row["variant"]] if isinstance(row.get("trial_id"), str) else []
        answer = [_rounded(row[name]) for name in figure.answer]
        question = short_id(table, *asked, definitions.get(row.get("comparison_id"), ""))
        ids.append(f"{question}-{short_id(*answer)[:N_DATA]}")
    return ids


def _as_ever(family: str) -> str:
    """A family written as in every edition so far: the ids that were printed hold."""
    return _COATED_SHARE.sub(r"(\1 % coated)", family.replace("UAN", "uan"))


def _rounded(value: object) -> str:
    """A number as far as a page prints it, so that a machine's last bits do not count; a text as it is."""
    if isinstance(value, float | int):
        return f"{value:.{FIGURE_DIGITS}g}"
    return "none" if value is None else str(value)


def data_ids(
    program: Program, trials: pd.DataFrame, plots: pd.DataFrame, printed_means: pd.DataFrame, arms: pd.DataFrame
) -> pd.Series:
    """Four characters by comparison for the data it rests on: all used trials of its crop, whose plot errors are
    pooled.

    Args:
        trials, plots, printed_means, arms: accepted trials with their classes, used plots, printed means, and arms.
    """
    found = {}
    for comparison in program.comparisons:
        of_crop = trials[trials["crop"] == comparison.crop]
        mine = set(of_crop["trial_id"])
        frames = [
            (of_crop, TRIAL_COLUMNS, ON_SAME_PLOTS),
            (plots[plots["trial_id"].isin(mine)], PLOT_COLUMNS),
            (printed_means[printed_means["trial_id"].isin(mine)], PRINTED_COLUMNS, DIFFERENCE_COLUMNS),
            (arms[arms["comparison_id"] == comparison.id], ARM_COLUMNS),
        ]
        found[comparison.id] = short_id(*(_told(*each) for each in frames))[:N_DATA]
    return pd.Series(found, dtype=object)


def _told(frame: pd.DataFrame, columns: tuple[str, ...], of_few: tuple[str, ...] = ()) -> str:
    """The lines of a frame, and after them what only few of its rows have."""
    few = lines(frame[frame[of_few[-1]].notna()], of_few) if of_few else ""
    return lines(frame, columns) + few


def _definitions(program: Program) -> dict[str, str]:
    return {c.id: _text({name: asdict(c)[name] for name in DEFINING}) for c in program.comparisons}


def _rainfall_rule(program: Program) -> dict:
    """The rule without its day, written as in every edition so far: the ids that were printed hold."""
    rain = asdict(program.rainfall)
    windows = {crop: tuple(window.values()) for crop, window in rain["windows"].items()}
    return (
        {name: rain[name] for name in rain if name not in ("reference", "fixed_on")}
        | rain["reference"]
        | {"windows": windows}
    )


def asked_part(estimate_id: str) -> str:
    """The part of an id that holds from edition to edition."""
    return estimate_id.split("-")[0]


def _text(settings: dict) -> str:
    return json.dumps(settings, sort_keys=True, default=str)


def lines(frame: pd.DataFrame, columns: tuple[str, ...]) -> str:
    """A frame as sorted lines, numbers to 9 digits, so that neither order nor a machine's last bits count."""
    return "\n".join(sorted(frame[list(columns)].to_csv(index=False, header=False, float_format="%.9g").splitlines()))
