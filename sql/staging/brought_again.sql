-- needs: staging.translated_rows, staging.sheets, reference.manifest
-- One row per delivered row of a trial's table that several deliveries bring, where received dates (manifest.csv) decide which
-- is the later. Picks are told apart by their number, readings by trait and day: a later pick takes no place of an earlier one.
create table staging.brought_again as
with told as (
  select s.table_name from staging.sheets as s inner join reference.manifest as m on m.file = s.file
  where s.table_name in ('trials', 'treatments', 'nitrogen_applications', 'plots', 'harvests', 'measurements', 'printed_means')
  group by s.table_name having count(distinct s.delivery) > 1
),
rows as (
  select r.file, r.delivery, r.sheet, r.row_number, r.table_name, trim(r.cells ->> 'trial_id') as trial_id,
    case r.table_name
      when 'harvests' then trim(r.cells ->> 'pick')
      when 'measurements' then lower(trim(r.cells ->> 'trait')) || ', ' || coalesce(trim(r.cells ->> 'date'), '')
    end as part,
    trim(case r.table_name when 'printed_means' then r.cells ->> 'treatment_code' else r.cells ->> 'plot' end) as plot, m.received
  from staging.translated_rows as r left join reference.manifest as m on m.file = r.file
  where r.table_name in (select table_name from told)
),
received as (
  select delivery, table_name, trial_id, part, max(received) as received
  from rows where trial_id <> '' group by delivery, table_name, trial_id, part
),
-- without dates nothing is later: both stay and the check on keys holds the trial
latest as (
  select table_name, trial_id, part, arg_max(delivery, received) as delivery, max(received) as received
  from received group by table_name, trial_id, part
  having count(*) > 1 and count(received) = count(*) and list_count(list_filter(list(received), lambda d: d = max(received))) = 1
)
select r.file, r.sheet, r.row_number, r.table_name, r.trial_id, r.part, r.plot,
  l.delivery as latest_delivery, l.received as latest_received, r.delivery = l.delivery as is_latest
from rows as r
inner join latest as l on l.table_name = r.table_name and l.trial_id = r.trial_id and l.part is not distinct from r.part;
comment on table staging.brought_again is 'One row per delivered row of a trial that more than one delivery brings, and which is the latest';
