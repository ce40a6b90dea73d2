-- needs: staging.correction_matches, reference.corrections
-- One row per cell that a correction changed: where, what stood there, what counts instead, and why.
create view reports.corrected_cells as
with sound as (
  select * from staging.correction_matches
  qualify bool_and(agrees) over (partition by correction, file, sheet, row_number)
)
select m.file, m.sheet, m.row_number, c.table_name, m.heading, m.moved_to, m.old, m.new, c.correction, c.cause, c.who, c.date, c.treatment_known
from sound as m inner join reference.corrections as c on c.correction = m.correction
order by m.file, m.sheet, m.row_number, m.heading;
comment on view reports.corrected_cells is 'One row per cell that a correction changed';
