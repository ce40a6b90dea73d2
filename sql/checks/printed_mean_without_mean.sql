-- severity: holds the trial
-- says: a printed mean has its mean, and its kind of error has a value
-- needs: staging.printed_means
select file, sheet, row_number, 'printed_means' as table_name,
  case when mean_yield_kg_ha is null and mean_yield_bu_ac is null then 'mean_yield' else 'error_value' end as column_name, trial_id, null as site_id,
  case when mean_yield_kg_ha is null and mean_yield_bu_ac is null then 'no mean' else error_kind || case when error_value is null then ' without a value' else ' without its level' end end as found,
  'a mean in one unit; a value for the error, or the word none; for an LSD its error_alpha' as expected, 'fill it in as printed; NS without a number is none' as mend
from staging.printed_means
where (mean_yield_kg_ha is null and mean_yield_bu_ac is null)
  or (error_kind <> 'none' and error_value is null)
  or (error_kind = 'LSD' and error_alpha is null)
