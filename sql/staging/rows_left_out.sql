-- needs: raw.notes, staging.sheets
-- One row per delivered row that is no row of its table: the headings again, a total, a mean, a footnote,
-- a title above the headings. Staging leaves it out; its fate is told. A title row has no cells in raw.rows, and belongs to one part of a wide sheet.
create table staging.rows_left_out as
select s.file, min(s.sheet) as sheet, n.row_number, s.table_name, min(n.what) as what, min(n.found) as found, min(n.sentence) as sentence
from raw.notes as n
inner join staging.sheets as s on s.content = n.sha256 and s.raw_sheet is not distinct from n.sheet
where n.what in ('repeats_headings', 'looks_like_total', 'looks_like_footnote', 'title_row')
group by s.file, s.raw_sheet, if(n.what = 'title_row', null, s.sheet), n.row_number, s.table_name;
comment on table staging.rows_left_out is 'One row per delivered row that repeats the headings, stands above them, or is a total or a footnote';
