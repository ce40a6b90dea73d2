-- needs: staging.trials
-- One row per planned or planted trial whose harvest is still ahead: nothing of its crop was harvested in its season or
-- later, or its harvest sheet is due after every harvest delivered. Any other was to report and did not.
create table trials.still_to_harvest as
with harvested as (
  select crop, max(season) as last_season from staging.trials where outcome = 'harvested' group by crop
)
select distinct t.trial_id
from staging.trials as t left join harvested as h on h.crop = t.crop
where t.trial_id is not null and t.outcome in ('planned', 'planted')
  and (coalesce(h.last_season < t.season, true) or t.due > (select max(harvested) from staging.trials))
order by t.trial_id;
comment on table trials.still_to_harvest is 'One row per trial that is planned, its harvest still ahead';
