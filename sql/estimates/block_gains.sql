-- One row per comparison, trial and block: the gain of treatment over comparator (kg/ha); filled by the pipeline.
create table estimates.block_gains (
  comparison_id varchar, trial_id varchar, block varchar, gain double, comparator_mean double,
  n_treatment_plots integer, n_comparator_plots integer, n_rates integer, rates_missing double[],
  variance_factor double, main_plot_factor double, zero_n_in_error boolean, warnings varchar,
  variance double, own_variance double, variance_df double, own_variance_df double
);
comment on table estimates.block_gains is 'One row per comparison, trial and block (kg/ha)';
