-- One row per comparison and target: do the roads to the headline (kg/ha) agree; filled by the pipeline.
create table estimates.agreement (
  comparison_id varchar, target varchar, leads varchar, headline double, std_error double, mixed_model double, two_stage double,
  plain_mean double, third_road double, third_road_std_error double, agrees boolean, sentence varchar
);
comment on table estimates.agreement is 'One row per headline: the same question by other roads (kg/ha)';
