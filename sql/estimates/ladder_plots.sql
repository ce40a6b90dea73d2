-- One row per plot and family whose curve it is part of, zero-N plots in each; filled by the pipeline.
create table estimates.ladder_plots (
  crop varchar, family varchar, trial_id varchar, variant varchar, treatment_code varchar, block varchar, plot varchar,
  n_rate_kg_ha double
);
comment on table estimates.ladder_plots is 'One row per plot and N response curve';
