-- One row per comparison, target and change: the headline (kg/ha) with something left out or by another estimator; filled by the pipeline.
create table estimates.robustness (
  comparison_id varchar, target varchar, kind varchar, left_out varchar, moderator varchar, level varchar, method varchar,
  estimate double, conf_low double, conf_high double, n_site_years integer, n_seasons integer,
  changes_conclusion boolean, warnings varchar
);
comment on table estimates.robustness is 'One row per changed headline (kg/ha): something left out, or another estimator';
