-- severity: noted
-- says: the zero-N plots yield no more than the fertilized ones, beyond their own standard error (noted only; spreader drift, or swapped codes)
-- needs: trials.plots, trials.treatments, trials.trials
with means as (
  select p.trial_id, min(p.file) as file, min(p.sheet) as sheet, min(p.row_number) as row_number,
    avg(p.yield_kg_ha) filter (where t.is_zero_n) as zero_n,
    coalesce(stddev_samp(p.yield_kg_ha) filter (where t.is_zero_n) / sqrt(count(*) filter (where t.is_zero_n)), 0) as zero_n_error,
    avg(p.yield_kg_ha) filter (where not t.is_zero_n) as fertilized
  from trials.plots as p
  inner join trials.treatments as t on t.trial_id = p.trial_id and t.treatment_code = p.treatment_code
  inner join trials.trials as r on r.trial_id = p.trial_id and r.crop <> 'soybean'
  where p.fate = 'used'
  group by p.trial_id
)
select file, sheet, row_number, 'plots' as table_name, 'treatment_code' as column_name, trial_id, null as site_id,
  case when fertilized > 0 then printf('a zero-N mean of %.6g%% of the fertilized mean', round(100 * zero_n / fertilized))
    else 'a fertilized mean of 0' end as found,
  'a zero-N mean below it' as expected, 'check for spreader drift onto the zero-N plots, or swapped codes' as mend
from means
where zero_n - zero_n_error > fertilized
