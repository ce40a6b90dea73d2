-- One row per trial and treatment: raw and block-adjusted mean yield (kg/ha); filled by the pipeline.
create table estimates.treatment_means (
  trial_id varchar, treatment_code varchar, n_plots integer, mean double, adjusted_mean double, std_error double
);
comment on table estimates.treatment_means is 'One row per trial and treatment (kg/ha)';
