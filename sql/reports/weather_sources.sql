-- needs: trials.weather_covariates, trials.weather_rows, estimates.comparisons, raw.current_files, reference.program
-- One row per comparison, site-year, weather covariate and file: the delivered days within its window, with the first and last row they stand in.
create view reports.weather_sources as
select
  w.comparison_id, w.site_year_id, c.crop, w.covariate, 'window' as used_for, d.file, d.sheet, min(d.row_number) as first_row, max(d.row_number) as last_row,
  count(distinct d.date) as n_days, min(d.date) as first_date, max(d.date) as last_date, sum(d.rain_mm order by d.turn) as rain_mm, units.inches(sum(d.rain_mm order by d.turn)) as rain_inch,
  p.display_units, f.sha256
from trials.weather_covariates as w
inner join estimates.comparisons as c on c.comparison_id = w.comparison_id
inner join trials.weather_rows as d on d.place = w.place and d.date between w.window_from and w.window_to
left join raw.current_files as f on f.file = d.file
cross join reference.program as p
group by w.comparison_id, w.site_year_id, c.crop, w.covariate, d.file, d.sheet, p.display_units, f.sha256
order by w.comparison_id, w.covariate, w.site_year_id, d.file, d.sheet;
comment on view reports.weather_sources is 'One row per comparison, site-year, weather covariate and file: days within its window';
