-- One row per N rate of a ladder of one trial: block-adjusted mean, or the printed one, whose n_plots is 0 (kg/ha); filled by the pipeline.
create table estimates.rate_means (
  crop varchar, family varchar, site_year_id varchar, trial_id varchar, variant varchar, n_rate_kg_ha double, mean double,
  n_plots integer, std_error double
);
comment on table estimates.rate_means is 'One row per rate of a ladder';
