-- Two rows per trial: its own analysis of variance, zero-N left out of the error, and kept in it; filled by the pipeline.
create table estimates.trial_analyses (
  trial_id varchar, zero_n_in_error boolean, n_plots integer, n_blocks integer, n_treatments integer,
  error_variance double, error_df double, main_plot_error_variance double, main_plot_error_df double,
  subplots_per_main_plot double, mean double, cv_pct double, lsd_5pct double, no_error_reason varchar
);
comment on table estimates.trial_analyses is 'One row per trial, without zero-N in the error and with it: error variances ((kg/ha)^2), CV and LSD';
