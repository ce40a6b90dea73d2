-- needs: trials.window_rainfall, trials.weather_days, reference.rainfall_windows, raw.current_files, reference.program
-- One row per site-year, crop, use and file: the delivered days behind its rainfall class, with the first and last row they stand in.
create view reports.rain_sources as
with days as (
  select w.site_year_id, w.crop, 'window' as used_for, d.*
  from trials.window_rainfall as w
  inner join trials.weather_days as d on d.place = w.place and d.date between
    try_cast((w.season - (w.window_from > w.window_to)::int) || '-' || w.window_from as date) and try_cast(w.season || '-' || w.window_to as date)
  union all
  select w.site_year_id, w.crop, 'reference years', d.*
  from trials.window_rainfall as w
  inner join reference.rainfall_windows as r on r.crop = w.crop
  inner join trials.weather_days as d on d.place = w.place
    and year(d.date) + (r.first_day > r.last_day and strftime(d.date, '%m-%d') >= r.first_day)::int between r.first_year and r.last_year
    and case when r.first_day <= r.last_day then strftime(d.date, '%m-%d') between r.first_day and r.last_day
      else strftime(d.date, '%m-%d') >= r.first_day or strftime(d.date, '%m-%d') <= r.last_day end
)
select
  d.site_year_id, d.crop, d.used_for, d.file, d.sheet, min(d.row_number) as first_row, max(d.row_number) as last_row,
  count(*) as n_days, min(d.date) as first_date, max(d.date) as last_date, sum(d.rain_mm) as rain_mm, units.inches(sum(d.rain_mm)) as rain_inch, p.display_units, f.sha256
from days as d left join raw.current_files as f on f.file = d.file
cross join reference.program as p
group by d.site_year_id, d.crop, d.used_for, d.file, d.sheet, p.display_units, f.sha256
order by d.site_year_id, d.crop, d.used_for desc, d.file, d.sheet;
comment on view reports.rain_sources is 'One row per site-year, crop, use and file of rain: days behind its rainfall class';
