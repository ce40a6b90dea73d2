-- One row per comparison and rate: N (kg/ha) saved at equal yield, or why not estimable; filled by the pipeline.
create table estimates.nitrogen_saved (
  estimate_id varchar primary key, comparison_id varchar, crop varchar, family varchar, comparator_family varchar, "at" varchar, comparator_rate double,
  same_yield_rate double, nitrogen_saved double, conf_low double, conf_high double, conf_level double, status varchar,
  n_site_years integer, warnings varchar
);
comment on table estimates.nitrogen_saved is 'One row per nitrogen saved at equal yield';
