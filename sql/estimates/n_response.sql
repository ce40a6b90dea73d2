-- One row per response curve, of one trial or pooled; N and yields in kg/ha; filled by the pipeline.
create table estimates.n_response (
  estimate_id varchar, crop varchar, family varchar, level varchar, site_year_id varchar, trial_id varchar, variant varchar, model varchar,
  is_primary boolean, flag varchar, a double, b double, c double, "join" double, plateau double, aonr double, aonr_std_error double,
  aonr_low double, aonr_high double, price_ratio double, eonr double, eonr_std_error double, eonr_low double, eonr_high double,
  eonr_boot_low double, eonr_boot_high double, conf_level double, interval_method varchar, n_plots integer, n_rates integer,
  n_site_years integer, n_clusters integer, lowest_rate double, highest_rate double, sse double, df double, aicc double, warnings varchar
);
comment on table estimates.n_response is 'One row per N response curve (kg/ha)';
