-- One row per comparison, target, method and class of a breakdown that was not declared (kg/ha); filled by the pipeline.
create table estimates.explored (
  estimate_id varchar primary key, comparison_id varchar, target varchar, method varchar, moderator varchar, level varchar,
  estimate double, std_error double, df double, df_method varchar, conf_level double, conf_low double, conf_high double,
  n_site_years integer, n_seasons integer, n_unknown integer, seasons varchar, shown_as varchar, is_headline boolean,
  kind varchar, p_value double, p_value_holm double, rule varchar, formula varchar, warnings varchar
);
comment on table estimates.explored is 'One row per class and method of an exploratory breakdown (kg/ha); level of an N rate is the rate, kg/ha; p values are those of the whole breakdown';
