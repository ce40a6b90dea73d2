-- needs: staging.correction_matches
-- One row per corrected row: the changed cells as JSON. A correction changes a row only while all it expects there still stands.
create table staging.patches as
with sound as (
  select * from staging.correction_matches
  qualify bool_and(agrees) over (partition by correction, file, sheet, row_number)
),
cells as (
  select file, sheet, row_number, heading, nullif(new, '') as text, position from sound where moved_to is null
  union all
  select file, sheet, row_number, heading, null, position from sound where moved_to is not null
  union all
  select file, sheet, row_number, moved_to, stands, position from sound where moved_to is not null
),
last_said as (
  select * from cells qualify row_number() over (partition by file, sheet, row_number, heading order by position desc) = 1
)
select file, sheet, row_number, json_group_object(heading, text) as patch
from last_said group by file, sheet, row_number;
comment on table staging.patches is 'One row per corrected row';
