-- One row per comparison: the partial budget per acre at the planning prices; gains in `unit`, money in `currency`; filled by the pipeline.
create table estimates.budgets (
  estimate_id varchar primary key, comparison_id varchar, target varchar, currency varchar, prices_fixed_on date, unit varchar, kg_ha_per_unit double, gain double,
  gain_std_error double, df double, tau double, conf_level double, comparator_yield double, cost double, value_per_unit double,
  added_returns double, reduced_costs double, added_costs double, reduced_returns double, net_change double, conf_low double,
  conf_high double, break_even_gain double, break_even_gain_kg_ha double, average_pays_tenths double, fields_pay_tenths double,
  fields_pay_low_tenths double, fields_pay_high_tenths double,
  chances_reason varchar, n_site_years integer, n_seasons integer, not_counted varchar, interval_covers varchar, reason varchar,
  weather varchar, weather_reason varchar,
  crop_price double, coated_premium double, pass_cost double, hauling_and_ginning double, drying double, coated_lb double,
  treatment_rate_lb double, comparator_rate_lb double, treatment_n_price double, comparator_n_price double,
  treatment_priced_as varchar, comparator_priced_as varchar, passes double,
  treatment_points double, comparator_points double, gives_chances boolean
);
comment on table estimates.budgets is 'One row per partial budget (per acre)';
