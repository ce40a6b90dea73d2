-- One row per crop, family and fertilized rate tested: net return lost against the rate that pays best (kg/ha of yield); filled by the pipeline.
create table estimates.rate_losses (
  estimate_id varchar, crop varchar, family varchar, n_rate_kg_ha double, price_ratio double, eonr double, loss_kg_ha double, conf_low double,
  conf_high double, conf_level double, interval_method varchar, n_site_years integer, n_curve_site_years integer, warnings varchar
);
comment on table estimates.rate_losses is 'One row per tested N rate: net return lost against the best';
