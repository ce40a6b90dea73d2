-- One row per comparison, target and class of a breakdown that was not declared (kg/ha); filled by the pipeline.
create table estimates.explored (
  comparison_id varchar, target varchar, moderator varchar, level varchar, method varchar,
  estimate double, conf_low double, conf_high double, n_site_years integer, n_seasons integer, seasons varchar, shown_as varchar,
  p_value double, p_value_holm double, rule varchar, warnings varchar
);
comment on table estimates.explored is 'One row per class of an exploratory breakdown (kg/ha); level of an N rate is the rate, kg/ha';
