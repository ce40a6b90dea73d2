-- severity: noted
-- says: where zero-N is lowest by far in every other block, it is so in each (noted only; two plots may be swapped)
-- needs: trials.plots, trials.treatments, reference.display_units
with plots as (
  select p.trial_id, p.block, p.plot, p.treatment_code, p.yield_kg_ha, p.crop, p.file, p.sheet, p.row_number, t.is_zero_n
  from trials.plots as p
  inner join trials.treatments as t on t.trial_id = p.trial_id and t.treatment_code = p.treatment_code
  where p.fate = 'used' and p.crop <> 'soybean'
),
blocks as (
  select trial_id, block, crop,
    max(yield_kg_ha) filter (where is_zero_n) as zero_n,
    median(yield_kg_ha) filter (where not is_zero_n) as fertilized,
    min(yield_kg_ha) filter (where not is_zero_n) as lowest,
    list_sort(list(yield_kg_ha) filter (where not is_zero_n))[2] as next_lowest,
    arg_max((plot, file, sheet, row_number), yield_kg_ha) filter (where is_zero_n) as place,
    arg_min((plot, treatment_code), yield_kg_ha) filter (where not is_zero_n) as lowest_plot
  from plots
  group by trial_id, block, crop
  having count(*) filter (where is_zero_n) > 0 and count(*) filter (where not is_zero_n) > 0
),
told as (
  -- by a tenth: where nitrogen does little, plots come in any order
  select *, count(*) over of_trial as n_blocks, count(*) filter (where zero_n < lowest and zero_n < 0.9 * fertilized) over of_trial as n_in_line
  from blocks window of_trial as (partition by trial_id)
)
select place[2] as file, place[3] as sheet, place[4] as row_number, 'plots' as table_name, 'treatment_code' as column_name, trial_id, null as site_id,
  'zero-N plot ' || place[1] || ' with ' || round(zero_n / u.kg_ha_per_unit, 1) || ' ' || u.unit || ' in block ' || block
    || ', where the lowest fertilized plot is ' || lowest_plot[1] || ' (' || lowest_plot[2] || ') with ' || round(lowest / u.kg_ha_per_unit, 1) as found,
  'zero-N lowest by far, as in every other block' as expected,
  'compare with the plot plan: two plots may be swapped' as mend
from told inner join reference.display_units as u using (crop)
-- swapped back, zero-N would be lowest by a tenth here too
where zero_n > fertilized and lowest < 0.9 * least(zero_n, coalesce(next_lowest, zero_n)) and n_blocks >= 3 and n_in_line = n_blocks - 1
