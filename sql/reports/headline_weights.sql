-- needs: estimates.headline_weights, reports.comparisons
-- One row per headline and site-year in the display unit; sum of weight x gain is the headline.
create view reports.headline_weights as
select w.comparison_id, c.position, c.crop, c.unit, c.digits, w.target, w.site_year_id, w.weight, w.gain / c.kg_ha_per_unit as gain
from estimates.headline_weights as w inner join reports.comparisons as c on c.comparison_id = w.comparison_id
order by c.position, w.target, w.site_year_id;
comment on view reports.headline_weights is 'One row per headline and site-year: weight and gain in display units';
