"""Delivered files to text cells. Readers decide nothing about what the cells mean."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from pipeline.incoming.csv_reader import read_csv
from pipeline.incoming.headings import NO_TABLE, SendersWords
from pipeline.incoming.invisible import invisible_notes
from pipeline.incoming.odd_rows import odd_row_notes
from pipeline.incoming.sheet import Sheet, refusal, table_name
from pipeline.incoming.sheet_limits import MOST_BYTES

TO_BE_SAVED_ANEW = (".xlsm", ".xlsb", ".numbers")
TEXTS, OLDER_WORKBOOKS = (".csv", ".tsv", ".txt"), (".xls", ".ods")


def read_file(
    path: Path,
    *,
    name: str,
    words: SendersWords = SendersWords(),
    progress: Callable[[float], None] = lambda share: None,
) -> list[Sheet]:
    """The tables of one delivered file: one for a text file, one per used sheet for a workbook.

    `name` is what messages call the file; `words` are its sender's, by which a row of headings is known;
    `progress` is told the share of a long .csv that was read. Raises UserError, naming file, row, column and the mend,
    for whatever cannot be read without guessing.
    """
    try:
        n_bytes = path.stat().st_size
        if n_bytes > MOST_BYTES:
            problem = f"the file has {n_bytes / 1e6:,.0f} MB; at most {MOST_BYTES / 1e6:,.0f} MB are read"
            raise refusal(name, [f"{problem}. Deliver it in parts, or without what is no data."])
        content = path.read_bytes()
    except OSError as error:
        raise refusal(name, [f"the file cannot be opened ({error.strerror}). Check its permissions."]) from error
    if path.suffix.lower() in TO_BE_SAVED_ANEW:
        mend = "save it as .xlsx or as comma-separated .csv (UTF-8)"
        raise refusal(name, [f"{path.suffix} files are not read; {mend}"])
    if content.startswith(b"PK") and b"xl/workbook.bin" in content:
        raise refusal(name, ["this is a binary workbook (.xlsb). Save it as .xlsx."])
    is_newer = content.startswith(b"PK") and b"xl/workbook.xml" in content
    if path.suffix.lower() in OLDER_WORKBOOKS and not is_newer:
        from pipeline.incoming.older_workbooks import read_older_workbook  # as the next: takes a while to import

        sheets = read_older_workbook(content, name=name, words=words)
    elif path.suffix.lower() not in TEXTS:
        from pipeline.incoming.xlsx_reader import read_xlsx

        sheets = read_xlsx(content, name=name, words=words)
    elif words.table(table_name(path.stem)) == NO_TABLE:
        sheets = []
    else:
        sheets = [read_csv(content, stem=path.stem, name=name, words=words, file_name=path.name, progress=progress)]
    for sheet in sheets:
        texts = sheet.distinct_texts()
        sheet.notes.extend([*odd_row_notes(sheet, texts), *invisible_notes(sheet, texts)])
    return sheets
