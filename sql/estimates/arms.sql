-- One row per treatment that stands on one side of a comparison in a trial; filled by the pipeline.
create table estimates.arms (
  comparison_id varchar, trial_id varchar, treatment_code varchar, arm varchar, rate_kg_ha double, rate_weight double
);
comment on table estimates.arms is 'One row per treatment in an arm';
