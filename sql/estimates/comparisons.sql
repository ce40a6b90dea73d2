-- One row per declared comparison, from program.yml; filled by the pipeline.
create table estimates.comparisons (
  comparison_id varchar primary key, position integer, says varchar, crop varchar, trait varchar, question varchar,
  target varchar, rates varchar, may_differ varchar, declared date
);
comment on table estimates.comparisons is 'One row per declared comparison';
