-- One row per common curve and resample of its site-years (kg/ha); filled by the pipeline.
create table estimates.response_draws (crop varchar, family varchar, draw integer, b double, "join" double, is_below boolean);
comment on table estimates.response_draws is 'One row per resampled N response curve (kg/ha)';
