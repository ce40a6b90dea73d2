-- One row per comparison and site-year: its gain (kg/ha) with moderated standard error; filled by the pipeline.
create table estimates.site_year_gains (
  comparison_id varchar, site_year_id varchar, place varchar, season integer, drainage_group varchar, rainfall_class varchar,
  gain double, std_error double, df double, half_width double, conf_low double, conf_high double,
  own_std_error double, block_std_error double, comparator_mean double,
  n_blocks integer, n_plots integer, n_trials integer, plot_set varchar, lasting_std_error double, lasting_df double,
  is_pooled boolean, rates_missing double[], zero_n_in_error boolean, warnings varchar
);
comment on table estimates.site_year_gains is 'One row per comparison and site-year (kg/ha)';
