-- One row per comparison and target: the average gain (kg/ha) at long-run weather, or why there is none; filled by the pipeline.
create table estimates.long_run_gains (
  estimate_id varchar primary key, comparison_id varchar, target varchar, estimate double, std_error double, df double, df_method varchar, conf_level double,
  conf_low double, conf_high double, tau2 double, tau2_within_classes double, tau2_between_classes double, n_site_years integer,
  n_places integer, n_seasons integer, n_unknown integer, classes_met varchar, classes_unmet varchar, unmet_share double,
  reason varchar, formula varchar, warnings varchar
);
comment on table estimates.long_run_gains is 'One row per average gain at long-run weather (kg/ha)';
