-- needs: staging.correction_matches, reference.corrections, staging.translated_rows, trials.place_names
-- One row per cell that a correction changed: where, whose trial or place, what stood there, what counts instead, and why.
create view reports.corrected_cells as
with sound as (
  select * from staging.correction_matches
  qualify bool_and(agrees) over (partition by correction, file, sheet, row_number)
)
select
  m.file, m.sheet, m.row_number, c.table_name, r.cells ->> 'trial_id' as trial_id, coalesce(n.place, r.cells ->> 'place') as place,
  m.heading, m.moved_to, m.old, m.new, c.correction, c.cause, c.who, c.date, c.treatment_known
from sound as m
inner join reference.corrections as c on c.correction = m.correction
inner join staging.translated_rows as r on r.file = m.file and r.sheet is not distinct from m.sheet and r.row_number = m.row_number and r.table_name = c.table_name
left join trials.place_names as n on n.name = lower(r.cells ->> 'place')
order by m.file, m.sheet, m.row_number, m.heading;
comment on view reports.corrected_cells is 'One row per cell that a correction changed';
