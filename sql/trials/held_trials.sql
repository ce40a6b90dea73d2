-- needs: trials.findings, checks.deciding, staging.trials, staging.all_rows, raw.current_files
-- One row per trial that stays out until its findings are settled, with the first reason.
create table trials.held_trials as
with holding as (
  select trial_id, site_id, file, row_number, check_name, found, expected
  from trials.findings
  where severity = 'holds the trial'
),
by_trial as (
  select trial_id, file, row_number, check_name, found, expected from holding where trial_id is not null
),
by_site as (
  select t.trial_id, h.file, h.row_number, h.check_name, h.found, h.expected
  from holding as h inner join staging.trials as t on t.site_id = h.site_id
  where h.trial_id is null and t.trial_id is not null
),
-- what a sender's file that is not read would have said of the trials of the same delivery is not known
by_delivery as (
  select distinct a.trial_id, h.file, h.row_number, h.check_name, h.found, h.expected
  from holding as h
  inner join raw.current_files as n on n.file = h.file and n.held_because is not null
  inner join raw.current_files as o
    on o.delivery = n.delivery
    -- in a sender's folder a workbook is a delivery of the same sender as the files beside it
    or (regexp_replace(o.file, '/[^/]*$', '') = regexp_replace(n.file, '/[^/]*$', '') and n.file like 'seasons/%/%/%')
  inner join staging.all_rows as a on a.file = o.file
  where a.trial_id is not null
),
together as (select * from by_trial union all select * from by_site union all select * from by_delivery)
select
  trial_id,
  count(*) as n_findings,
  arg_min(
    check_name || ': ' || coalesce(found, '') || ' (' || file || coalesce(' row ' || row_number, '') || ')',
    (file, row_number, check_name)
  ) as reason
from together
group by trial_id
order by trial_id;
comment on table trials.held_trials is 'One row per held trial';
