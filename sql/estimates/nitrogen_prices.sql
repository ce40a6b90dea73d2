-- One row per N source priced in program.yml; filled by the pipeline.
create table estimates.nitrogen_prices (n_source varchar, price_per_lb_n double, product_n_pct double);
comment on table estimates.nitrogen_prices is 'One row per N source with a planning price';
