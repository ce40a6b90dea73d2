-- One row per comparison, target, method and class: the average gain (kg/ha) and its interval; filled by the pipeline.
create table estimates.pooled_gains (
  estimate_id varchar primary key, run_id varchar, inputs_sha256 varchar, unit varchar,
  comparison_id varchar, target varchar, method varchar, moderator varchar, level varchar,
  estimate double, std_error double, df double, df_method varchar, conf_level double, conf_low double, conf_high double,
  pred_low double, pred_high double, pred_method varchar, observed_low double, observed_high double,
  tau2 double, q_stat double, i2_pct double,
  n_site_years integer, n_places integer, n_seasons integer, n_trials integer, n_unknown integer,
  seasons varchar, shown_as varchar, is_headline boolean, rule varchar, formula varchar, warnings varchar
);
comment on table estimates.pooled_gains is 'One row per pooled estimate (kg/ha), with formula, rule and inputs';
