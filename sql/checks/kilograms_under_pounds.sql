-- severity: noted
-- says: a trial's level agrees with the other trials of its crop; a ratio near 0.45 or 2.2 looks like a unit slip (noted only)
-- needs: trials.plots, trials.treatments
with levels as (
  select p.trial_id, p.crop, avg(p.yield_kg_ha) as level, min(p.file) as file, min(p.sheet) as sheet, min(p.row_number) as row_number
  from trials.plots as p inner join trials.treatments as t on t.trial_id = p.trial_id and t.treatment_code = p.treatment_code
  where p.fate = 'used' and not t.is_zero_n
  group by p.trial_id, p.crop
),
compared as (
  select *, level / median(level) over (partition by crop) as ratio, count(*) over (partition by crop) as n_trials from levels
)
select file, sheet, row_number, 'plots' as table_name, 'harvest_weight' as column_name, trial_id, null as site_id,
  'a trial mean of ' || round(ratio, 2) || ' times the median ' || crop || ' trial' as found,
  'a mean not near 0.45 or 2.2 times it, as where pounds and kilograms are mixed up' as expected,
  case when ratio < 1 then 'kilograms typed under a heading in pounds? correct the heading'
    else 'pounds typed under a heading in kilograms? correct the heading' end as mend
from compared
where n_trials >= 5 and (ratio between 0.38 and 0.52 or ratio between 1.95 and 2.5)
