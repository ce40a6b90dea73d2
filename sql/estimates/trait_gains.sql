-- One row per other trait, comparison and target: the average difference in the unit of the trait; filled by the pipeline.
create table estimates.trait_gains (
  estimate_id varchar primary key, trait varchar, unit varchar, comparison_id varchar, target varchar, method varchar, moderator varchar, level varchar,
  estimate double, std_error double, df double, df_method varchar, conf_level double, conf_low double, conf_high double,
  pred_low double, pred_high double, pred_method varchar, observed_low double, observed_high double, tau2 double, q_stat double,
  i2_pct double, n_site_years integer, n_places integer, n_seasons integer, n_trials integer, n_unknown integer, seasons varchar,
  shown_as varchar, is_headline boolean, rule varchar, formula varchar, warnings varchar
);
comment on table estimates.trait_gains is 'One row per average difference in another trait';
