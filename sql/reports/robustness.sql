-- needs: estimates.robustness, reports.comparisons, trials.site_years
-- One row per changed headline in the display unit; site-years left out are named by place and season.
create view reports.robustness as
with names as (
  select map_from_entries(list((site_year_id, place || ' ' || season))) as of_id
  from (select distinct site_year_id, place, season from trials.site_years where site_year_id is not null)
)
select
  r.comparison_id, c.position, c.says, c.crop, c.unit, c.digits, r.target, r.target = c.declared_target as is_declared,
  r.kind, array_to_string(list_transform(string_split(r.left_out, ', '), lambda x: coalesce(n.of_id[x], x)), ', ') as left_out,
  r.moderator, r.level, r.method,
  r.estimate / c.kg_ha_per_unit as estimate,
  r.conf_low / c.kg_ha_per_unit as conf_low, r.conf_high / c.kg_ha_per_unit as conf_high,
  r.ratio_low, r.n_site_years, r.n_seasons, r.changes_conclusion, r.warnings, r.estimate as estimate_kg_ha
from estimates.robustness as r
inner join reports.comparisons as c on c.comparison_id = r.comparison_id
cross join names as n
order by c.position, r.target, r.kind, r.moderator, r.level, r.n_seasons, r.left_out, r.method;
comment on view reports.robustness is 'One row per changed headline in display units';
