-- needs: estimates.comparisons, reference.display_units, estimates.site_year_gains, trials.eligibility, trials.arms, trials.treatments, trials.first_harvests
-- One row per declared comparison, with its unit, its average comparator yield and its site-years. A table, as nearly every view of the reports joins it.
create table reports.comparisons as
select
  c.comparison_id, c.position, c.says, c.crop, c.trait, c.question, c.target as declared_target, c.rates, c.may_differ, c.declared,
  h.first_harvest, h.known_by, h.first_printed, coalesce(c.declared > h.first_harvest, false) as is_late,
  u.unit, u.kg_ha_per_unit, u.digits,
  g.comparator_mean_kg_ha / u.kg_ha_per_unit as comparator_mean,
  coalesce(g.n_site_years, 0) as n_site_years, coalesce(g.n_seasons, 0) as n_seasons, coalesce(g.n_places, 0) as n_places,
  g.seasons,
  (select string_agg(distinct also_differs, '; ') from trials.eligibility as e where e.comparison_id = c.comparison_id and e.is_used) as also_differs,
  (select count(*) from trials.eligibility as e where e.comparison_id = c.comparison_id and e.is_used and e.rates_missing is not null) as n_trials_missing_rates,
  list_transform(json_keys(c.rates), lambda rate: cast(rate as double)) as rates_kg_ha,
  list_transform(json_keys(c.rates), lambda rate: units.lb_ac(cast(rate as double))) as rates_lb_ac,
  p.treatment_passes, p.comparator_passes, p.treatment_coated_n, p.comparator_coated_n, coalesce(p.is_against_standard, false) as is_against_standard,
  c.treatment_in_short, c.comparator_in_short
from estimates.comparisons as c
inner join reference.display_units as u on u.crop = c.crop
left join (
  select comparison_id, avg(comparator_mean) as comparator_mean_kg_ha, count(*) as n_site_years, count(distinct season) as n_seasons,
    count(distinct place) as n_places, string_agg(distinct cast(season as varchar), ', ' order by cast(season as varchar)) as seasons
  from estimates.site_year_gains where is_pooled group by comparison_id
) as g on g.comparison_id = c.comparison_id
left join (
  select a.comparison_id, max(t.passes) filter (where a.arm = 'treatment') as treatment_passes,
    min(t.passes) filter (where a.arm = 'comparator') as comparator_passes,
    case when count(distinct t.coated_n_fraction) filter (where a.arm = 'treatment') = 1 then max(t.coated_n_fraction) filter (where a.arm = 'treatment') end as treatment_coated_n,
    case when count(distinct t.coated_n_fraction) filter (where a.arm = 'comparator') = 1 then max(t.coated_n_fraction) filter (where a.arm = 'comparator') end as comparator_coated_n,
    bool_and(t.is_grower_standard) filter (where a.arm = 'comparator') as is_against_standard
  from trials.arms as a inner join trials.treatments as t on t.trial_id = a.trial_id and t.treatment_code = a.treatment_code
  group by a.comparison_id
) as p on p.comparison_id = c.comparison_id
left join trials.first_harvests as h on h.comparison_id = c.comparison_id
order by c.position;
comment on table reports.comparisons is 'One row per declared comparison';
