-- needs: estimates.treatment_means, trials.treatments, trials.trials, reference.display_units
-- One row per trial and treatment in the display unit, with what the code stands for.
create view reports.treatment_means as
select
  m.trial_id, t.site_year_id, t.crop, m.treatment_code, x.n_source, x.coated_n_fraction,
  x.n_rate_kg_ha, units.lb_ac(x.n_rate_kg_ha) as n_rate_lb_ac, x.timing, x.passes, x.is_zero_n, x.is_grower_standard, x.factors,
  m.n_plots, m.mean / u.kg_ha_per_unit as mean, m.adjusted_mean / u.kg_ha_per_unit as adjusted_mean,
  m.std_error / u.kg_ha_per_unit as std_error, u.unit, u.digits
from estimates.treatment_means as m
inner join trials.trials as t on t.trial_id = m.trial_id
inner join trials.treatments as x on x.trial_id = m.trial_id and x.treatment_code = m.treatment_code
inner join reference.display_units as u on u.crop = t.crop
order by m.trial_id, x.n_rate_kg_ha, x.n_source, x.coated_n_fraction, x.passes;
comment on view reports.treatment_means is 'One row per trial and treatment in display units';
