"""One sender's mail beside the sound tiny program: files as they write them, and what became of their plots."""

from __future__ import annotations

from openpyxl import Workbook

from tests.tiny_program import TinyProgram


class Mail:
    """A sender's folder beside the sound tiny program; its trials are listed there and have the tiny treatments."""

    def __init__(self, tiny: TinyProgram, *trials: str) -> None:
        self.tiny, self.folder = tiny, tiny.folder / "seasons/2091/mail"
        self.folder.mkdir()
        for table in ("trials", "treatments", "nitrogen_applications"):
            heads, *rows = tiny.rows(table)
            at = heads.index("trial_id")
            mine = [
                [name if i == at else c for i, c in enumerate(row)]
                for name in trials
                for row in rows
                if row[at] == "2091-A-corn"
            ]
            tiny.write(table, [heads, *mine], "2091/mail")

    def workbook(self, **sheets: list[list[object]]) -> None:
        book = Workbook()
        book.remove(book.active)
        for title, rows in sheets.items():
            sheet = book.create_sheet(title.replace("_", " "))
            for row in rows:
                sheet.append(row)
        book.save(self.folder / "harvest.xlsx")

    def csv(self, *rows: list[str], table: str = "plots") -> None:
        self.tiny.write(table, list(rows), "2091/mail")

    def says(self, text: str) -> None:
        (self.folder / "headings.yml").write_text(text)

    def plots(self) -> list[tuple]:
        """(sheet, row, trial, block, plot, code, yield in bu/ac, became) of the mailed plots."""
        with self.tiny.loaded() as warehouse:
            rows = warehouse.execute(
                """select sheet, row_number, trial_id, block, plot, treatment_code, yield_bu_ac,
                became from staging.plots
                where file like '%/mail/%' order by trial_id, block, treatment_code"""
            ).fetchall()
            (lost,) = warehouse.execute(
                "select count(*) from trials.row_counts where used + set_aside + held + superseded <> delivered"
            ).fetchone()
        assert lost == 0
        return rows

    def said(self) -> str:
        """What is said of the file that is held."""
        (finding,) = self.tiny.checked()["reports.findings"].query("check_name == 'file not read'").itertuples()
        return finding.mend
