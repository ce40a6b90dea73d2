-- One row per budget item in its box; amounts are positive, in the currency per acre; filled by the pipeline.
create table estimates.budget_items (
  comparison_id varchar, target varchar, box varchar, item varchar, amount double
);
comment on table estimates.budget_items is 'One row per budget item';
