-- One row per crop, family, rate and efficiency (kg yield per kg N); filled by the pipeline.
create table estimates.efficiencies (
  estimate_id varchar primary key, crop varchar, family varchar, n_rate_kg_ha double, efficiency varchar, estimate double, std_error double, df double,
  conf_low double, conf_high double, conf_level double, n_site_years integer, status varchar
);
comment on table estimates.efficiencies is 'One row per nitrogen efficiency';
