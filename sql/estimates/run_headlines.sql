-- keep
-- One row per run and headline, kept for before and after; append-only.
create table if not exists estimates.run_headlines (
  run_id varchar, comparison_id varchar, target varchar, estimate double, conf_low double, conf_high double,
  n_site_years integer, n_seasons integer, method varchar, unit varchar
);
comment on table estimates.run_headlines is 'One row per run and headline (kg/ha)';
