-- needs: raw.rows, staging.sheets, staging.headings, reference.senders_words
-- Every delivered row under our table names, headings and words. Rows of sheets that use ours pass through untouched.
create view staging.translated_rows as
select s.file, s.delivery, s.season, r.sheet, r.row_number, s.table_name, r.cells
from raw.rows as r inner join staging.sheets as s on s.sha256 = r.sha256 and s.sheet is not distinct from r.sheet
where s.is_called_as_here
union all
select s.file, s.delivery, s.season, r.sheet, r.row_number, s.table_name,
  (
    select json_group_object(h.heading, coalesce(w.ours, r.cells ->> h.delivered))
    from staging.headings as h
    left join reference.senders_words as w
      on w.folder = h.folder and w.table_name = h.table_name and w.heading = h.heading and w.theirs = trim(r.cells ->> h.delivered)
    where h.file = s.file and h.sheet is not distinct from s.sheet
  ) as cells
from raw.rows as r inner join staging.sheets as s on s.sha256 = r.sha256 and s.sheet is not distinct from r.sheet
where not s.is_called_as_here;
comment on view staging.translated_rows is 'One row per delivered row, in our headings and words';
