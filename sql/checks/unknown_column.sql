-- severity: noted
-- says: a column the tables do not know is kept in raw and not used
-- needs: raw.current_files, raw.sheets, reference.known_headings
with present as (
  select f.file, s.sheet, s.table_name, s.heading_row,
    unnest(s.headings) as heading, unnest(s.verbatim_headings) as verbatim
  from raw.sheets as s inner join raw.current_files as f using (sha256)
),
unknown as (
  select * from present as p
  where heading <> '' and not exists (
    select 1 from reference.known_headings as k
    where k.table_name = p.table_name
      and (k.heading = p.heading or (k.is_pattern and starts_with(p.heading, k.heading))))
)
select u.file, u.sheet, u.heading_row as row_number, u.table_name, u.verbatim as column_name, null as trial_id, null as site_id,
  u.verbatim as found, 'a heading of the ' || u.table_name || ' table' as expected,
  'nearest known heading: "' || (
    select arg_max(k.heading, jaro_winkler_similarity(k.heading, u.heading)) from reference.known_headings as k where k.table_name = u.table_name
  ) || '"; rename it, or leave it: it is kept and not used' as mend
from unknown as u
