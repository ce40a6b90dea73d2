-- needs: trials.weather_covariates, reports.comparisons, reference.covariate_display_units
-- One row per comparison, site-year and weather covariate in the display unit, with the days that count.
create view reports.weather_covariates as
select
  w.comparison_id, c.position, c.says, c.crop, w.site_year_id, w.place, w.season, w.drainage_group, w.covariate, w.kind,
  w.value / u.size + u.zero as value, u.unit as covariate_unit, u.digits as covariate_digits,
  w.window_from, w.window_to, w.n_days, w.n_days_missing, w.is_modeled, w.inputs, w.reason, w.n_trials
from trials.weather_covariates as w
inner join reports.comparisons as c on c.comparison_id = w.comparison_id
inner join reference.covariate_display_units as u on u.stored = w.unit
order by c.position, w.kind, w.covariate, w.season, w.place;
comment on view reports.weather_covariates is 'One row per comparison, site-year and weather covariate in display units';
