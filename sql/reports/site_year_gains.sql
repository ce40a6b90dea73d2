-- needs: estimates.site_year_gains, estimates.budgets, reports.comparisons, trials.site_years, reference.n_unit
-- One row per comparison and site-year in the display unit, with its own 95% interval, and what its gain returns per acre at
-- the planning prices.
create view reports.site_year_gains as
select
  g.comparison_id, c.position, c.says, c.crop, c.unit, c.digits, g.site_year_id, g.place, g.season,
  s.drainage_classes, g.drainage_group, g.rainfall_class, s.spi, s.near_cut,
  g.gain / c.kg_ha_per_unit as gain, g.std_error / c.kg_ha_per_unit as std_error, g.df,
  g.half_width / c.kg_ha_per_unit as half_width, g.conf_low / c.kg_ha_per_unit as conf_low, g.conf_high / c.kg_ha_per_unit as conf_high,
  g.own_std_error / c.kg_ha_per_unit as own_std_error,
  g.comparator_mean / c.kg_ha_per_unit as comparator_mean,
  g.n_blocks, g.n_plots, g.n_trials, g.plot_set, g.lasting_std_error / c.kg_ha_per_unit as lasting_std_error, g.is_pooled, g.zero_n_in_error,
  nullif(array_to_string(list_transform(g.rates_missing, lambda rate: round(rate / n.kg_ha_per_n_unit)::integer), ', '), '') || ' ' || n.n_unit as lacks_rates,
  concat_ws('; ', nullif(g.warnings, ''), 'named rates missing in some blocks: ' || lacks_rates) as warnings,
  g.gain / b.kg_ha_per_unit * b.value_per_unit - b.cost as net_change, b.currency, g.gain as gain_kg_ha
from estimates.site_year_gains as g
inner join reports.comparisons as c on c.comparison_id = g.comparison_id
cross join reference.n_unit as n
left join estimates.budgets as b on b.comparison_id = g.comparison_id
left join trials.site_years as s on s.site_year_id = g.site_year_id and s.crop = c.crop
order by c.position, g.season, g.place;
comment on view reports.site_year_gains is 'One row per comparison and site-year in display units';
