-- severity: holds the trial
-- says: a printed row has its mean, or a difference and what it is taken from; its kind of error has a value
-- needs: staging.printed_means
-- rows of: staging.printed_means
with told as (
  select *, coalesce(mean_yield_kg_ha, mean_yield_bu_ac) is not null as has_mean, coalesce(difference_kg_ha, difference_bu_ac) is not null as has_difference,
    case
      when has_mean and (has_difference or compared_with is not null) then ['mean_yield', 'a mean beside a difference']
      when has_difference and compared_with is null then ['compared_with', 'a difference, but not from which treatment']
      when compared_with = treatment_code then ['compared_with', 'a difference from itself']
      when compared_with is not null and not has_difference then ['difference', 'no difference from ' || compared_with]
      when not has_mean and not has_difference then ['mean_yield', 'no mean']
      when error_kind <> 'none' and error_value is null then ['error_value', error_kind || ' without a value']
      when error_kind = 'LSD' and error_alpha is null then ['error_value', 'LSD without its level']
      when error_kind = 'CV' and has_difference then ['error_kind', 'CV of a difference']
    end as lacks
  from staging.printed_means
)
select file, sheet, row_number, 'printed_means' as table_name, lacks[1] as column_name, trial_id, null as site_id, lacks[2] as found,
  case when compared_with is not null or has_difference
    then 'compared_with and a difference in one unit, no mean; a value for its error (SED, LSD with error_alpha, MSE or p), or the word none'
    else 'a mean in one unit; a value for the error, or the word none; for an LSD its error_alpha' end as expected,
  'fill it in as printed; NS without a number is none' as mend
from told where lacks is not null
