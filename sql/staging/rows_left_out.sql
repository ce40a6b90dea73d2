-- needs: raw.notes, staging.sheets
-- One row per delivered row that is no row of its table: the headings again, a total, a mean, a footnote. Staging leaves it out; its fate is told.
create table staging.rows_left_out as
select s.file, s.sheet, n.row_number, s.table_name, min(n.what) as what, min(n.found) as found, min(n.sentence) as sentence
from raw.notes as n
inner join staging.sheets as s on s.sha256 = n.sha256 and s.raw_sheet is not distinct from n.sheet
where n.what in ('repeats_headings', 'looks_like_total', 'looks_like_footnote')
group by s.file, s.sheet, n.row_number, s.table_name;
comment on table staging.rows_left_out is 'One row per delivered row that repeats the headings or is a total or a footnote';
