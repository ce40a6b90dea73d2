-- keep
-- One row per comparison, simulated truth, target and method: how often its interval caught the truth on the loaded layout; from make calibrate.
create table if not exists estimates.calibration (
  inputs_sha256 varchar, comparison_id varchar, truth varchar, target varchar, method varchar, n_programs integer,
  coverage double, coverage_mc_error double, mean_width double, width_mc_error double,
  n_site_years integer, n_seasons integer, verdict varchar, seed integer
);
comment on table estimates.calibration is 'One row per comparison, truth, target and method: coverage and mean width (kg/ha) over simulated programs of the loaded layout';
