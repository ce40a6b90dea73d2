-- needs: trials.site_years, trials.rainfall_classes
-- One row per site-year and crop with its rainfall in inches and mm, and how it was classed.
create view reports.site_years as
select
  s.site_year_id, s.place, s.season, s.crop, s.drainage_group, s.drainage_classes, s.rainfall_class, r.spi_class, s.spi,
  s.rain_mm, units.inches(s.rain_mm) as rain_inch, s.normal_mm, units.inches(s.normal_mm) as normal_inch, r.percent_of_normal,
  r.window_from, r.window_to, r.n_days_missing, r.reference_years, s.near_cut, s.rainfall_reason, s.n_trials, s.n_accepted, s.n_planned
from trials.site_years as s
left join trials.rainfall_classes as r on r.site_year_id = s.site_year_id and r.crop = s.crop
order by s.crop, s.season, s.place;
comment on view reports.site_years is 'One row per site-year and crop';
