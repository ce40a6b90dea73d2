-- One row per response curve and price ratio: economic optimum rate (kg/ha); filled by the pipeline.
create table estimates.eonr_grid (
  crop varchar, family varchar, level varchar, site_year_id varchar, trial_id varchar, variant varchar, model varchar,
  price_ratio double, is_planning_ratio boolean, flag varchar, eonr double, eonr_low double, eonr_high double, conf_level double,
  interval_method varchar
);
comment on table estimates.eonr_grid is 'One row per economic optimum over price ratios';
