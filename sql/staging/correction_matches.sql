-- needs: staging.translated_rows, reference.corrections, reference.correction_conditions, reference.correction_changes
-- One row per correction, row it is about and cell it changes, with what stands there and whether that is what it expects.
-- Texts are compared as they stand, or as numbers: 6 and 6.0 are the same.
create table staging.correction_matches as
with matched as (
  select c.correction, c.position, r.file, r.sheet, r.row_number, any_value(r.cells) as cells
  from reference.corrections as c
  inner join staging.translated_rows as r on r.season = c.season and r.table_name = c.table_name
  inner join reference.correction_conditions as w on w.correction = c.correction
  where trim(coalesce(r.cells ->> w.heading, '')) = w.text
    or try_cast(r.cells ->> w.heading as double) = try_cast(w.text as double)
  group by c.correction, c.position, c.n_conditions, r.file, r.sheet, r.row_number
  having count(*) = c.n_conditions
)
select
  m.correction, m.position, m.file, m.sheet, m.row_number, x.heading, x.moved_to, x.old, x.new,
  trim(coalesce(m.cells ->> x.heading, '')) as stands,
  case
    when x.moved_to is not null then m.cells ->> x.heading is not null
    else trim(coalesce(m.cells ->> x.heading, '')) = x.old
      or coalesce(try_cast(m.cells ->> x.heading as double) = try_cast(x.old as double), false)
  end as agrees
from matched as m inner join reference.correction_changes as x on x.correction = m.correction;
comment on table staging.correction_matches is 'One row per correction, row and changed cell';
