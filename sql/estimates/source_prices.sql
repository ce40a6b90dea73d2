-- One row per crop and family of treatments: its price per lb N as spread, and what that is worth in yield; filled by the pipeline.
create table estimates.source_prices (
  crop varchar, family varchar, n_source varchar, coated_n_fraction double, currency varchar, prices_fixed_on date,
  n_price_per_lb double, priced_as varchar, harvest_cost double, price_ratio double, worth_1_per_ac_kg_ha double, lacking varchar
);
comment on table estimates.source_prices is 'One row per way of giving N: its price per lb N';
