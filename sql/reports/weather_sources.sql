-- needs: trials.weather_covariates, trials.place_names, trials.row_fates, staging.weather_daily, staging.rain_history, estimates.comparisons, raw.current_files, reference.program
-- One row per comparison, site-year, weather covariate and file: the delivered days within its window, with the first and last row they stand in.
create view reports.weather_sources as
with days as (
  select 'weather_daily' as table_name, place, date, rain_mm, file, sheet, row_number from staging.weather_daily
  union all
  select 'rain_history', place, date, rain_mm, file, sheet, row_number from staging.rain_history
),
used as (
  select coalesce(n.place, d.place) as place, d.date, d.rain_mm, d.file, d.sheet, d.row_number
  from days as d
  left join trials.place_names as n on n.name = lower(d.place)
  inner join trials.row_fates as u
    on u.table_name = d.table_name and u.fate = 'used'
    and u.file = d.file and u.sheet is not distinct from d.sheet and u.row_number = d.row_number
)
select
  w.comparison_id, w.site_year_id, c.crop, w.covariate, 'window' as used_for, d.file, d.sheet, min(d.row_number) as first_row, max(d.row_number) as last_row,
  count(distinct d.date) as n_days, min(d.date) as first_date, max(d.date) as last_date, sum(d.rain_mm) as rain_mm, units.inches(sum(d.rain_mm)) as rain_inch,
  p.display_units, f.sha256
from trials.weather_covariates as w
inner join estimates.comparisons as c on c.comparison_id = w.comparison_id
inner join used as d on d.place = w.place and d.date between w.window_from and w.window_to
left join raw.current_files as f on f.file = d.file
cross join reference.program as p
group by w.comparison_id, w.site_year_id, c.crop, w.covariate, d.file, d.sheet, p.display_units, f.sha256
order by w.comparison_id, w.covariate, w.site_year_id, d.file, d.sheet;
comment on view reports.weather_sources is 'One row per comparison, site-year, weather covariate and file: days within its window';
