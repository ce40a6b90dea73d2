-- One row per comparison and arm: what it uses (N and coated N in kg/ha, passes, moisture), averaged over rates and trials; filled by the pipeline.
create table estimates.arm_inputs (
  comparison_id varchar, arm varchar, n_source varchar, additive varchar, n_rate_kg_ha double, coated_n_kg_ha double, passes double,
  moisture_pct double, n_trials integer
);
comment on table estimates.arm_inputs is 'One row per arm: nitrogen, passes and moisture';
