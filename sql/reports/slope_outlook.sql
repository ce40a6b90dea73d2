-- needs: estimates.slope_outlook, reports.comparisons, reference.covariate_display_units
-- One row per declared weather covariate and number of more seasons: the slope that could be shown, in display units.
create view reports.slope_outlook as
select
  o.comparison_id, c.position, c.says, c.crop, c.unit, o.covariate, c.unit || ' per ' || u.per as slope_unit, greatest(c.digits, 1) as slope_digits,
  o.more_seasons, o.more_site_years, o.n_site_years, o.n_seasons, o.std_error * u.size * u.step / c.kg_ha_per_unit as std_error, o.df, o.n_tests,
  o.detectable * u.size * u.step / c.kg_ha_per_unit as detectable, o.worth_finding * u.size * u.step / c.kg_ha_per_unit as worth_finding,
  o.chance, o.reason
from estimates.slope_outlook as o
inner join reports.comparisons as c on c.comparison_id = o.comparison_id
inner join reference.covariate_display_units as u on u.stored = o.covariate_unit
order by c.position, o.covariate, o.more_seasons;
comment on view reports.slope_outlook is 'One row per declared weather covariate and number of more seasons';
