-- severity: noted
-- says: comparisons, margins, rainfall rules and breakdowns are fixed before the first harvest they use
-- asks: analyst
-- needs: reference.fixed_days, trials.first_harvests
with first_of as (
  select d.line, d.what, d.fixed_on, min(h.first_harvest) as first_harvest, arg_min(h.known_by, h.first_harvest) as known_by,
    arg_min(h.trial_id, h.first_harvest) as trial_id
  from reference.fixed_days as d
  inner join trials.first_harvests as h on h.comparison_id = coalesce(d.comparison_id, h.comparison_id)
  group by d.line, d.what, d.fixed_on
)
select 'program.yml' as file, null as sheet, line as row_number, 'program.yml' as table_name, null as column_name,
  null as trial_id, null as site_id, what || ' fixed on ' || fixed_on as found,
  'a day before the first harvest it uses, ' || case known_by
    when 'harvested' then trial_id || ', harvested ' || first_harvest
    when 'planted' then trial_id || ', planted ' || first_harvest || ', harvest date not given'
    else trial_id || ', season ' || year(first_harvest) || ', no dates given' end as expected,
  'it counts as exploratory: correct the day if it is wrong; else declare it for future seasons, before their harvest' as mend
from first_of where fixed_on > first_harvest
