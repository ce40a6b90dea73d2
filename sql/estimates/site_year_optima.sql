-- One row per crop, family and model: what became of its site-year curves, and the mean of the optima found (kg/ha); filled by the pipeline.
create table estimates.site_year_optima (
  crop varchar, family varchar, model varchar, price_ratio double, n_ladders integer, n_found integer, n_no_response integer,
  n_negative_response integer, n_beyond_highest_rate integer, n_below_two_rates integer, n_not_fitted integer, mean_aonr double,
  aonr_low double, aonr_high double, n_aonr integer, mean_eonr double, eonr_low double, eonr_high double, n_eonr integer,
  conf_level double
);
comment on table estimates.site_year_optima is 'One row per family: its site-year optima';
