-- One row per comparison, target and component: how gains vary ((kg/ha)^2); filled by the pipeline.
create table estimates.variance_components (comparison_id varchar, target varchar, component varchar, variance double);
comment on table estimates.variance_components is 'One row per variance component';
