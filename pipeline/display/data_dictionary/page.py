"""What the data dictionary prints: every table that may be delivered, every key of program.yml, every check."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.display.data_dictionary.tables import columns_table, keys_table, results_table
from pipeline.display.words import links
from pipeline.display.words.checks import checks_table
from pipeline.display.words.numbers import capital
from pipeline.display.words.tables import Markdown, escaped, section, stacked


class DictionaryPage:
    """Each property is one section's words and tables; its heading and place stand in reports/data_dictionary.qmd.

    views: the dictionary's frames by name, and the program's.
    """

    def __init__(self, views: Mapping[str, pd.DataFrame]) -> None:
        self.program = views["program"].iloc[0]
        self._views = views

    @property
    def links(self) -> Markdown:
        return links.around(self._views["pages"], own="data_dictionary")

    @property
    def tables(self) -> Markdown:
        return stacked(*(self._table(table) for _, table in self._views["dictionary_tables"].iterrows()))

    def _table(self, table: pd.Series) -> Markdown:
        columns = self._views["dictionary_columns"]
        mine = columns[columns["table_name"] == table["table_name"]]
        said = f"{table['meaning']} {capital(table['grain'])}; key: {table['key']}."
        return section(escaped(table["table_name"]), said, columns_table(mine, table["table_name"]), level=2)

    @property
    def keys(self) -> Markdown:
        return keys_table(self._views["dictionary_keys"])

    @property
    def results(self) -> Markdown:
        return results_table(self._views["dictionary_results"])

    @property
    def checks(self) -> Markdown:
        return checks_table(self._views["dictionary_checks"])
