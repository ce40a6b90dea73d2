-- needs: staging.translated_rows, staging.sheets, staging.fulfilled_plans, reference.manifest
-- One row per delivered row of a trial that is brought again: after its plan, or by a later delivery. There received dates
-- (manifest.csv) decide which is later.
create table staging.superseded as
with brought_again as (
  select s.table_name from staging.sheets as s inner join reference.manifest as m on m.file = s.file
  where s.table_name in ('trials', 'treatments', 'nitrogen_applications', 'plots', 'harvests', 'measurements', 'printed_means')
  group by s.table_name having count(distinct s.delivery) > 1
),
rows as (
  select file, delivery, sheet, row_number, table_name, trim(cells ->> 'trial_id') as trial_id
  from staging.translated_rows where table_name in (select table_name from brought_again)
),
received as (
  select r.delivery, r.table_name, r.trial_id, max(m.received) as received
  from rows as r left join reference.manifest as m on m.file = r.file
  where r.trial_id <> ''
  group by r.delivery, r.table_name, r.trial_id
),
-- without dates nothing is later: both stay and the check on keys holds the trial
latest as (
  select table_name, trial_id, arg_max(delivery, received) as delivery, max(received) as received
  from received group by table_name, trial_id
  having count(*) > 1 and count(received) = count(*) and count(*) filter (where received = (select max(x.received) from received as x where x.table_name = received.table_name and x.trial_id = received.trial_id)) = 1
)
select * from staging.fulfilled_plans
union all
select r.file, r.sheet, r.row_number, r.table_name, r.trial_id, 'superseded by ' || l.delivery || ', received ' || l.received as reason
from rows as r
inner join latest as l on l.table_name = r.table_name and l.trial_id = r.trial_id
where r.delivery <> l.delivery and (r.file, r.sheet, r.row_number) not in (select (p.file, p.sheet, p.row_number) from staging.fulfilled_plans as p);
comment on table staging.superseded is 'One row per delivered row that a later delivery of its trial, or what came of its plan, replaces';
