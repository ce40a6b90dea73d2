"""What a site-year's nitrogen met, day by day: water, wet spells, applications, and how much of the coated N was
out.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import plotnine as p9

from pipeline.display.figures import theme
from pipeline.display.site_year.monthly_rain_figure import MONTHS
from pipeline.display.words.numbers import count, day, listed, number, percent
from pipeline.display.words.tables import Markdown

RELEASED = "Coated nitrogen released, %"
PANEL_INCH, FRAME_INCH = 1.15, 0.4
WATER = {"rain": theme.INK, "irrigation": theme.RANGE}
WORDS = {"inch": ("in.", "inches"), "mm": ("mm", "mm")}  # on an axis, in a sentence
WET_SPELL = "#e0e0e0"
MODELED = "dashed"  # a line that nobody measured
LABEL_SHARE = 0.12  # of the days, as many as an application's date takes
ROW_SHARE = 0.2  # of the highest bar, what a row of dates takes above it


class SeasonFigure:
    """One site-year's days, put in order for the picture and its words.

    Args:
        days: rows of reports.season_days of one site-year and comparison, some with rain.
        applied: rows of reports.applications of the site-year and crop.
        unit: 'inch' or 'mm'.
    """

    def __init__(self, days: pd.DataFrame, applied: pd.DataFrame, unit: str) -> None:
        self.first, self.last, self.unit = days["date"].min(), days["date"].max(), unit
        self.days = days.sort_values("date").assign(x=lambda rows: (rows["date"] - self.first).dt.days)
        self.water = self._water()
        self.is_irrigated = bool(self.water["kind"].eq("irrigation").any())
        self.released = self.days[self.days["released_pct"].notna()]
        self.spells = self._spells()
        self.dates = self._dates(applied)
        water = "Rain and irrigation" if self.is_irrigated else "Rain"
        self.panels = [f"{water}, {WORDS[unit][0]} a day", *([RELEASED] if len(self.released) else [])]

    def _water(self) -> pd.DataFrame:
        """What fell and what was given on each day, in long form."""
        parts = [self.days.assign(kind=kind, depth=self.days[f"{kind}_{self.unit}"]) for kind in WATER]
        water = pd.concat(parts)[["x", "date", "kind", "depth"]]
        return water[water["depth"] > 0]

    def _spells(self) -> pd.DataFrame:
        """First and last day of each run of days with excess water."""
        wet = self.days.loc[self.days["excess_mm"] > 0, "x"]
        runs = wet.groupby((wet.diff() != 1).cumsum())
        return pd.DataFrame({"x_from": runs.min() - 0.5, "x_to": runs.max() + 0.5}).reset_index(drop=True)

    def _dates(self, applied: pd.DataFrame) -> list[pd.Timestamp]:
        """The days within the picture on which nitrogen went out."""
        dates = pd.to_datetime(applied["applied_on"]).dropna()
        return sorted(dates[dates.between(self.first, self.last)].unique())

    def marks(self) -> pd.DataFrame:
        """Each application with its date in words above the bars, one row higher where two would touch."""
        reach = max(LABEL_SHARE * len(self.days), 1)
        top = self.water.groupby("x")["depth"].sum().max() if len(self.water) else 1.0
        rows, last_in_row = [], []
        for date in self.dates:
            x = (date - self.first).days
            row = next((k for k, taken in enumerate(last_in_row) if x - taken >= reach), len(last_in_row))
            last_in_row[row : row + 1] = [x]
            y = top * (1 + ROW_SHARE * (row + 0.6))
            rows.append({"x": x, "y": y, "words": f" {MONTHS[date.month - 1][:3]} {date.day}"})
        return pd.DataFrame(rows, columns=["x", "y", "words"])

    def on(self, rows: pd.DataFrame, *panels: str) -> pd.DataFrame:
        """The rows once for each of these panels."""
        parts = [rows.assign(panel=pd.Categorical([panel] * len(rows), self.panels)) for panel in panels]
        return pd.concat(parts, ignore_index=True).assign(
            panel=lambda all_rows: pd.Categorical(all_rows["panel"], self.panels)
        )


def season(
    days: pd.DataFrame, applied: pd.DataFrame, *, title: str, inputs: list[str], unit: str, folder: Path
) -> Markdown:
    """Draws one site-year.

    Args:
        title: 'Alder in 2092'.
        inputs: what each modeled quantity was worked out from, in words.
        days, applied, unit: as SeasonFigure.
    """
    of = SeasonFigure(days, applied, unit)
    panels, calendar, marks = of.panels, _calendar(of), of.marks()
    spells, water = of.on(of.spells, *panels), of.on(of.water[["x", "kind", "depth"]], panels[0])
    lines, dates = of.on(marks, *panels), of.on(marks, panels[0])
    released = of.on(of.released[["x", "released_pct"]], RELEASED) if len(of.released) else None
    position = "stack" if of.is_irrigated else "identity"  # stacking goes bar by bar and takes long

    def plot() -> p9.ggplot:
        layers = [
            p9.geom_rect(
                p9.aes(xmin="x_from", xmax="x_to", ymin=float("-inf"), ymax=float("inf")), data=spells, fill=WET_SPELL
            ),
            p9.geom_vline(p9.aes(xintercept="x"), data=lines, color=theme.INK, size=0.5),
            p9.geom_col(p9.aes("x", "depth", fill="kind"), data=water, width=0.8, position=position),
            _words(dates, "y"),
            *([] if released is None else _released(released)),
        ]
        return p9.ggplot() + [
            *(layer for layer in layers if len(layer.data)),
            p9.scale_fill_manual(values=WATER),
            p9.facet_wrap("panel", ncol=1, scales="free_y"),
            p9.scale_x_continuous(**calendar),
            p9.scale_y_continuous(labels=theme.amounts, limits=(0, None), expand=(0, 0, 0.08, 0)),
            p9.labs(x="", y=""),
            theme.page_theme(PANEL_INCH * len(panels) + FRAME_INCH, theme.SITE_YEAR)
            + p9.theme(
                panel_grid_major_y=p9.element_line(color=theme.HAIRLINE, size=0.4),
                panel_grid_major_x=p9.element_blank(),
                axis_text_x=p9.element_text(margin={"t": 4}),
            ),
        ]

    caption = _caption(of, title, inputs)
    return theme.figure(plot, folder=folder, name="season", caption=caption, alt=_alt(of), sheet=theme.SITE_YEAR)


def _released(rows: pd.DataFrame) -> list:
    """The line of the coated nitrogen that was out, its end in words; the axis goes to 100."""
    end = rows.tail(1)
    return [
        p9.geom_blank(p9.aes("x", "released_pct"), data=end.assign(x=0, released_pct=100.0)),
        p9.geom_line(p9.aes("x", "released_pct"), data=rows, linetype=MODELED, color=theme.AVERAGE, size=1),
        _words(end.assign(words=[f" {percent(share)}" for share in end["released_pct"]]), "released_pct"),
    ]


def _words(rows: pd.DataFrame, y: str) -> p9.geom_label:
    """Words beside what they name, on white so that no line runs through them."""
    return p9.geom_label(
        p9.aes("x", y, label="words"),
        data=rows,
        ha="left",
        fill="#ffffff",
        label_size=0,
        label_padding=0.05,
        size=theme.LABEL_SIZE,
        family=theme.FONT,
        color=theme.INK,
    )


def _calendar(of: SeasonFigure) -> dict:
    """The scale of the days: the first of each month; in a season too short to have two, its first and last day."""
    firsts = list(pd.date_range(of.first, of.last, freq="MS"))
    dates = firsts if len(firsts) > 1 else [of.first, of.last]
    return {
        "breaks": [(date - of.first).days for date in dates],
        "labels": [f"{MONTHS[date.month - 1][:3]} {date.day}" for date in dates],
        "limits": (-1, max((of.last - of.first).days, 1) + 1),
        "expand": (0.01, 0, 0.07, 0),
    }


def _caption(of: SeasonFigure, title: str, inputs: list[str]) -> str:
    unknown = int(of.days[f"rain_{of.unit}"].isna().sum())
    said = [
        (
            f"{title}, day by day from the first nitrogen on:"
            f" {'rain (black) and irrigation (gray bars)' if of.is_irrigated else 'rain (bars)'}"
        ),
        "applications (upright lines)" if of.dates else "",
        "days with more water than the soil could hold (gray bands)" if len(of.spells) else "",
        "share of the coated nitrogen released (dashed)" if len(of.released) else "",
    ]
    told = [f"{listed(filter(None, said))}.", *inputs]
    told += [f"The rain of {count(unknown, 'day')} is not known."] if unknown else []
    told += _known_up_to(of)
    told += ["1 inch is 25.4 mm."] if of.unit == "inch" else []
    return " ".join(told)


def _known_up_to(of: SeasonFigure) -> list[str]:
    """Up to when the bands and the share released are known, where days without data cut them off."""
    told = []
    for what, column in {"Bands are": "excess_mm", "The share released is": "released_pct"}.items():
        known = of.days.loc[of.days[column].notna(), "date"]
        if len(known) and known.max() < of.last:
            told.append(f"{what} known up to {MONTHS[known.max().month - 1]} {known.max().day} only.")
    return told


def _alt(of: SeasonFigure) -> str:
    """Total and wettest day, applications, wet spells and what was released at the end."""
    digits, unit = 1 if of.unit == "inch" else 0, WORDS[of.unit][1]
    rain = of.water[of.water["kind"] == "rain"]
    told = [f"Rain from {day(of.first)} to {day(of.last)}: {number(rain['depth'].sum(), digits)} {unit}"]
    if len(rain):
        most = rain.loc[rain["depth"].idxmax()]
        told[0] += f", most on {day(most['date'])}, {number(most['depth'], digits)} {unit}"
    told += [f"Irrigation: {number(of.water['depth'].sum() - rain['depth'].sum(), digits)} {unit}"] * of.is_irrigated
    told += [f"Nitrogen went out on {listed(map(day, of.dates))}"] if of.dates else []
    told += (
        [f"{count(len(of.spells), 'wet spell')}, {count(int((of.days['excess_mm'] > 0).sum()), 'day')} in all"]
        if len(of.spells)
        else []
    )
    if len(of.released):
        last = of.released.iloc[-1]
        when = "the end" if last["date"] == of.last else f"{day(last['date'])},"
        told.append(f"By {when} {percent(last['released_pct'])} of the coated nitrogen was out")
    return f"{'. '.join(told)}."
