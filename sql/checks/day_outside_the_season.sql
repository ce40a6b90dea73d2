-- severity: noted
-- says: applications and irrigations lie between 300 days before planting and the harvest; picks and measurements, up to 300 days after it (common practice, no source)
-- needs: staging.nitrogen_applications, staging.irrigations, staging.harvests, staging.measurements, staging.trials
with trials as (
  select trial_id, min(season) as season, min(planted) filter (year(planted) - season in (-1, 0)) as planted,
    max(harvested) filter (year(harvested) - season in (0, 1)) as harvested
  from staging.trials where trial_id is not null and season between 1900 and 2199 group by trial_id
),
days as (
  select file, sheet, row_number, 'nitrogen_applications' as table_name, 'applied_on' as column_name, trial_id, 0 as days_after,
    coalesce(applied_on, try_cast(regexp_extract(application, '^(19|20|21)\d{2}-\d{2}-\d{2}') as date)) as day
  from staging.nitrogen_applications
  union all
  select file, sheet, row_number, 'irrigations', 'date', trial_id, 0, date from staging.irrigations
  union all
  select file, sheet, row_number, 'harvests', 'picked', trial_id, 300, picked from staging.harvests
  union all
  select file, sheet, row_number, 'measurements', 'date', trial_id, 300, date from staging.measurements
),
limits as (
  select d.*, coalesce(t.planted - 300, make_date(t.season - 1, 1, 1)) as first_day, coalesce(t.harvested, make_date(t.season, 12, 31)) + d.days_after as last_day
  from days as d inner join trials as t on t.trial_id = d.trial_id
)
select file, sheet, min(row_number) as row_number, table_name, column_name, trial_id, null as site_id,
  arg_min(day, row_number) || case when count(*) > 1 then ' and ' || (count(*) - 1) || ' more' else '' end as found,
  'a day from ' || min(first_day) || ' to ' || max(last_day) || ', by the dates of its trial' as expected,
  'a wrong year, or a day-month swap? correct it, or the dates of the trial' as mend
from limits
where day not between first_day and last_day
group by file, sheet, table_name, column_name, trial_id
