-- severity: noted
-- says: a column the tables do not know is kept in raw and not used
-- needs: raw.current_files, raw.sheets, reference.known_headings, reference.senders_tables, reference.senders_headings
with present as (
  select f.file, regexp_replace(f.file, '/[^/]*$', '') as folder, s.sheet, s.table_name as their_table, s.heading_row,
    unnest(s.headings) as heading, unnest(s.verbatim_headings) as verbatim
  from raw.sheets as s inner join raw.current_files as f using (sha256)
),
translated as (
  select p.*, coalesce(t.ours, p.their_table) as table_name, coalesce(h.ours, p.heading) as our_heading
  from present as p
  left join reference.senders_tables as t on t.folder = p.folder and t.theirs = p.their_table
  left join reference.senders_headings as h
    on h.folder = p.folder and h.table_name = coalesce(t.ours, p.their_table) and h.theirs = p.heading
),
unknown as (
  select * from translated as p
  where our_heading <> '' and not exists (
    select 1 from reference.known_headings as k
    where k.table_name = p.table_name
      and (k.heading = p.our_heading or (k.is_pattern and starts_with(p.our_heading, k.heading))))
),
with_nearest as (
  select u.*, (
    -- less alike than this is another word: a weight is no weighing
    select arg_max(k.heading, jaro_winkler_similarity(k.heading, u.heading)) from reference.known_headings as k
    where k.table_name = u.table_name and jaro_winkler_similarity(k.heading, u.heading) >= 0.9
  ) as nearest
  from unknown as u
)
select file, sheet, heading_row as row_number, table_name, verbatim as column_name, null as trial_id, null as site_id,
  verbatim as found, 'a heading of the ' || table_name || ' table' as expected,
  'it is kept and not used; if it is ' || coalesce('"' || nearest || '"', 'a column of ours') || ', rename it or put into ' || folder || '/headings.yml: headings: {' ||
    table_name || ': {"' || verbatim || '": ' || coalesce(nearest, '<our heading>') || '}}' as mend
from with_nearest
