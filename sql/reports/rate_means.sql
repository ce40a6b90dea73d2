-- needs: estimates.rate_means, trials.trials, reference.display_units, reference.n_unit
-- One row per trial and N rate that a common response curve may take: its block-adjusted mean in the display unit, or the printed mean, whose n_plots is 0, with its standard error where one was printed.
create view reports.rate_means as
select
  m.crop, m.family, m.variant, m.trial_id, m.site_year_id, t.place, t.season, m.n_rate_kg_ha / n.kg_ha_per_n_unit as n_rate, n.n_unit,
  m.mean / u.kg_ha_per_unit as mean, m.std_error / u.kg_ha_per_unit as std_error, u.unit, u.digits, m.n_plots, m.mean as mean_kg_ha, m.n_rate_kg_ha
from estimates.rate_means as m
inner join trials.trials as t on t.trial_id = m.trial_id
inner join reference.display_units as u on u.crop = m.crop
cross join reference.n_unit as n
order by m.crop, m.family, t.season, m.trial_id, m.variant, m.n_rate_kg_ha;
comment on view reports.rate_means is 'One row per trial and N rate of an N response curve: mean yield in display units';
