-- needs: estimates.nitrogen_prices
-- One row per N source priced in program.yml: price per lb N, and % N of the product where it was priced per ton.
create view reports.nitrogen_prices as
select n_source, price_per_lb_n, product_n_pct from estimates.nitrogen_prices order by n_source;
comment on view reports.nitrogen_prices is 'One row per N source with a planning price';
