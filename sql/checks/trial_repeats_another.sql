-- severity: holds the trial
-- says: no trial repeats the weights of another of its crop, row by row: it may be one trial under two ids, or weights pasted twice
-- needs: staging.trials, staging.plots, staging.repeats, trials.picked_plots
-- rows of: staging.plots
-- Eight rows and more that agree in this order do so by chance only where nearly all weights are the same.
with crops as (
  select trial_id, any_value(crop) as crop from staging.trials group by trial_id
),
all_weighed as (
  select p.trial_id, p.file, p.sheet, p.row_number, p.moisture_pct,
    coalesce(p.harvest_weight_kg, k.harvest_weight_kg, p.yield_kg_ha, p.yield_bu_ac) as weight
  from staging.plots as p
  left join trials.picked_plots as k on k.trial_id = p.trial_id and k.plot = p.plot
  anti join (select * from staging.repeats where table_name = 'plots') as r
    on r.file = p.file and r.sheet is not distinct from p.sheet and r.row_number = p.row_number
),
-- Trials that say the same have the same sum: what follows looks at few of them.
sums as (
  select trial_id, sum(hash(weight, moisture_pct)) as sum
  from all_weighed where weight is not null group by trial_id
),
weighed as (
  select * from all_weighed
  where trial_id in (select trial_id from sums qualify count(*) over (partition by sum) > 1)
),
said as (
  select trial_id, crop, min(file) as file, arg_min(sheet, (file, row_number)) as sheet, arg_min(row_number, (file, row_number)) as row_number, count(*) as n_plots,
    list((weight, moisture_pct) order by file, sheet, row_number) as said
  from weighed inner join crops using (trial_id)
  where weight is not null
  group by trial_id, crop
  having count(*) >= 8 and count(distinct weight) >= 5
),
compared as (
  select *, first_value(trial_id) over alike as first_trial, row_number() over alike as turn
  from said window alike as (partition by crop, said order by file, sheet, row_number, trial_id)
)
select file, sheet, row_number, 'plots' as table_name, 'trial_id' as column_name, trial_id, null as site_id,
  'all ' || n_plots || ' weights of trial ' || trial_id || ' are those of trial ' || first_trial || ', row by row' as found,
  'weights of its own' as expected,
  'compare with the field sheets: if both are one trial, deliver it under one id; if weights were pasted into the wrong trial, write what was harvested there' as mend
from compared
where turn > 1
