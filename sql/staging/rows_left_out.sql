-- needs: raw.notes, raw.current_files, reference.senders_tables
-- One row per delivered row that is no row of its table: the headings again, a total, a mean, a footnote. Staging leaves it out; its fate is told.
create table staging.rows_left_out as
select f.file, n.sheet, n.row_number, coalesce(s.ours, n.table_name) as table_name, min(n.what) as what, min(n.found) as found, min(n.sentence) as sentence
from raw.notes as n
inner join raw.current_files as f on f.sha256 = n.sha256
left join reference.senders_tables as s on s.folder = regexp_replace(f.file, '/[^/]*$', '') and s.theirs = n.table_name
where n.what in ('repeats_headings', 'looks_like_total', 'looks_like_footnote')
group by f.file, n.sheet, n.row_number, coalesce(s.ours, n.table_name);
comment on table staging.rows_left_out is 'One row per delivered row that repeats the headings or is a total or a footnote';
