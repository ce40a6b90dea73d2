"""One sender's mail beside the sound tiny program: files as they write them, and what became of their plots."""

from __future__ import annotations

from openpyxl import Workbook

from tests.tiny_program import TinyProgram


class Mail:
    """A sender's folder beside the sound tiny program; its trials are listed there and have the tiny treatments."""

    def __init__(self, tiny: TinyProgram, *trials: str, folder: str = "mail") -> None:
        self.tiny, self.folder = tiny, tiny.folder / "seasons/2091" / folder
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
            tiny.write(table, [heads, *mine], f"2091/{folder}")

    def workbook(self, **sheets: list[list[object]]) -> None:
        book = Workbook()
        book.remove(book.active)
        for title, rows in sheets.items():
            sheet = book.create_sheet(title.replace("_", " "))
            for row in rows:
                sheet.append(row)
        book.save(self.folder / "harvest.xlsx")

    def csv(self, *rows: list[str], table: str = "plots") -> None:
        self.tiny.write(table, list(rows), f"2091/{self.folder.name}")

    def says(self, text: str) -> None:
        (self.folder / "headings.yml").write_text(text)

    def plots(self) -> list[tuple]:
        """(sheet, row, trial, block, plot, code, yield in bu/ac, outcome) of the mailed plots."""
        with self.tiny.staged() as warehouse:
            return warehouse.execute(
                """select sheet, row_number, trial_id, block, plot, treatment_code, yield_bu_ac,
                outcome from staging.plots
                where file like '%/mail/%' order by trial_id, block, treatment_code"""
            ).fetchall()

    def said(self) -> str:
        """What is said of the file that is held."""
        (said,) = self.tiny.held().values()
        return said
