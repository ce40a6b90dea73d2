-- needs: raw.current_files, raw.rows, reference.senders_tables, reference.senders_headings, reference.senders_words
-- Every delivered row under our table names, headings and words. Rows of senders who use ours pass through untouched.
create view staging.translated_rows as
with files as (
  select *, regexp_replace(file, '/[^/]*$', '') as folder from raw.current_files
),
speaking as (
  select folder from reference.senders_tables
  union select folder from reference.senders_headings
  union select folder from reference.senders_words
)
select c.file, c.delivery, c.season, r.sheet, r.row_number, r.table_name, r.cells
from raw.rows as r inner join files as c on c.sha256 = r.sha256
where c.folder not in (select folder from speaking)
union all
select c.file, c.delivery, c.season, r.sheet, r.row_number, coalesce(t.ours, r.table_name) as table_name,
  (
    select json_group_object(coalesce(h.ours, k.key), coalesce(w.ours, r.cells ->> k.key))
    from (select unnest(json_keys(r.cells)) as key) as k
    left join reference.senders_headings as h
      on h.folder = c.folder and h.table_name = coalesce(t.ours, r.table_name) and h.theirs = k.key
    left join reference.senders_words as w
      on w.folder = c.folder and w.table_name = coalesce(t.ours, r.table_name)
      and w.heading = coalesce(h.ours, k.key) and w.theirs = trim(r.cells ->> k.key)
  ) as cells
from raw.rows as r
inner join files as c on c.sha256 = r.sha256
left join reference.senders_tables as t on t.folder = c.folder and t.theirs = r.table_name
where c.folder in (select folder from speaking);
comment on view staging.translated_rows is 'One row per delivered row, in our headings and words';
