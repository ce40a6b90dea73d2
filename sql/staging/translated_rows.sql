-- needs: raw.rows, staging.sheets, staging.rows_in_other_words
-- Every delivered row under our table names, headings and words. Rows of sheets that use ours pass through untouched.
create view staging.translated_rows as
select s.file, s.delivery, s.season, r.sheet, r.row_number, s.table_name, r.cells
from raw.rows as r inner join staging.sheets as s on s.content = r.sha256 and s.raw_sheet is not distinct from r.sheet
where s.is_called_as_here
union all
select file, delivery, season, sheet, row_number, table_name, cells from staging.rows_in_other_words;
comment on view staging.translated_rows is 'One row per delivered row, in our headings and words; of a wide sheet, one per plot';
