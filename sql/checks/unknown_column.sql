-- severity: noted
-- says: a column the tables do not know is kept in raw and not used
-- asks: analyst
-- needs: staging.headings, reference.known_headings
with unknown as (
  select * from staging.headings as h
  where h.heading <> '' and not exists (
    select 1 from reference.known_headings as k
    where k.table_name = h.table_name
      and (k.heading = h.heading or (k.is_pattern and starts_with(h.heading, k.heading))))
),
with_nearest as (
  select u.*, (
    -- less alike than this is another word: a weight is no weighing
    select arg_max(k.heading, jaro_winkler_similarity(k.heading, u.delivered)) from reference.known_headings as k
    where k.table_name = u.table_name and jaro_winkler_similarity(k.heading, u.delivered) >= 0.9
  ) as nearest
  from unknown as u
)
select file, sheet, heading_row as row_number, table_name, verbatim as column_name, null as trial_id, null as site_id,
  verbatim as found, 'a heading of the ' || table_name || ' table' as expected,
  'it is kept and not used; if it is ' || coalesce('"' || nearest || '"', 'a column of ours') || ', rename it or put into ' || folder || '/headings.yml: headings: {' ||
    table_name || ': {"' || verbatim || '": ' || coalesce(nearest, '<our heading>') || '}}' as mend
from with_nearest
