-- One row per comparison, premium and crop price: net change per acre, all else as in the budget; filled by the pipeline.
create table estimates.price_grid (
  comparison_id varchar, target varchar, coated_premium double, crop_price double, cost double, value_per_unit double,
  net_change double, conf_low double, conf_high double, break_even_gain double
);
comment on table estimates.price_grid is 'One row per cell of a price grid';
