-- needs: trials.weather_days, trials.trials, reference.rainfall_windows
-- One row per site-year and month: rain against the mean of the reference period, in inches and mm.
-- A month of a reference year counts where the rain of its every day is known: less would make usual rain look little.
create view reports.monthly_rain as
with years as (select min(first_year) as first_year, max(last_year) as last_year from reference.rainfall_windows),
months as (
  select place, year(date) as year, month(date) as month, sum(rain_mm) as rain_mm, count(*) as n_days
  from trials.weather_days group by place, year(date), month(date)
),
history as (
  select m.place, m.month, avg(m.rain_mm) as mean_mm, quantile_cont(m.rain_mm, 0.1) as low_mm, quantile_cont(m.rain_mm, 0.9) as high_mm, count(*) as n_years
  from months as m inner join years as y on m.year between y.first_year and y.last_year
  where m.n_days = day(last_day(make_date(m.year, m.month, 1)))
  group by m.place, m.month
),
site_years as (select distinct site_year_id, place, season from trials.trials where place is not null)
select
  s.site_year_id, s.place, s.season, m.month, m.rain_mm, m.n_days, units.inches(m.rain_mm) as rain_inch,
  h.mean_mm, h.low_mm, h.high_mm, units.inches(h.mean_mm) as mean_inch, units.inches(h.low_mm) as low_inch, units.inches(h.high_mm) as high_inch, h.n_years
from site_years as s
inner join months as m on m.place = s.place and m.year = s.season
left join history as h on h.place = s.place and h.month = m.month
order by s.site_year_id, m.month;
comment on view reports.monthly_rain is 'One row per site-year and month';
