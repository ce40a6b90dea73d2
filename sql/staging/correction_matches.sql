-- needs: staging.translated_rows, reference.corrections, reference.correction_conditions, reference.correction_changes
-- One row per correction, row it is about and cell it changes, with what stands there and whether that is what it expects.
-- Texts are compared as they stand, or as numbers: 6 and 6.0 are the same. Where two corrections would make different things
-- of one cell, neither agrees: rival names the other. It also names the one that makes what this one expects to find.
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
),
held as (
  select
    m.correction, m.position, m.file, m.sheet, m.row_number, x.heading, x.moved_to, x.old, x.new,
    trim(coalesce(m.cells ->> x.heading, '')) as stands,
    case
      when x.moved_to is not null then m.cells ->> x.heading is not null
      else trim(coalesce(m.cells ->> x.heading, '')) = x.old
        or coalesce(try_cast(m.cells ->> x.heading as double) = try_cast(x.old as double), false)
    end as finds_it
  from matched as m inner join reference.correction_changes as x on x.correction = m.correction
),
rivals as (
  select h.correction, h.file, h.sheet, h.row_number, h.heading, min(o.correction) as rival
  from held as h
  inner join held as o
    on o.file = h.file and o.sheet is not distinct from h.sheet and o.row_number = h.row_number and o.heading = h.heading
    and o.correction <> h.correction and o.finds_it
    and case when h.finds_it then (o.new, o.moved_to) is distinct from (h.new, h.moved_to) else o.new = h.old end
  group by h.correction, h.file, h.sheet, h.row_number, h.heading
)
select h.* exclude (finds_it), h.finds_it and r.rival is null as agrees, h.finds_it and r.rival is not null as is_contested, r.rival
from held as h
left join rivals as r
  on r.correction = h.correction and r.file = h.file and r.sheet is not distinct from h.sheet and r.row_number = h.row_number
  and r.heading = h.heading;
comment on table staging.correction_matches is 'One row per correction, row and changed cell';
