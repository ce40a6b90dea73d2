-- One row per crop, family and rate: net return over site-years (kg/ha of yield); filled by the pipeline.
create table estimates.net_return_by_rate (
  crop varchar, family varchar, n_rate_kg_ha double, price_ratio double, net_return_kg_ha double, std_error double, conf_low double,
  conf_high double, conf_level double, is_highest boolean, is_near_highest boolean, near_highest_kg_ha double, is_tested_by_all_sources boolean, n_site_years integer,
  warnings varchar
);
comment on table estimates.net_return_by_rate is 'One row per net return at a rate';
