-- needs: trials.season_days, reports.comparisons
-- One row per comparison, site-year and day: what its nitrogen met, in US and in metric units.
create view reports.season_days as
select
  d.comparison_id, c.position, c.crop, d.site_year_id, d.date, d.rain_mm, units.inches(d.rain_mm) as rain_inch,
  d.irrigation_mm, units.inches(d.irrigation_mm) as irrigation_inch, d.excess_mm, units.inches(d.excess_mm) as excess_inch,
  d.soil_temp_c, d.soil_temp_c / units.c_per_f() + units.f_at_0_c() as soil_temp_f, d.is_soil_temp_modeled, d.released_pct
from trials.season_days as d
inner join reports.comparisons as c on c.comparison_id = d.comparison_id
order by c.position, d.site_year_id, d.date;
comment on view reports.season_days is 'One row per comparison, site-year and day between its first N and the end of its windows';
